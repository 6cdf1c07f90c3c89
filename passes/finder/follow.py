"""Objects that no screen can be trusted with, followed step by step.

Those that SGP4 refuses for part of the window, that sink faster than any clock could
tell, or whose places come from an ephemeris.  What is found is cut where they fail.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from passes.finder.clock import Clocks
from passes.finder.found import Bounds
from passes.finder.frame import Frame
from passes.finder.nodes import Curves
from passes.model import Flags
from passes.orbits import Propagator
from passes.orbits.lagrange import BEFORE, POINTS
from passes.orbits.stretches import Stretch, places_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def followed(
    propagator: Propagator, parts: list[Stretch], frame: Frame
) -> tuple[Curves, Bounds]:
    """Curves through every stretch, each an object and a zone of its own."""
    counts = np.array([int((p.end_s - p.begin_s) / p.step_s) + 2 for p in parts])
    begin = np.array([p.begin_s for p in parts])
    step = np.array([p.step_s for p in parts])
    held = counts + POINTS - 1
    offsets = np.concatenate([[0], np.cumsum(held)])
    times, seen = np.empty(offsets[-1]), np.empty((3, offsets[-1]))
    for part, low, high in zip(parts, offsets[:-1], offsets[1:], strict=True):
        tick = np.arange(high - low) - BEFORE
        times[low:high] = part.begin_s + tick * part.step_s
        position = places_along(propagator, part, times[low:high])
        seen[:, low:high] = frame.look(position, times[low:high])
    zone = np.repeat(np.arange(counts.size), counts)
    tick = np.arange(zone.size) - np.repeat(np.cumsum(counts) - counts, counts)
    none = np.zeros(begin.size)
    clocks = Clocks(-begin, none + 1.0, none, none, step)
    span_s = frame.span_s
    failure = int(Flags.ENDS_IN_FAILURE)
    end = np.array([p.end_s for p in parts])
    bounds = Bounds(
        begin,
        end,
        np.where(begin > 0.0, failure, int(Flags.UP_AT_START)),
        np.where(end < span_s, failure, int(Flags.UP_AT_END)),
    )
    return Curves(seen, offsets[zone] + tick, tick, zone, zone, clocks), bounds
