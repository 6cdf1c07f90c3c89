"""What element files hold: kinds of objects and orbits, ages, faults, refusals."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import nan
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from passes.constants import (
    EARTH_MU_KM3_S2,
    EARTH_RADIUS_KM,
    SECONDS_PER_DAY,
)
from passes.elements.catalogue import Catalogue, Floats, Skipped
from passes.elements.choosing import duplicates, nearest
from passes.elements.reading import FileRead, Reading
from passes.model import Span

LOW, MEDIUM, GEOSTATIONARY, HIGH = ORBITS = (
    "low",
    "medium",
    "geostationary-like",
    "high or eccentric",
)
#: Low orbits stay below this (IADC Space Debris Mitigation Guidelines), km.
LOW_KM = 2000.0
#: From this eccentricity on an orbit is called eccentric (common practice, no source).
ECCENTRIC = 0.25
#: Geostationary-like: revolutions a day, inclination in degrees, eccentricity.  Left
#: to themselves geostationary objects tilt by up to 15° (common practice, no source).
_GEO_REV_DAY = (0.95, 1.05)
_GEO_INCLINATION_DEG = 20.0
_GEO_ECCENTRICITY = 0.1
#: Medium orbits stay below the geostationary height, km.
_MEDIUM_KM = 35_000.0
#: Elements older than this are called stale, days (the flag of passes does the same).
STALE_DAYS = 7.0
#: How often SGP4 is asked within the window, seconds; rows of a block.
_STEP_S = 1800.0
_BLOCK = 2000

#: Names and designators to classes of objects.
Classify = Callable[[Sequence[str], Sequence[str]], Sequence[str]]


class Propagates(Protocol):
    """What is needed of a propagator: error codes of rows at times."""

    def many(
        self, rows: NDArray[np.int64], time_s: Floats
    ) -> tuple[Floats, Floats, NDArray[np.uint8]]:
        """Positions, velocities and error codes ``(m, k)``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """An object that SGP4 refuses within the window, when first and why."""

    catalog_number: int
    name: str
    time: datetime
    code: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Several:
    """An object with more than one element set."""

    catalog_number: int
    name: str
    sets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementsCheck:
    """What some files hold.

    ``counts`` has the number of objects by class and orbit; ages are days between
    the epoch of the set that would be used and the start of the window, either way.
    """

    files: tuple[FileRead, ...]
    window: Span
    sets: int
    objects: int
    counts: Mapping[tuple[str, str], int] = field(default_factory=dict)
    first_epoch: datetime | None = None
    last_epoch: datetime | None = None
    median_age_days: float = nan
    greatest_age_days: float = nan
    stale: int = 0
    several: tuple[Several, ...] = ()
    rejected: tuple[Skipped, ...] = ()
    refused: tuple[Refused, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def classes(self) -> dict[str, int]:
        """Objects by class, the most numerous first."""
        return self._totals(0)

    @property
    def orbits(self) -> dict[str, int]:
        """Objects by orbit, the most numerous first."""
        return self._totals(1)

    def _totals(self, part: int) -> dict[str, int]:
        totals: Counter[str] = Counter()
        for pair, count in self.counts.items():
            totals[pair[part]] += count
        return dict(totals.most_common())


def check(
    reading: Reading,
    window: Span,
    *,
    classify: Classify,
    propagator: Callable[[Catalogue, datetime], Propagates],
    words: Mapping[int, str],
) -> ElementsCheck:
    """Look through what was read, for a window in which it should serve.

    ``words`` say what SGP4's error codes mean.  SGP4 is asked every half hour.
    """
    every = reading.catalogue
    chosen = nearest(every, window.start + (window.end - window.start) / 2)
    kinds = zip(
        classify(chosen.name, chosen.designator), orbit_kind(chosen), strict=True
    )
    ages = np.abs(chosen.epoch_s(window.start)) / SECONDS_PER_DAY
    first, last = _span(every)
    names = dict(zip(every.catalog_number.tolist(), every.name, strict=True))
    return ElementsCheck(
        files=reading.files,
        window=window,
        sets=len(every),
        objects=len(chosen),
        counts=dict(Counter(kinds)),
        first_epoch=first,
        last_epoch=last,
        median_age_days=float(np.median(ages)) if len(ages) else nan,
        greatest_age_days=float(ages.max()) if len(ages) else nan,
        stale=int(np.count_nonzero(ages > STALE_DAYS)),
        several=tuple(
            Several(catalog_number=number, name=names[number], sets=count)
            for number, count in duplicates(every).items()
        ),
        rejected=reading.rejected,
        refused=tuple(_refused(chosen, window, propagator, words)),
        notes=reading.notes,
    )


def orbit_kind(catalogue: Catalogue) -> tuple[str, ...]:
    """What kind of orbit each object is on: one of :data:`ORBITS`.

    From the elements alone, heights above the equator: *low* never rises above
    2,000 km; *geostationary-like* goes round once a day, nearly circular, tilted by
    less than 20°; *medium* is nearly circular and below that; all others are *high or
    eccentric*.
    """
    motion_rad_s = catalogue.mean_motion_rad_min / 60.0
    axis_km = np.cbrt(EARTH_MU_KM3_S2 / motion_rad_s**2)
    apogee_km = axis_km * (1.0 + catalogue.eccentricity) - EARTH_RADIUS_KM
    rev_day = motion_rad_s * SECONDS_PER_DAY / (2.0 * np.pi)
    geostationary = (
        (rev_day > _GEO_REV_DAY[0])
        & (rev_day < _GEO_REV_DAY[1])
        & (catalogue.inclination_rad < np.radians(_GEO_INCLINATION_DEG))
        & (catalogue.eccentricity < _GEO_ECCENTRICITY)
    )
    medium = (catalogue.eccentricity < ECCENTRIC) & (apogee_km < _MEDIUM_KM)
    kinds: Any = np.select(
        [apogee_km < LOW_KM, geostationary, medium],
        [LOW, GEOSTATIONARY, MEDIUM],
        default=HIGH,
    )
    return tuple(kinds.tolist())


def _span(catalogue: Catalogue) -> tuple[datetime | None, datetime | None]:
    if not len(catalogue):
        return None, None
    days = catalogue.epoch_jd - catalogue.epoch_jd[0] + catalogue.epoch_fraction
    return catalogue[int(days.argmin())].epoch, catalogue[int(days.argmax())].epoch


def _refused(
    catalogue: Catalogue,
    window: Span,
    propagator: Callable[[Catalogue, datetime], Propagates],
    words: Mapping[int, str],
) -> Iterator[Refused]:
    """Objects with an error code somewhere in the window, in order of the catalogue."""
    places = propagator(catalogue, window.start)
    steps = max(1, round(window.duration_s / _STEP_S))
    time_s = np.linspace(0.0, window.duration_s, steps + 1)
    for low in range(0, len(catalogue), _BLOCK):
        rows = np.arange(low, min(low + _BLOCK, len(catalogue)))
        codes = places.many(rows, time_s)[2]
        for i in np.flatnonzero(codes.any(axis=1)).tolist():
            when = int(codes[i].astype(bool).argmax())
            code, row = int(codes[i, when]), int(rows[i])
            yield Refused(
                catalog_number=int(catalogue.catalog_number[row]),
                name=catalogue.name[row],
                time=window.start + timedelta(seconds=float(time_s[when])),
                code=code,
                reason=words.get(code, f"SGP4 error {code}"),
            )
