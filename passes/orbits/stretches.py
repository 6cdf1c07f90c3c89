"""Stretches of time through which an object has places, and how to follow it there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from passes.orbits.lagrange import POINTS, extrapolate
from passes.orbits.propagator import ERROR_WORDS, NO_EPHEMERIS, Propagator

Floats = NDArray[np.float64]

#: Time between two looks; the shortest stretch worth following; how well the moment of
#: a failure is told.
STEP_S, SHORTEST_S, FAILURE_S = 30.0, 0.1, 1e-3


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


def places_along(propagator: Propagator, part: Stretch, time_s: Floats) -> Floats:
    """Positions ``(k, 3)`` at even times; beyond a stretch carried on from within.

    At least six of the times must lie within the stretch.
    """
    position, error = propagator.positions(part.row, time_s)
    good = np.flatnonzero(
        (error == 0) & (time_s >= part.begin_s) & (time_s <= part.end_s)
    )
    for i in range(good[-1] + 1, time_s.size):
        if error[i] != 0:
            position[i] = extrapolate(position[:i])
    for i in range(good[0] - 1, -1, -1):
        if error[i] != 0:
            position[i] = extrapolate(position[i + 1 :], backwards=True)
    return position


def refusal(code: int, some: list[Stretch], start: datetime) -> str:
    """Why a row is left out, wholly or outside some stretches, in words."""
    words = f"SGP4 cannot place it: {ERROR_WORDS.get(code, f'error {code}')}"
    if code == NO_EPHEMERIS:
        words = ERROR_WORDS[code]
    if not some:
        return words
    spans = ", ".join(
        f"{start + timedelta(seconds=part.begin_s):%Y-%m-%dT%H:%M:%SZ} to "
        f"{start + timedelta(seconds=part.end_s):%Y-%m-%dT%H:%M:%SZ}"
        for part in some
    )
    return f"followed only from {spans}; {words}"
