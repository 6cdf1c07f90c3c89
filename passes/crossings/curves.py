"""What objects do over a site, as polynomials through nodes, in astrometric ICRS."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import sky, vectors
from passes.constants import LIGHT_SPEED_KM_S
from passes.crossings.aim import Aim
from passes.crossings.grid import PAD, STEP_S, Grid
from passes.crossings.screen import ASIDE_RAD, near_chord
from passes.model import Flags, Site
from passes.orbits import Propagator
from passes.orbits.lagrange import BEFORE, POINTS, weights
from passes.orbits.stretches import Stretch, places_along

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
#: Seconds from the start between which crossings count.
Window = tuple[float, float]

#: Nodes that a zone needs beyond its intervals.
PADS = POINTS - 1
#: Half the stretch over which a change is taken, seconds.
_BESIDE_S = 0.05
#: More than any object and the site can pull apart, km/s².
_PULL = 1.05e-2
#: What it means to be in the field where a window opens or closes, or a row fails.
_OPENS, _CLOSES = int(Flags.IN_FIELD_AT_START), int(Flags.IN_FIELD_AT_END)
_FAILS = int(Flags.ENDS_IN_FAILURE)
_NO_INTS = np.empty(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Zones:
    """Runs of intervals of the grid in which to look at rows, ``(z,)`` each."""

    row: Ints
    first: Ints
    last: Ints

    def take(self, which: slice | Bools | Ints) -> Zones:
        """Some of them."""
        return Zones(self.row[which], self.first[which], self.last[which])

    @property
    def nodes(self) -> Ints:
        """How many nodes each of them needs."""
        return np.asarray(self.last - self.first + 1 + PADS)

    @classmethod
    def joined(cls, row: Ints, interval: Ints) -> Zones:
        """Single intervals joined into runs where they would share nodes anyway."""
        order = np.lexsort((interval, row))
        row, interval = row[order], interval[order]
        gap = (np.diff(row) != 0) | (np.diff(interval) > POINTS)
        edge = np.ones(min(row.size, 1), dtype=np.bool_)
        opens, closes = np.concatenate([edge, gap]), np.concatenate([gap, edge])
        return cls(row[opens], interval[opens], interval[closes])


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Runs of intervals ``(r,)`` and the nodes that carry them.

    ``away`` ``(4, n)`` holds at every node the vector from the site to the object
    (ICRS, km), without light time, and its height above the site's horizontal plane
    (km); ``drift`` ``(3, n)`` how fast object and Earth move (km/s).  Interval ``i`` of
    run ``r`` begins at ``begin_s[r] + i · step_s[r]`` and is carried by six nodes from
    ``base[r] + i``.  Crossings count between ``low_s`` and ``high_s``; the flags say
    what it means to be cut there.
    """

    away: Floats
    drift: Floats
    row: Ints
    base: Ints
    begin_s: Floats
    step_s: Floats
    count: Ints
    low_s: Floats
    high_s: Floats
    low_flag: Ints
    high_flag: Ints

    def at(self, run: Ints, time_s: Floats) -> Floats:
        """The astrometric vector and the height at times of runs, ``(4, k)`` km.

        Light time is worked out here, not at the nodes: near the zenith a low object's
        range turns round too sharply for a polynomial.
        """
        first, offset = self._place(run, time_s)
        there = self._carried(first, weights(offset))
        before, after = self.drift[:, first + BEFORE], self.drift[:, first + BEFORE + 1]
        there[:3] = astrometric_km(there[:3], before + (after - before) * offset)
        return there

    def change(self, run: Ints, time_s: Floats) -> Floats:
        """How fast that changes, a second, ``(4, k)``."""
        return (self.at(run, time_s + _BESIDE_S) - self.at(run, time_s - _BESIDE_S)) / (
            2.0 * _BESIDE_S
        )

    def _place(self, run: Ints, time_s: Floats) -> tuple[Ints, Floats]:
        steps = (time_s - self.begin_s[run]) / self.step_s[run]
        interval = np.clip(np.floor(steps).astype(np.int64), 0, self.count[run] - 1)
        return self.base[run] + interval, steps - interval

    def _carried(self, first: Ints, weight: Floats) -> Floats:
        total: Floats = self.away[:, first] * weight[0]
        for i in range(1, POINTS):
            total += self.away[:, first + i] * weight[i]
        return total

    def pruned(self, aim: Aim, sound: Bools) -> Curves:
        """Only those intervals in which an object may be in the field, in new runs.

        Runs that are not ``sound`` ``(r,)`` are left out.
        """
        run = np.repeat(np.arange(self.row.size), self.count)
        interval = _counted(self.count)
        base = self.base[run] + interval
        begin_s = self.begin_s[run] + interval * self.step_s[run]
        live = self._live(base, begin_s, self.step_s[run], aim) & sound[run]
        run, interval, base = run[live], interval[live], base[live]
        gap = (np.diff(run) != 0) | (np.diff(interval) != 1)
        edge = np.ones(min(run.size, 1), dtype=np.bool_)
        opens = np.flatnonzero(np.concatenate([edge, gap]))
        closes = np.flatnonzero(np.concatenate([gap, edge]))
        of = run[opens]
        return replace(
            self,
            row=self.row[of],
            base=base[opens],
            begin_s=self.begin_s[of] + interval[opens] * self.step_s[of],
            step_s=self.step_s[of],
            count=interval[closes] - interval[opens] + 1,
            low_s=self.low_s[of],
            high_s=self.high_s[of],
            low_flag=self.low_flag[of],
            high_flag=self.high_flag[of],
        )

    def _live(self, base: Ints, begin_s: Floats, step_s: Floats, aim: Aim) -> Bools:
        """Which intervals' chords come near the field; heights are tested apart."""
        first = base + BEFORE
        begin, end = self.away[:3, first], self.away[:3, first + 1]
        toward, reach = aim.look(begin_s)
        after, reach_after = aim.look(begin_s + step_s)
        sway = vectors.separation_rad(toward, after) + _stray(aim, begin_s, step_s)
        reach = np.maximum(reach, reach_after) * 1.001 + 1.01 * sway + ASIDE_RAD
        slack = _PULL * step_s**2 / 8.0
        flat = np.zeros_like(begin)
        near = near_chord(begin, end, toward.T, flat, reach, slack)
        height = np.maximum(self.away[3, first], self.away[3, first + 1])
        return np.asarray(near & (height > -slack))


