"""An object's places from its operator where those reach, from its elements elsewhere.

At the end of an ephemeris the elements say something else: kilometres, often.  A jump
there would be a speed that nobody flies.  So outside its ends, for ten minutes, the
difference at the end is carried on along the orbit and fades away.
"""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes.elements import Catalogue
from passes.ephemeris import Flight
from passes.orbits import Propagator
from passes.vectors import cross, unit

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: How long a difference takes to fade away, seconds.
FADE_S = 600.0
#: Within this of its end an ephemeris is asked how the difference changes, seconds.
_WITHIN_S = 2.0
#: Half the step over which the orbit's own axes are taken, seconds.
_HALF_STEP_S = 0.5


class Source(Protocol):
    """Places of one object in TEME; nan where none are known."""

    def positions(self, start: datetime, time_s: Floats) -> Floats:
        """Places ``(k, 3)`` km at seconds ``(k,)`` from an aware start."""


class BySgp4:
    """Places of the only row of a catalogue, by its elements."""

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue

    def positions(self, start: datetime, time_s: Floats) -> Floats:
        """Places ``(k, 3)`` km; nan where SGP4 refuses."""
        source = Propagator(self._catalogue, start, fast=False)
        position, error = source.positions(0, time_s)
        return np.where((error == 0)[:, np.newaxis], position, np.nan)


class Joined:
    """A flight, and what stands in for it where it does not reach."""

    def __init__(self, flight: Flight, outer: Source | None) -> None:
        self.flight, self.outer = flight, outer

    def positions(self, start: datetime, time_s: Floats) -> Floats:
        """TEME places ``(k, 3)`` km at seconds ``(k,)`` from an aware start."""
        if self.outer is None:
            return self.flight.positions(start, time_s)
        inside = self.flight.covers(start, time_s)
        found = np.full((time_s.size, 3), np.nan)
        if inside.any():
            found[inside] = self.flight.positions(start, time_s[inside])
        if not inside.all():
            found[~inside] = self._outside(self.outer, start, time_s[~inside])
        return found

    def _outside(self, outer: Source, start: datetime, time_s: Floats) -> Floats:
        found = outer.positions(start, time_s)
        for edge_s, way, length_s in self._edges(start):
            after = (time_s - edge_s) * way
            near = (after > 0.0) & (after < length_s)
            if near.any():
                difference, change = self._difference(outer, start, edge_s, way)
                at = after[near, np.newaxis]
                offset = _fade(at / length_s) * (difference + change * at)
                axes = _axes(outer, start, time_s[near])
                found[near] += (offset[:, np.newaxis, :] @ axes)[:, 0]
        return found

    def _edges(self, start: datetime) -> list[tuple[float, float, float]]:
        """Each end of the flight: its time, the way out (−1, 1), how long to fade."""
        spans = [
            ((low - start).total_seconds(), (high - start).total_seconds())
            for low, high in self.flight.spans
        ]
        ends = [-np.inf, *(high for _, high in spans)]
        begins = [*(low for low, _ in spans), np.inf]
        edges = []
        for i, (low, high) in enumerate(spans):
            edges.append((low, -1.0, min(FADE_S, low - ends[i])))
            edges.append((high, 1.0, min(FADE_S, begins[i + 1] - high)))
        return edges

    def _difference(
        self, outer: Source, start: datetime, edge_s: float, way: float
    ) -> tuple[Floats, Floats]:
        """Flight less elements at an end, along the orbit's axes, and its change.

        Both ``(3,)``; the change is a second of time outwards.
        """
        times = edge_s - way * np.array([0.0, _WITHIN_S])
        apart = self.flight.positions(start, times) - outer.positions(start, times)
        along = (_axes(outer, start, times) @ apart[:, :, np.newaxis])[:, :, 0]
        change = (along[0] - along[1]) / _WITHIN_S  # nan where so little is known
        return np.nan_to_num(along[0]), np.nan_to_num(change)

    # --- what to say of it ------------------------------------------------------

    def covered(
        self, start: datetime, begin_s: Floats, end_s: Floats
    ) -> tuple[Bools, Floats]:
        """Which stretches ``(k,)`` of time a flight covers from end to end.

        And when that flight was made, seconds from the start, nan where none does.
        """
        made_s = np.full(begin_s.shape, np.nan)
        if isinstance(self.outer, Joined):
            made_s = self.outer.covered(start, begin_s, end_s)[1]
        for low, high in self.flight.spans:
            first = (low - start).total_seconds()
            last = (high - start).total_seconds()
            inside = (begin_s >= first) & (end_s <= last)
            made = (self.flight.created - start).total_seconds()
            made_s = np.where(inside, made, made_s)
        return np.isfinite(made_s), made_s

    def changed(self, start: datetime, begin_s: Floats, end_s: Floats) -> Bools:
        """Which stretches ``(k,)`` hold a change of source, or its fading."""
        found = np.zeros(begin_s.shape, dtype=np.bool_)
        if self.outer is None:
            return found
        if isinstance(self.outer, Joined):
            found |= self.outer.changed(start, begin_s, end_s)
        for low, high in self.flight.spans:
            first = (low - start).total_seconds()
            last = (high - start).total_seconds()
            found &= ~((begin_s >= first) & (end_s <= last))
        for edge_s, way, length_s in self._edges(start):
            first, last = sorted((edge_s, edge_s + way * length_s))
            found |= (begin_s < last) & (end_s > first)
        return found


def _axes(source: Source, start: datetime, time_s: Floats) -> Floats:
    """Outward, forward and polar axes of an orbit, rows ``(k, 3, 3)``."""
    ahead = source.positions(start, time_s + _HALF_STEP_S)
    behind = source.positions(start, time_s - _HALF_STEP_S)
    outward = unit(ahead + behind)
    pole = unit(cross(behind, ahead))
    return np.stack([outward, cross(pole, outward), pole], axis=1)


def _fade(share: Floats) -> Floats:
    """From 1 to 0, level and straight at both ends."""
    return 1.0 - share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
