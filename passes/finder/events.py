"""Rises, sets and turning points on curves, each placed to far below a millisecond.

A height here is the sine of the altitude less that of the limit: the sine bends evenly
where the altitude itself has a cusp, near the zenith.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from passes.finder.nodes import SAMPLES, Curves
from passes.finder.settle import settle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Turning points from here on may reach the limit between two samples.
_HIDDEN = 1e-5
#: A step along a curve this short, in ticks, is the last: the error that it leaves is
#: shorter by far, because steps shrink faster and faster.
LAST_STEP, LAST_TURN = 1e-6, 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Places on curves, ``(k,)`` each: interval and offset, in ticks, within it."""

    interval: Ints
    offset: Floats

    def take(self, which: Ints | Bools) -> Self:
        """Some of these places."""
        return replace(self, interval=self.interval[which], offset=self.offset[which])


@dataclass(frozen=True, slots=True, eq=False)
class Events:
    """What happens on curves, in order of zone and time.

    ``crossings`` go up and down in turn (``rising``); ``tops`` are maxima above the
    limit, ``heights`` how far above.  ``doubtful`` holds the objects that have a
    turning point too close to the limit to call.
    """

    crossings: Places
    rising: Bools
    tops: Places
    heights: Floats
    doubtful: Ints


def events(curves: Curves, samples: Floats, limit_sine: float, doubt: float) -> Events:
    """Find what happens, from heights sampled ``(n, 8)`` on every interval.

    Turning points within ``doubt`` of the limit make their object doubtful.
    """
    flat = samples.reshape(-1)
    joins = _joins(curves)
    at, bend, up = _turns(flat, joins)
    turns = _turning(curves, flat, at, bend, up)
    heights = height_at(curves, turns, limit_sine)
    hidden = (heights > 0.0) != (flat[at] > 0.0)
    crossings, rising = _crossings(
        curves, flat, joins, turns.take(hidden), up[hidden], limit_sine
    )
    seen = ~up & (heights > 0.0)
    unsure = turns.interval[np.abs(heights) < doubt]
    return Events(
        crossings, rising, turns.take(seen), heights[seen], np.unique(curves.of[unsure])
    )


def height_at(curves: Curves, places: Places, limit_sine: float) -> Floats:
    """Heights at places on curves, ``(k,)``."""
    east, north, up = curves.at(places.interval, places.offset)
    range_km = np.sqrt(east * east + north * north + up * up)
    return np.asarray(up / range_km - limit_sine)


def steepness_at(curves: Curves, places: Places) -> Floats:
    """Change of the height a tick at places on curves, ``(k,)``."""
    seen = curves.at(places.interval, places.offset)
    change = curves.slope(places.interval, places.offset)
    square = _dot(seen, seen)
    slope = change[2] * square - seen[2] * _dot(seen, change)
    return np.asarray(slope / (square * np.sqrt(square)))


def _dot(a: Floats, b: Floats) -> Floats:
    product: Floats = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return product


def _joins(curves: Curves) -> Bools:
    """Whether each sample and the next belong to one zone, ``(8 n - 1,)``."""
    joins = np.ones(max(curves.zone.size * SAMPLES - 1, 0), dtype=np.bool_)
    joins[SAMPLES - 1 :: SAMPLES] = np.diff(curves.zone) == 0
    return joins


# --- turning points ------------------------------------------------------------


def _turns(flat: Floats, joins: Bools) -> tuple[Ints, Floats, Bools]:
    """Samples at which the height turns above the limit, or may just touch it.

    With the bend there (second difference a sample), and whether it turns upwards.  A
    parabola through a sample and its neighbours tells how far beyond the sample the
    curve may go.
    """
    step = np.diff(flat)
    up = step > 0.0
    turning = up[:-1] != up[1:]
    turning &= joins[:-1] & joins[1:]
    at = np.flatnonzero(turning)
    a, b, level = step[at], step[at + 1], flat[at + 1]
    bend = b - a
    bump = (a + b) ** 2 / (8.0 * np.maximum(np.abs(bend), 1e-300))
    beyond = np.minimum(2.0 * bump, np.maximum(np.abs(a), np.abs(b))) + _HIDDEN
    wanted = np.where(bend < 0.0, level + beyond > 0.0, np.abs(level) < beyond)
    return at[wanted] + 1, bend[wanted], bend[wanted] > 0.0


def _turning(curves: Curves, flat: Floats, at: Ints, bend: Floats, up: Bools) -> Places:
    """Where exactly the height turns: roots of its slope beside samples."""
    interval, offset = at // SAMPLES, (at % SAMPLES) / SAMPLES
    width = 1.0 / SAMPLES
    shift = (flat[at - 1] - flat[at + 1]) / np.where(bend == 0.0, 1.0, 2.0 * bend)
    guess = offset + width * np.clip(shift, -0.9, 0.9)

    def steepness(which: Ints, x: Floats) -> Floats:
        return steepness_at(curves, Places(interval[which], x))

    settled = settle(
        steepness,
        guess,
        bend * SAMPLES**2,
        (offset - width, offset + width),
        up,
        LAST_TURN,
    )
    return Places(interval, settled)


# --- crossings of the limit ----------------------------------------------------


def _crossings(
    curves: Curves,
    flat: Floats,
    joins: Bools,
    hidden: Places,
    opens_up: Bools,
    limit_sine: float,
) -> tuple[Places, Bools]:
    """Every crossing of the limit, in order, and whether it rises.

    Between samples of different sign, and on both sides of a hidden turning point.
    """
    above = flat > 0.0
    before = np.flatnonzero((above[1:] != above[:-1]) & joins)
    low = (before % SAMPLES) / SAMPLES
    width = 1.0 / SAMPLES
    guess = low + width * flat[before] / (flat[before] - flat[before + 1])
    slope = (flat[before + 1] - flat[before]) * SAMPLES
    # a hidden turn lies within a sample's width of the sample that gave it away
    turn = hidden.offset
    interval = np.concatenate([before // SAMPLES, hidden.interval, hidden.interval])
    low = np.concatenate([low, turn - width, turn])
    high = np.concatenate([low[: before.size] + width, turn, turn + width])
    guess = np.concatenate([guess, turn - width / 2, turn + width / 2])
    rising = np.concatenate([above[before + 1], ~opens_up, opens_up])
    slope = np.concatenate([slope, np.zeros(2 * turn.size)])

    def height(which: Ints, x: Floats) -> Floats:
        return height_at(curves, Places(interval[which], x), limit_sine)

    offset = settle(height, guess, slope, (low, high), rising, LAST_STEP)
    order = np.lexsort((offset, interval))
    return Places(interval[order], offset[order]), rising[order]