def _stray(aim: Aim, begin_s: Floats, step_s: Floats) -> Floats:
    """How far a path's corners within intervals lie from where these begin."""
    stray = np.zeros(begin_s.size)
    corners = aim.corners_s()
    if not corners.size or not begin_s.size:
        return stray
    first = np.searchsorted(corners, begin_s)
    past = np.searchsorted(corners, begin_s + step_s)
    which = np.repeat(np.arange(begin_s.size), past - first)
    index = _counted(past - first) + first[which]
    there, _ = aim.look(corners[index])
    toward, _ = aim.look(begin_s[which])
    np.maximum.at(stray, which, vectors.separation_rad(there, toward))
    return stray


def _counted(count: Ints) -> Ints:
    """0 … count − 1 for each count, laid end to end."""
    begin = np.cumsum(count) - count
    return np.arange(int(count.sum())) - np.repeat(begin, count)


def astrometric_km(away: Floats, drift: Floats) -> Floats:
    """Where an object is seen on the star field: ``(3, k)`` km, ICRS.

    ``away`` is the object less the site, ``drift`` the velocity of the object about the
    Earth plus that of the Earth about the barycentre.  The light left one light time
    earlier, when both were elsewhere; the site is where it is now.  What acceleration
    does meanwhile is left out: 2 mm for the geostationary, less for others.
    """
    seen = away
    for _ in range(2):
        range_km = np.sqrt(seen[0] ** 2 + seen[1] ** 2 + seen[2] ** 2)
        seen = away - drift * (range_km / LIGHT_SPEED_KM_S)
    return seen


