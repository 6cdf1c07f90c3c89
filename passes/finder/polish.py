"""A second look through closer nodes at crossings that may be misplaced."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from passes.finder.clock import Clocks
from passes.finder.events import LAST_STEP, Events, Places, height_at, steepness_at
from passes.finder.frame import Frame
from passes.finder.mean import DEEP_PERIOD_S
from passes.finder.nodes import Curves, curves_through
from passes.finder.screen import Zones
from passes.finder.settle import settle
from passes.orbits import Propagator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: A crossing that the curves may misplace by more than this is looked at again.
ENOUGH_S = 2.5e-4
#: Closer nodes stand this many to a tick: what curves miss shrinks by its sixth power.
CLOSER = 16
#: What curves miss in low orbits, as a share of axis × step⁶ (seen: 0.0084).
_SHARE = 0.01
#: What they miss in deep space at most, km at 72 ticks a revolution (seen: 0.0019).
_DEEP_KM, _DEEP_STEP_RAD = 0.003, 2 * np.pi / 72
#: A crossing that a second look moves by more than it should is not believed.
_FAR = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Crossed:
    """Crossings placed for good, ``(k,)``, and where each is seen, ``(3, k)`` km.

    ``doubtful`` holds the objects for which that did not succeed.
    """

    time_s: Floats
    seen: Floats
    doubtful: Ints


def miss_km(axis_km: Floats, clocks: Clocks) -> Floats:
    """What curves through the ticks of clocks may miss, ``(m,)``."""
    near = clocks.rate_rad_s > 2 * np.pi / DEEP_PERIOD_S
    deep = _DEEP_KM * (clocks.step_rad / _DEEP_STEP_RAD) ** 6
    return np.where(near, _SHARE * axis_km * clocks.step_rad**6, deep)


def polished(
    propagator: Propagator,
    rows: Ints,
    curves: Curves,
    found: Events,
    frame: Frame,
    miss: Floats,
) -> Crossed:
    """Times of all crossings, looked at again where ``miss`` (km) makes it needful."""
    places = found.crossings
    time_s = curves.time_s(places.interval, places.offset)
    seen = curves.at(places.interval, places.offset)
    slope = steepness_at(curves, places)
    range_km = np.sqrt((seen * seen).sum(axis=0))
    with np.errstate(divide="ignore"):
        ticks = miss[curves.of[places.interval]] / range_km / np.abs(slope)
    slow = ticks * curves.tick_s(places.interval, places.offset) > ENOUGH_S
    again = np.flatnonzero(slow)
    if not again.size:
        return Crossed(time_s, seen, np.empty(0, dtype=np.int64))
    closer, start = _closer(propagator, rows, curves, places.take(again), frame)
    reach = np.minimum(_FAR * CLOSER * ticks[again], 1.0)
    which = np.arange(again.size)

    def height(some: Ints, x: Floats) -> Floats:
        return height_at(closer, Places(some, x), frame.limit_sine)

    offset = settle(
        height,
        start,
        slope[again] / CLOSER,
        (start - reach, start + reach),
        found.rising[again],
        LAST_STEP,
    )
    time_s[again], seen[:, again] = (
        closer.time_s(which, offset),
        closer.at(which, offset),
    )
    lost = np.abs(offset - start) > 0.9 * reach
    return Crossed(time_s, seen, np.unique(closer.of[lost]))


def _closer(
    propagator: Propagator, rows: Ints, curves: Curves, places: Places, frame: Frame
) -> tuple[Curves, Floats]:
    """Curves of one interval around each place, and where in it the place is."""
    clocks = replace(curves.clocks, step_rad=curves.clocks.step_rad / CLOSER)
    fine = (curves.tick[places.interval] + places.offset) * CLOSER
    first = np.floor(fine).astype(np.int64)
    zones = Zones(curves.of[places.interval], first, first)
    closer, _ = curves_through(propagator, rows, clocks, zones, frame)
    return closer, fine - first
