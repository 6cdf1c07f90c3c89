"""The records that cross the boundary: what a plugin is asked, what it answers.

A field may be added with a default without breaking either side.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import nan
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from passes.contributions.services import Services, Subject
    from passes.model import (
        Crossing,
        Growth,
        Note,
        Report,
        Rig,
        Session,
        Site,
        Span,
        Track,
    )

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

Settings = Mapping[str, Any]


def _hold(record: Any, *, mappings: str = "", tuples: str = "", **arrays: str) -> None:
    """Keep a frozen record frozen (see :mod:`passes.model`)."""
    from passes.model import _frozen  # late: listing plugins needs no records

    _frozen.hold_mapping(record, *mappings.split())
    _frozen.hold_tuples(record, *tuples.split())
    if arrays:
        _frozen.hold_arrays(record, **arrays)


# --- element sources ---------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementQuery:
    """A request for element sets from one configured source.

    ``settings`` is the source's own table; ``validators`` are what the source gave
    last time so that an unchanged answer costs nothing (such as ``etag``);
    ``progress`` may be called with (bytes so far, bytes in all or None).
    """

    name: str
    settings: Settings = field(default_factory=dict)
    validators: Mapping[str, str] = field(default_factory=dict)
    max_bytes: int = 64 * 1024 * 1024
    progress: Callable[[int, int | None], None] | None = None

    def __post_init__(self) -> None:
        _hold(self, mappings="settings validators")


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementBatch:
    """What a source answered: the text as published, where from, and validators."""

    content: bytes = b""
    origin: str = ""
    unchanged: bool = False
    validators: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        _hold(self, mappings="validators", tuples="notes")


# --- brightness --------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjectFacts:
    """What is known of one object before looking at the sky; nan is unknown."""

    catalog_number: int
    name: str
    designator: str = ""
    object_class: str = "unknown"
    perigee_km: float = nan
    apogee_km: float = nan
    inclination_deg: float = nan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Illumination:
    """Geometry of many samples of many objects, in one call; arrays are ``(m,)``.

    ``object_index`` points into ``facts``.  Phase is the angle Sun-object-observer.
    """

    facts: tuple[ObjectFacts, ...]
    object_index: Ints
    range_km: Floats
    phase_angle_rad: Floats
    altitude_rad: Floats
    settings: Settings = field(default_factory=dict)

    def __post_init__(self) -> None:
        _hold(
            self,
            tuples="facts",
            mappings="settings",
            object_index="int64",
            range_km="float64",
            phase_angle_rad="float64",
            altitude_rad="float64",
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Brightness:
    """V magnitude in full sunlight above the atmosphere, and its sigma; ``(m,)``.

    ``basis`` has a few words for each entry of ``facts`` (where the standard
    magnitude comes from); ``class_average`` says which of them are class averages.
    ``notes`` tell what was wrong with the model's own settings or data.
    The host adds what the atmosphere and the penumbra take away.
    """

    magnitude: Floats
    sigma: Floats
    basis: tuple[str, ...]
    class_average: tuple[bool, ...]
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        _hold(
            self,
            tuples="basis class_average notes",
            magnitude="float64",
            sigma="float64",
        )


# --- advice and reports ------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefing:
    """One subject, one rig: what an adviser is told."""

    track: Track
    subject: Subject
    rig: Rig
    site: Site
    growth: Growth | None = None
    settings: Settings = field(default_factory=dict)
    demo: bool = False

    def __post_init__(self) -> None:
        _hold(self, mappings="settings")


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionBriefing:
    """A session and, for each sub (by index), the crossings of its field.

    Those that touch the sub, and those that may: within their own 95 % bound in time
    and the sub's jitter.  Entry and exit are of the whole field.  ``crossings`` is
    empty where the session has no subs; a sub whose rig is not known has no entry.
    ``reports`` is what others said, for a reporter that needs it.
    """

    session: Session
    services: Services
    crossings: Mapping[int, Sequence[Crossing]] = field(default_factory=dict)
    settings: Settings = field(default_factory=dict)
    reports: tuple[Report, ...] = ()

    def __post_init__(self) -> None:
        _hold(self, mappings="crossings settings", tuples="reports")


# --- answers to be written ---------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command found, ready to be written in some format.

    ``kind`` is ``passes``, ``track``, ``schedule``, ``transits`` and so on; ``items``
    are its records; ``document`` the JSON shape of the whole.
    """

    kind: str
    items: Sequence[Any]
    document: Mapping[str, Any]
    site: Site | None = None
    window: Span | None = None
    demo: bool = False
    settings: Settings = field(default_factory=dict)