def _in_icrs(
    away: Floats, velocity: Floats, turn: Floats, earth: Floats, up: Floats
) -> tuple[Floats, Floats]:
    """Nodes ``(4, n)`` and drifts ``(3, n)`` of curves (the Earth moves in ICRS)."""
    nodes = np.empty((4, len(away)))
    nodes[:3] = vectors.apply(turn, away).T
    nodes[3] = vectors.dot(away, up)
    return nodes, np.ascontiguousarray((vectors.apply(turn, velocity) + earth).T)


def curves_through(
    propagator: Propagator, zones: Zones, grid: Grid, window: Window
) -> tuple[Curves, Ints]:
    """Curves of rows through their zones, and the rows that SGP4 refused there."""
    counts = zones.nodes
    offsets = np.concatenate([[0], np.cumsum(counts)])
    index = _counted(counts) + np.repeat(zones.first - BEFORE + PAD, counts)
    times = grid.time_s[index]
    position, velocity, error = propagator.along(zones.row, offsets, times)
    away = position - grid.site_km[index]
    turn, earth = grid.to_icrs[index], grid.earth_km_s[index]
    nodes, drift = _in_icrs(away, velocity, turn, earth, grid.up[index])
    node_row = np.repeat(zones.row, counts)
    refused = np.unique(node_row[error != 0]) if error.any() else _NO_INTS
    size = zones.row.size
    curves = Curves(
        nodes,
        drift,
        zones.row,
        offsets[:-1],
        STEP_S * zones.first.astype(np.float64),
        np.full(size, STEP_S),
        zones.last - zones.first + 1,
        np.full(size, window[0]),
        np.full(size, window[1]),
        np.full(size, _OPENS),
        np.full(size, _CLOSES),
    )
    return curves, refused


def _followed(
    propagator: Propagator, parts: list[Stretch], offsets: Ints, times: Floats
) -> tuple[Floats, Floats]:
    """Places and velocities at the nodes of stretches, TEME, ``(k, 3)`` each."""
    position = np.empty((times.size, 3))
    velocity = np.empty((times.size, 3))
    for i, part in enumerate(parts):
        own = slice(offsets[i], offsets[i + 1])
        position[own] = places_along(propagator, part, times[own])
        # over one light time a difference over two steps is good to a centimetre
        velocity[own] = np.gradient(position[own], part.step_s, axis=0, edge_order=2)
    return position, velocity


def curves_along(
    propagator: Propagator,
    parts: list[Stretch],
    site: Site,
    start: datetime,
    window: Window,
) -> Curves:
    """Curves of rows through whole stretches, each with nodes of its own."""
    counts = np.array([int((p.end_s - p.begin_s) / p.step_s) + 2 for p in parts])
    begin: Floats = np.array([p.begin_s for p in parts], dtype=np.float64)
    step: Floats = np.array([p.step_s for p in parts], dtype=np.float64)
    offsets = np.concatenate([[0], np.cumsum(counts + PADS)])
    tick = _counted(counts + PADS) - BEFORE
    times = np.repeat(begin, counts + PADS) + tick * np.repeat(step, counts + PADS)
    position, velocity = _followed(propagator, parts, offsets, times)
    up = vectors.rotate_z(sky.site_axes(site)[2], sky.gmst_rad(start, times))
    away = position - sky.site_teme_km(site, start, times)
    turn = sky.teme_to_icrs(start, times)
    earth = sky.earth_velocity_km_s(start, times)
    nodes, drift = _in_icrs(away, velocity, turn, earth, up)
    row = np.array([p.row for p in parts])
    end = np.array([p.end_s for p in parts])
    return Curves(
        nodes,
        drift,
        row,
        offsets[:-1],
        begin,
        step,
        counts,
        np.maximum(begin, window[0]),
        np.minimum(end, window[1]),
        np.where(begin > window[0], _FAILS, _OPENS),
        np.where(end < window[1], _FAILS, _CLOSES),
    )
