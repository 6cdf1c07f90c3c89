"""From rows to the stretches of time in which they are worth propagating."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from passes import vectors
from passes.constants import EARTH_MU_KM3_S2
from passes.crossings.curves import Zones
from passes.crossings.grid import LONG_SLAB, PAD, SLAB, STEP_S, Grid
from passes.crossings.screen import (
    Slabs,
    bulge_km,
    near_chord,
    near_courses,
    near_plane,
)
from passes.orbits import Propagator
from passes.orbits.courses import LOWEST_KM, Courses, courses

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Intervals through which one course is relied on: half a day.
PART = 1440
#: Places propagated at once for rows without a course.
_PLACES = 60_000
_OTHERS = np.arange(SLAB)


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Zones (row, first and last interval) ``(3, z)`` of rows that have courses.

    ``awkward`` rows have none; ``sinking`` rows have one that nobody can trust long.
    """

    zones: Ints
    awkward: Ints
    sinking: Ints


class Chooser:
    """Chooses intervals of the grid for the rows of one catalogue."""

    def __init__(self, propagator: Propagator, grid: Grid) -> None:
        self.propagator, self.grid = propagator, grid
        edges = [*range(0, grid.intervals, PART), grid.intervals]
        self.parts = [
            (low, *(Slabs.of(grid, low, high, n) for n in (SLAB, 1, LONG_SLAB)))
            for low, high in pairwise(edges)
        ]

    def zones(self, rows: Ints) -> Choice:
        """Where rows that have courses are worth propagating."""
        kept, whole, sinking = [], np.ones(rows.size, dtype=np.bool_), []
        for low, slabs, fine, _ in self.parts:
            begin_s = low * STEP_S
            end_s = begin_s + fine.first.size * STEP_S
            some = courses(self.propagator, rows, begin_s, end_s)
            whole &= some.steady
            sinking.append(some.sinking)
            of, interval = self._by_course(some, slabs, fine, begin_s)
            kept.append(np.stack([of, interval + low]))
        of, interval = np.concatenate(kept, axis=1)
        good = whole[of]
        found = Zones.joined(rows[of[good]], interval[good])
        return Choice(
            np.stack([found.row, found.first, found.last]),
            rows[~whole],
            rows[np.any(sinking, axis=0)],
        )

    def _by_course(
        self, some: Courses, slabs: Slabs, fine: Slabs, begin_s: float
    ) -> tuple[Ints, Ints]:
        """Courses and single intervals (from the part's first) worth propagating."""
        grid = self.grid
        of, slab = near_plane(some, grid, slabs, begin_s)
        near = near_courses(some, grid, slabs, of, slab, begin_s)
        of, slab = of[near], slab[near]
        interval = (slab[:, np.newaxis] * SLAB + _OTHERS).reshape(-1)
        of = np.repeat(of, SLAB)
        near = near_courses(some, grid, fine, of, interval, begin_s)
        return of[near], interval[near]

    def by_propagating(self, rows: Ints) -> tuple[Zones, Ints]:
        """Zones of rows that have no course, and rows that SGP4 may refuse somewhere.

        The latter fail at some slab's end, or come so low that they may fail between.
        """
        found, refused = [], []
        for some in _batches(rows, self.grid.intervals // LONG_SLAB + 1):
            zones, bad = self._propagated(some)
            found.append(zones)
            refused.append(bad)
        if not found:
            none = np.empty(0, dtype=np.int64)
            return Zones(none, none, none), none
        pairs = np.concatenate(found, axis=1)
        return Zones.joined(pairs[0], pairs[1]), np.concatenate(refused)

    def _propagated(self, rows: Ints) -> tuple[Ints, Ints]:
        """Rows and intervals ``(2, k)`` in slabs whose chord comes near the field."""
        grid = self.grid
        node = np.arange(0, grid.intervals + 1, LONG_SLAB) + PAD
        position, velocity, error = self.propagator.many(rows, grid.time_s[node])
        bad = (error != 0).any(axis=1)
        bad |= ~(_lowest_km(position, velocity).min(axis=1) > LOWEST_KM)
        place = np.moveaxis(position, -1, 0)
        begin, end = place[:, :, :-1], place[:, :, 1:]
        site = grid.site_km.T[:, np.newaxis, node]
        near = np.zeros(begin.shape[1:], dtype=np.bool_)
        at = 0
        for *_, slabs in self.parts:
            own = slice(at, at + slabs.first.size)
            at += slabs.first.size
            own_ends = slice(own.start + 1, own.stop + 1)
            near[:, own] = near_chord(
                begin[:, :, own] - site[:, :, own],
                end[:, :, own] - site[:, :, own_ends],
                slabs.aim.T[:, np.newaxis],
                grid.up.T[:, np.newaxis, slabs.first],
                slabs.reach_rad,
                bulge_km(begin[:, :, own], end[:, :, own], 2.0 * slabs.half_s),
            )
        of, slab = np.nonzero(near & ~bad[:, np.newaxis])
        interval = slab[:, np.newaxis] * LONG_SLAB + np.arange(LONG_SLAB)
        pairs = np.stack([np.repeat(rows[of], LONG_SLAB), interval.reshape(-1)])
        return pairs, rows[bad]


def _lowest_km(position: Floats, velocity: Floats) -> Floats:
    """Distance at the perigee of the orbit that places and velocities belong to."""
    with np.errstate(all="ignore"):  # rows in error hold anything
        range_km = vectors.norm(position)
        speed2 = vectors.dot(velocity, velocity)
        axis = 1.0 / (2.0 / range_km - speed2 / EARTH_MU_KM3_S2)
        level = speed2 * range_km**2 - vectors.dot(position, velocity) ** 2
        round_ = np.clip(level / (EARTH_MU_KM3_S2 * axis), 0.0, 1.0)
        return np.asarray(axis * (1.0 - np.sqrt(1.0 - round_)))


def _batches(rows: Ints, places: int) -> Iterator[Ints]:
    """Rows in batches of so many places each."""
    size = max(_PLACES // places, 1)
    for low in range(0, rows.size, size):
        yield rows[low : low + size]


def batches_of(zones: Zones) -> Iterator[Zones]:
    """Zones in batches of a bounded number of nodes."""
    ends = np.cumsum(zones.nodes)
    low = 0
    while low < ends.size:
        before = ends[low - 1] if low else 0
        high = max(int(np.searchsorted(ends, before + _PLACES, "right")), low + 1)
        yield zones.take(slice(low, high))
        low = high
