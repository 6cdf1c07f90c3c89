"""Objects that no screen can be trusted with, followed step by step.

Those that SGP4 refuses for part of the window, that sink faster than any clock could
tell, or whose places come from an ephemeris.  What is found is cut where they fail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes.finder.clock import Clocks
from passes.finder.found import Bounds
from passes.finder.frame import Frame
from passes.finder.nodes import Curves
from passes.model import Flags
from passes.orbits import Propagator
from passes.orbits.lagrange import BEFORE, POINTS, extrapolate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Codes = NDArray[np.uint8]

#: Time between two nodes; the shortest stretch worth following; how well the moment of
#: a failure is told.
STEP_S, SHORTEST_S, FAILURE_S = 30.0, 0.1, 1e-3
_AFTER = POINTS - BEFORE


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time through which an object has places."""

    row: int
    begin_s: float
    end_s: float

    @property
    def step_s(self) -> float:
        """Time between two nodes: some must lie within the shortest stretch."""
        return min(STEP_S, (self.end_s - self.begin_s) / (2 * POINTS))


def stretches(
    propagator: Propagator, row: int, span_s: float
) -> tuple[list[Stretch], int]:
    """Where in the window a row has places, and the first code of where it has none.

    Of what comes after a refusal by SGP4 nothing is believed: an object that has come
    down does not fly again, whatever its elements then say.
    """
    count = max(int(np.ceil(span_s / STEP_S)), 2)
    time_s = np.linspace(0.0, span_s, count + 1)
    _, error = propagator.positions(row, time_s)
    fails = error != 0
    if not fails.any():
        return [Stretch(row, 0.0, span_s)], 0
    code = int(error[np.argmax(fails)])
    if fails.all():
        return [], code
    change = np.flatnonzero(fails[1:] != fails[:-1])
    edges = [_edge(propagator, row, time_s[i], time_s[i + 1]) for i in change]
    marks = [0.0] * (not fails[0]) + edges + [span_s] * (not fails[-1])
    pairs = zip(marks[0::2], marks[1::2], strict=True)
    parts = [Stretch(row, a, b) for a, b in pairs if b - a > SHORTEST_S]
    return parts if propagator.given(np.array([row]))[0] else parts[:1], code


def _edge(propagator: Propagator, row: int, low: float, high: float) -> float:
    """The last moment between two at which a row still has a place (or the first)."""
    fails_first = propagator.positions(row, low)[1][0] != 0
    while high - low > FAILURE_S:
        middle = 0.5 * (low + high)
        if (propagator.positions(row, middle)[1][0] != 0) == fails_first:
            low = middle
        else:
            high = middle
    return float(high if fails_first else low)


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
        position = _places(propagator, part, times[low:high])
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


def _places(propagator: Propagator, part: Stretch, times: Floats) -> Floats:
    """Positions at nodes; beyond the ends of a stretch carried on from within."""
    position, error = propagator.positions(part.row, times)
    good = np.flatnonzero(
        (error == 0) & (times >= part.begin_s) & (times <= part.end_s)
    )
    for i in range(good[-1] + 1, times.size):
        if error[i] != 0:
            position[i] = extrapolate(position[:i])
    for i in range(good[0] - 1, -1, -1):
        if error[i] != 0:
            position[i] = extrapolate(position[i + 1 :], backwards=True)
    return position
