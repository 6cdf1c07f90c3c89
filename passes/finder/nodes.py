"""SGP4 at the ticks that zones need, and the curves through them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes.finder.clock import Clocks
from passes.finder.frame import Frame
from passes.finder.screen import Zones
from passes.orbits import Propagator
from passes.orbits.lagrange import BEFORE, POINTS, slopes, weights

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Samples that an interval between two ticks is looked at in: 15 s in low orbits.
SAMPLES = 8
#: Nodes that a zone needs beyond its intervals.
PADS = POINTS - 1
_WEIGHTS = weights(np.arange(SAMPLES) / SAMPLES)


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """What objects do over the site: polynomials through nodes, interval by interval.

    ``seen`` ``(3, m)`` holds east, north and up (km) at the nodes.  Interval ``j`` of
    ``(n,)`` is carried by six nodes from ``base[j]`` and begins at tick ``tick[j]`` of
    the clock of object ``of[j]``; ``zone[j]`` counts stretches of intervals that
    follow one another.  A place on a curve is an interval and an offset in ticks.
    """

    seen: Floats
    base: Ints
    tick: Ints
    of: Ints
    zone: Ints
    clocks: Clocks

    def heights(self, limit_sine: float) -> Floats:
        """Sine of altitude less that of the limit, at eight samples an interval.

        ``(n, 8)``, at offsets 0, 1/8 … 7/8.
        """
        around = [[axis[self.base + i] for i in range(POINTS)] for axis in self.seen]
        heights = np.empty((self.base.size, SAMPLES))
        for sample in range(SAMPLES):
            east, north, up = (_mixed(six, _WEIGHTS[:, sample]) for six in around)
            range_km = np.sqrt(east * east + north * north + up * up)
            heights[:, sample] = up / range_km - limit_sine
        return heights

    def at(self, interval: Ints, offset: Floats) -> Floats:
        """East, north and up (km) at places on the curves, ``(3, k)``."""
        return self._carried(interval, weights(offset))

    def slope(self, interval: Ints, offset: Floats) -> Floats:
        """Their change a tick, ``(3, k)``."""
        return self._carried(interval, slopes(offset))

    def _carried(self, interval: Ints, weight: Floats) -> Floats:
        first = self.base[interval]
        nodes = [first + i for i in range(POINTS)]
        carried = np.empty((3, first.size))
        for axis, along in enumerate(self.seen):
            carried[axis] = _mixed([along[node] for node in nodes], weight)
        return carried

    def tick_s(self, interval: Ints, offset: Floats) -> Floats:
        """How long a tick lasts there, seconds, ``(k,)``."""
        of = self.of[interval]
        angle = (self.tick[interval] + offset) * self.clocks.step_rad[of]
        share = 1.0 - self.clocks.eccentricity[of] * np.cos(angle)
        return share * self.clocks.step_rad[of] / self.clocks.rate_rad_s[of]

    def time_s(self, interval: Ints, offset: Floats) -> Floats:
        """When the places are reached, seconds from the window's start, ``(k,)``."""
        clocks = self.clocks.take(self.of[interval])
        return clocks.time_s(self.tick[interval] + offset)


def _mixed(six: list[Floats], weight: Floats) -> Floats:
    total: Floats = six[0] * weight[0]
    for i in range(1, POINTS):
        total += six[i] * weight[i]
    return total


def curves_through(
    propagator: Propagator, rows: Ints, clocks: Clocks, zones: Zones, frame: Frame
) -> tuple[Curves, Bools]:
    """Curves of rows through their zones, and which objects SGP4 refused ``(m,)``."""
    counts = zones.last - zones.first + 1
    offsets = np.concatenate([[0], np.cumsum(counts + PADS)])
    node_of = np.repeat(zones.of, counts + PADS)
    tick = _laid_out(zones.first - BEFORE, counts + PADS)
    times = clocks.take(node_of).time_s(tick.astype(np.float64))
    objects, begins = np.unique(zones.of, return_index=True)
    stretches = np.append(offsets[begins], offsets[-1])
    position, error = propagator.places(rows[objects], stretches, times)
    refused = np.zeros(rows.size, dtype=np.bool_)
    refused[node_of[error != 0]] = True
    zone = np.repeat(np.arange(counts.size), counts)
    interval = _laid_out(zones.first, counts)
    base = offsets[zone] + interval - zones.first[zone]
    curves = Curves(
        frame.look(position, times), base, interval, zones.of[zone], zone, clocks
    )
    return curves, refused


def _laid_out(first: Ints, counts: Ints) -> Ints:
    """Runs ``first … first + count - 1`` laid end to end."""
    begin = np.cumsum(counts) - counts
    total = int(counts.sum())
    return np.asarray(np.arange(total) + np.repeat(first - begin, counts))
