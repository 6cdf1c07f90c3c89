"""What the program says: notes, events, advice, reports, steps."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from math import nan
from typing import Any, Literal

from passes.model._frozen import Value, hold_mapping, hold_times, hold_tuples
from passes.model.places import Span

Severity = Literal["info", "caution", "warning"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One remark for a person, with the numbers behind it kept for machines."""

    text: str
    severity: Severity = "info"
    values: Mapping[str, Value] = field(default_factory=dict)

    def __post_init__(self) -> None:
        hold_mapping(self, "values")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pointing:
    """Where to point: horizontal, astrometric (ICRS) and of date; nan is unknown."""

    time: datetime | None = None
    azimuth_deg: float = nan
    altitude_deg: float = nan
    refracted_altitude_deg: float = nan
    ra_icrs_deg: float = nan
    dec_icrs_deg: float = nan
    ra_of_date_deg: float = nan
    dec_of_date_deg: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A figure that goes with an answer, drawn only when somebody wants to see it.

    ``draw`` takes a :class:`passes.charts.theme.Palette` and gives a matplotlib
    ``Figure``; None where it could not be drawn.  ``described`` is what those hear who
    do not see it; ``about`` the id of the event that it shows, or nothing.
    """

    name: str
    described: str
    draw: Callable[[Any], Any] = field(compare=False, repr=False)
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something with a time that a person or a capture script may act on.

    ``kind`` is a word such as ``passage``, ``transit``, ``streak``, ``placing``;
    ``weight`` (0 and up) decides between events that need one rig.
    """

    id: str
    kind: str
    subject: str
    catalog_number: int | None = None
    start: datetime
    best: datetime
    end: datetime
    timing_sigma_s: float = nan
    timing_bound_s: float = nan
    pointing: Pointing | None = None
    magnitude: float = nan
    weight: float = 1.0
    flags: tuple[str, ...] = ()
    details: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        hold_times(self, "start", "best", "end")
        hold_tuples(self, "flags")
        hold_mapping(self, "details")


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """How to shoot one subject with one rig; nan and None are unknown.

    ``region_px`` is the (width, height) to read out; ``limit`` names what binds;
    ``table`` holds rows along the pass; ``settings`` anything else worth a field;
    ``pictures`` what can be drawn of it.
    """

    rig: str
    subject: str
    adviser: str = ""
    image_scale_arcsec_px: float = nan
    exposure_s: float = nan
    frame_rate_hz: float = nan
    region_px: tuple[int, int] | None = None
    gain: str = ""
    start: datetime | None = None
    stop: datetime | None = None
    pointing: Pointing | None = None
    limit: str = ""
    notes: tuple[Note, ...] = ()
    table: tuple[Mapping[str, Value], ...] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)
    pictures: tuple[Picture, ...] = ()

    def __post_init__(self) -> None:
        hold_times(self, "start", "stop")
        hold_tuples(self, "notes", "table", "pictures")
        hold_mapping(self, "settings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a session reporter found: events to act on, rows to list, remarks.

    ``pictures`` is what can be drawn of it.
    """

    kind: str
    reporter: str = ""
    events: tuple[Event, ...] = ()
    rows: tuple[Mapping[str, Any], ...] = ()
    notes: tuple[Note, ...] = ()
    summary: Mapping[str, Any] = field(default_factory=dict)
    pictures: tuple[Picture, ...] = ()

    def __post_init__(self) -> None:
        hold_tuples(self, "events", "rows", "notes", "pictures")
        hold_mapping(self, "summary")


StepEvent = Literal["ready", "point", "start", "stop", "hold", "resume"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of a schedule: what to do, when, with which rig."""

    id: str
    event: StepEvent
    time: datetime
    subject: str
    catalog_number: int | None = None
    rig: str = ""
    advice: Mapping[str, Any] | None = None
    demo: bool = False

    def __post_init__(self) -> None:
        hold_times(self, "time")
        if self.advice is not None:
            hold_mapping(self, "advice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Steps in order of time, and what was left out or moved, told."""

    window: Span | None = None
    steps: tuple[Step, ...] = ()
    notes: tuple[Note, ...] = ()
    demo: bool = False

    def __post_init__(self) -> None:
        hold_tuples(self, "steps", "notes")
