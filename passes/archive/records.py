"""What the archive answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from math import nan

from passes.elements import ElementSet


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What adding did: sets tried, sets that were new, objects never seen before.

    ``aside`` says where a damaged archive was moved to before; empty is none.
    """

    sets: int = 0
    new: int = 0
    new_objects: int = 0
    aside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Holdings:
    """The archive as a whole, at one time; ages are of each object's nearest set."""

    objects: int = 0
    sets: int = 0
    classes: Mapping[str, int] = field(default_factory=dict)
    first_epoch: datetime | None = None
    last_epoch: datetime | None = None
    last_arrival: datetime | None = None
    median_age_days: float = nan
    oldest_age_days: float = nan
    usable: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """Which objects are listed; a field left alone lets all through."""

    text: str = ""
    object_class: str = ""
    older_days: float | None = None
    newer_days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One element set as it is kept: where it came from, and when it arrived."""

    element_set: ElementSet
    origin: str
    arrived: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceState:
    """When a source was last asked, last answered, and what it wants to hear again."""

    name: str
    url: str = ""
    asked: datetime | None = None
    answered: datetime | None = None
    validators: Mapping[str, str] = field(default_factory=dict)
    wait_until: datetime | None = None
