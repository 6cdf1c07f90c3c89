"""Element sets of the same objects held against each other: by how much they differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from passes import vectors
from passes.constants import SECONDS_PER_DAY
from passes.elements import Catalogue, ElementSet, as_catalogue
from passes.orbits import Propagator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Codes = NDArray[np.uint8]

#: So many of an object's latest sets are held against each other.
LATEST = 6
#: Sets nearer in epoch than this are the same solution, further apart no pair, days.
LEAST_DAYS, MOST_DAYS = 0.1, 30.0
_DAY_ZERO = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Older sets carried to the epochs of newer ones of the same object; ``(k,)`` each.

    ``row`` and ``truth`` are rows of the sets compared; ``age_days`` from the epoch of
    the first to that of the second (negative backwards in time); ``late_s`` is how
    long after the prediction the object comes by, ``across_km`` how far it is off
    sideways, towards the pole of its orbit.  The truth is another element set, so
    that these are lower bounds.
    """

    row: Ints
    truth: Ints
    age_days: Floats
    late_s: Floats
    across_km: Floats

    def __len__(self) -> int:
        return int(self.row.size)


def pairs_of(
    history: Catalogue | Sequence[ElementSet],
    *,
    latest: int = LATEST,
    furthest: int | None = None,
    backwards: bool = False,
) -> Pairs:
    """Compare every object's latest sets with each other, each older with each newer.

    Pairs under a tenth of a day or over 30 days apart are left out, and those that
    SGP4 refuses.  ``furthest`` 1 compares only successive sets; ``backwards`` carries
    newer sets to the epochs of older ones.
    """
    sets = as_catalogue(history)
    row, truth = partners(sets, latest, furthest)
    if backwards:
        row, truth = truth, row
    return _measured(sets, row, sets, truth)


def pairs_between(older: Catalogue, newer: Catalogue) -> Pairs:
    """Compare two catalogues row by row: older sets and newer ones of the same objects.

    The same rows are left out as by :func:`pairs_of`.
    """
    days = (newer.epoch_s(_DAY_ZERO) - older.epoch_s(_DAY_ZERO)) / SECONDS_PER_DAY
    rows = np.flatnonzero((days >= LEAST_DAYS) & (days <= MOST_DAYS))
    return _measured(older, rows, newer, rows)


def _measured(old: Catalogue, row: Ints, new: Catalogue, truth: Ints) -> Pairs:
    """Both sets of every pair at the epoch of the second."""
    start = _DAY_ZERO + timedelta(days=_middle_day(new))
    from_s, to_s = old.epoch_s(start), new.epoch_s(start)
    used, at = np.unique(truth, return_inverse=True)
    place, velocity, bad = _states(new, start, used, to_s[used])
    said, _, wrong = _states(old, start, row, to_s[truth])
    late, across = _off(said, place[at], velocity[at])
    age = (to_s[truth] - from_s[row]) / SECONDS_PER_DAY
    good = (wrong == 0) & (bad[at] == 0) & np.isfinite(late)
    return Pairs(row[good], truth[good], age[good], late[good], across[good])


def _states(
    sets: Catalogue, start: datetime, rows: Ints, time_s: Floats
) -> tuple[Floats, Floats, Codes]:
    """Each row at its own time: ``(m, 3)`` twice, and error codes ``(m,)``."""
    source = Propagator(replace(sets, late_s=None), start, fast=False)
    place, velocity, error = source.many(rows, time_s[:, None])
    return place[:, 0], velocity[:, 0], error[:, 0]


def _middle_day(sets: Catalogue) -> float:
    """Whole days of the middle epoch since 1970, 0 where there are no sets."""
    days = sets.epoch_s(_DAY_ZERO) / SECONDS_PER_DAY
    return float(np.floor(np.median(days))) if days.size else 0.0


def partners(
    sets: Catalogue, latest: int = LATEST, furthest: int | None = None
) -> tuple[Ints, Ints]:
    """Rows of older and newer sets of the same object, ``(k,)`` each.

    Of the ``latest`` sets of each object; ``furthest`` 1 pairs only successive ones.
    """
    number, epoch_s = sets.catalog_number, sets.epoch_s(_DAY_ZERO)
    order = np.lexsort((epoch_s, number))
    number, epoch_s = number[order], epoch_s[order]
    last = np.searchsorted(number, number, side="right") - 1
    kept = np.flatnonzero(last - np.arange(number.size) < latest)
    order, number, epoch_s = order[kept], number[kept], epoch_s[kept]
    old, new = [], []
    for lag in range(1, (furthest or latest - 1) + 1):
        first = np.flatnonzero(number[lag:] == number[:-lag])
        days = (epoch_s[first + lag] - epoch_s[first]) / SECONDS_PER_DAY
        first = first[(days >= LEAST_DAYS) & (days <= MOST_DAYS)]
        old.append(order[first])
        new.append(order[first + lag])
    none = np.zeros(0, dtype=np.int64)
    return np.concatenate([none, *old]), np.concatenate([none, *new])


def _off(said: Floats, place: Floats, velocity: Floats) -> tuple[Floats, Floats]:
    """Lateness in seconds and miss across the track in km, ``(k,)``."""
    momentum = vectors.cross(place, velocity)
    pole, outward = vectors.unit(momentum), vectors.unit(place)
    forward = vectors.cross(pole, outward)
    ahead = np.arctan2(vectors.dot(said, forward), vectors.dot(said, outward))
    rate = vectors.norm(momentum) / vectors.dot(place, place)
    return ahead / rate, vectors.dot(place - said, pole)
