"""What a plugin hands over, what it is asked, and what it may ask of the host.

Every contribution has a name users type, a one-line summary, and one callable that
takes one record and returns one record, so that either side can gain a field with a
default without breaking the other.  Building a contribution does no work: no file,
no network, no heavy import.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import nan
from typing import TYPE_CHECKING, Any, Literal, Protocol

from passes.errors import InputError
from passes.model import (
    Advice,
    Crossing,
    Event,
    Growth,
    LineOfSight,
    Night,
    Note,
    Passage,
    Report,
    Rig,
    Session,
    Site,
    Span,
    Track,
)
from passes.model._frozen import hold_arrays, hold_mapping, hold_tuples

if TYPE_CHECKING:
    import click
    import numpy as np
    from numpy.typing import NDArray

    from passes.elements import Catalogue, ElementSet

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*\Z")
Settings = Mapping[str, Any]
Subject = Passage | Crossing | Event


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """Common head of every contribution: how users see it and ask for it."""

    name: str
    summary: str

    def __post_init__(self) -> None:
        if not _NAME.match(self.name):
            raise InputError(
                f"contribution name {self.name!r}: use lower-case words joined by hyphens"
            )
        if not self.summary.strip() or "\n" in self.summary:
            raise InputError(f"contribution {self.name}: the summary must be one line")


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
        hold_mapping(self, "settings", "validators")


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementBatch:
    """What a source answered: the text as published, where from, and validators."""

    content: bytes = b""
    origin: str = ""
    unchanged: bool = False
    validators: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()

    def __post_init__(self) -> None:
        hold_mapping(self, "validators")
        hold_tuples(self, "notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementSource(Contribution):
    """A kind of place that publishes element sets."""

    fetch: Callable[[ElementQuery], ElementBatch]
    online: bool = True


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
    object_index: "Ints"
    range_km: "Floats"
    phase_angle_rad: "Floats"
    altitude_rad: "Floats"
    settings: Settings = field(default_factory=dict)

    def __post_init__(self) -> None:
        hold_tuples(self, "facts")
        hold_mapping(self, "settings")
        hold_arrays(
            self,
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
    The host adds what the atmosphere and the penumbra take away.
    """

    magnitude: "Floats"
    sigma: "Floats"
    basis: tuple[str, ...]
    class_average: tuple[bool, ...]

    def __post_init__(self) -> None:
        hold_tuples(self, "basis", "class_average")
        hold_arrays(self, magnitude="float64", sigma="float64")


@dataclass(frozen=True, slots=True, kw_only=True)
class BrightnessModel(Contribution):
    """A model of how bright objects look."""

    magnitude: Callable[[Illumination], Brightness]


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
        hold_mapping(self, "settings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Adviser(Contribution):
    """Advice on one subject; every installed adviser is consulted."""

    advise: Callable[[Briefing], Advice]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionBriefing:
    """A session and, for each sub (by index), the crossings of its field.

    ``crossings`` is empty where the session has no subs.
    """

    session: Session
    services: "Services"
    crossings: Mapping[int, Sequence[Crossing]] = field(default_factory=dict)
    settings: Settings = field(default_factory=dict)

    def __post_init__(self) -> None:
        hold_mapping(self, "crossings", "settings")


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionReporter(Contribution):
    """A report on a session; ``kinds`` are the kinds of report it makes."""

    report: Callable[[SessionBriefing], Report]
    kinds: tuple[str, ...] = ()


# --- exporters and commands --------------------------------------------------


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Exporter(Contribution):
    """A file format; chosen by its name or by a suffix such as ``.ics``."""

    export: Callable[[Answer], str]
    accepts: tuple[str, ...] = ()
    suffixes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Command(Contribution):
    """A command; ``load`` imports what it needs and returns the click command."""

    load: "Callable[[], click.Command]"


# --- what the host offers ----------------------------------------------------

Stage = Literal["import", "register", "collect", "clash", "run", "slow"]


class Services(Protocol):
    """What commands and reporters may ask: results, never other plugins.

    Times are aware UTC.  Every answer carries light, sigma and bound.
    """

    @property
    def site(self) -> Site:
        """The observing site."""

    @property
    def window(self) -> Span:
        """The span asked about."""

    @property
    def night(self) -> Night:
        """Darkness, twilight and Moon of that night."""

    @property
    def rigs(self) -> tuple[Rig, ...]:
        """The rigs named, or all that are known."""

    @property
    def demo(self) -> bool:
        """Whether everything here is invented."""

    @property
    def settings(self) -> Settings:
        """The asking plugin's own table of the configuration."""

    @property
    def problems(self) -> Sequence[str]:
        """What went wrong with plugins so far, one line each."""

    def clock(self) -> datetime:
        """The time now (the demo has its own)."""

    def rig(self, name: str) -> Rig:
        """One rig by name; UnknownName lists the others."""

    def catalogue(
        self, window: Span | None = None, objects: Sequence[str] | None = None
    ) -> "Catalogue":
        """Element sets that serve a window, of all or of the named objects."""

    def history(self, catalog_number: int) -> "Sequence[ElementSet]":
        """Every kept element set of one object, by epoch."""

    def growth(self, catalog_number: int) -> Growth:
        """How the error of one object's prediction grows."""

    def passes(
        self,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
        min_altitude_deg: float = 10.0,
    ) -> Sequence[Passage]:
        """Every pass in a window."""

    def track(self, subject: Subject, step_s: float = 1.0) -> Track:
        """One passage, crossing or event of an object, sampled in full."""

    def crossings(
        self,
        line_of_sight: LineOfSight,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
    ) -> Sequence[Crossing]:
        """Every crossing of a field or of a body's disc in a window."""

    def advise(self, subject: Subject, rig: Rig) -> tuple[Advice, ...]:
        """What every adviser says about one subject and one rig."""

    def report(self, session: Session, kinds: Sequence[str] = ()) -> tuple[Report, ...]:
        """What the reporters of these kinds (all, if none named) say of a session."""
