"""What is wanted on the page, and everything that is on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from passes.model import (
    Advice,
    Event,
    Night,
    Note,
    Passage,
    Picture,
    Report,
    Rig,
    Site,
    Span,
    Step,
    Sub,
    Track,
)

if TYPE_CHECKING:
    from passes.plans import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the person wants on the page; pictures are drawn for ``rigs``."""

    limit: int = 12
    cards: int = 3
    transit_days: int = 7
    plan: Plan | None = None
    rigs: tuple[Rig, ...] = ()
    schedule: Sequence[Step] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Elements:
    """What the predictions rest on."""

    objects: int
    classes: dict[str, int]
    median_age_days: float
    oldest_age_days: float
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One of the passes most worth it, its path, and how to shoot it."""

    passage: Passage
    track: Track
    advice: tuple[Advice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything on the page; what is missing is empty."""

    site: Site
    night: Night
    window: Span
    made: datetime
    demo: bool
    elements: Elements | None
    passages: tuple[Passage, ...]
    tracks: tuple[Track, ...]
    worth: tuple[float, ...]
    cards: tuple[Card, ...]
    subs: tuple[Sub, ...] = ()
    reports: tuple[Report, ...] = ()
    transits: tuple[Event, ...] = ()
    transit_notes: tuple[Note, ...] = ()
    transit_pictures: tuple[Picture, ...] = ()
    transit_days: int = 0
    schedule: tuple[Step, ...] = ()
    schedule_notes: tuple[Note, ...] = ()
    schedule_given: bool = False
    rigs: tuple[Rig, ...] = ()
    problems: tuple[str, ...] = ()

    def best(self, most: int) -> list[int]:
        """Which passes are worth most, as many as that, in order of time."""
        order = sorted(range(len(self.worth)), key=lambda i: -self.worth[i])
        return sorted(order[:most])
