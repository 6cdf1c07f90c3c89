"""What an object's own successive element sets say of how its predictions err."""

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


def pairs_of(
    history: Catalogue | Sequence[ElementSet],
    *,
    latest: int = LATEST,
    backwards: bool = False,
) -> Pairs:
    """Compare every object's latest sets with each other, each older with each newer.

    Pairs under a tenth of a day or over 30 days apart are left out, and those that
    SGP4 refuses.  ``backwards`` carries newer sets to the epochs of older ones.
    """
    sets = replace(as_catalogue(history), late_s=None)
    row, truth = _partners(sets, latest)
    if backwards:
        row, truth = truth, row
    start = _DAY_ZERO + timedelta(days=_middle_day(sets))
    epoch_s = sets.epoch_s(start)
    source = Propagator(sets, start)
    used, at = np.unique(truth, return_inverse=True)
    place, velocity, bad = source.many(used, epoch_s[used][:, None])
    said, _, wrong = source.many(row, epoch_s[truth][:, None])
    late, across = _off(said[:, 0], place[at, 0], velocity[at, 0])
    age = (epoch_s[truth] - epoch_s[row]) / SECONDS_PER_DAY
    good = (wrong[:, 0] == 0) & (bad[at, 0] == 0) & np.isfinite(late)
    return Pairs(row[good], truth[good], age[good], late[good], across[good])


def _middle_day(sets: Catalogue) -> float:
    """Whole days of the middle epoch since 1970, 0 where there are no sets."""
    days = sets.epoch_s(_DAY_ZERO) / SECONDS_PER_DAY
    return float(np.floor(np.median(days))) if days.size else 0.0


def _partners(sets: Catalogue, latest: int) -> tuple[Ints, Ints]:
    """Rows of older and newer sets of the same object, the latest few of each."""
    number, epoch_s = sets.catalog_number, sets.epoch_s(_DAY_ZERO)
    order = np.lexsort((epoch_s, number))
    number, epoch_s = number[order], epoch_s[order]
    last = np.searchsorted(number, number, side="right") - 1
    kept = np.flatnonzero(last - np.arange(number.size) < latest)
    order, number, epoch_s = order[kept], number[kept], epoch_s[kept]
    old, new = [], []
    for lag in range(1, latest):
        first = np.flatnonzero(number[lag:] == number[: number.size - lag])
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
