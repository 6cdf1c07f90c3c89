"""Which objects can be in the field when: tests that miss nothing and cost little.

First the orbit's plane against the line of sight between the nearest and the farthest
place where the object could cross it, slab by slab; then the chord of the course
through a slab, then through the intervals between two nodes.  What an object may do
beside its course or its chord is told in kilometres, so nothing can slip through.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from passes import vectors
from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM, EARTH_ROTATION_RAD_S
from passes.crossings.grid import LONG_SLAB, PAD, STEP_S, Grid
from passes.orbits.courses import Courses

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Aberration by the Earth's motion (1e-4 rad) and by light time, for which courses,
#: unlike places, make no allowance.
ASIDE_RAD = 1.5e-4
#: The vertical of the ellipsoid leans by up to 0.0034 rad from the Earth's centre.
_LEAN_RAD = 0.004
#: The strongest pull of the Earth, km/s², flattening and all; how much it may be more
#: than that of a sphere.
_PULL, _UNEVEN = 9.9e-3, 1.01
_SITE_PULL = EARTH_ROTATION_RAD_S**2 * EARTH_RADIUS_KM
#: Numbers multiplied in one product of matrices: more would wake the threads of
#: numpy's library, which cost more than they bring.
_PRODUCT = 250_000
#: Slabs of courses split into intervals at once.
_AT_ONCE = 8192


@dataclass(frozen=True, slots=True, eq=False)
class Slabs:
    """A stretch of the grid, in slabs of ``length`` intervals; ``(j,)`` each.

    ``first`` is the grid index of a slab's first node.  ``aim`` (TEME) is the line of
    sight in its middle, from which the field strays by no more than ``reach_rad``.
    """

    first: Ints
    aim: Floats
    reach_rad: Floats
    length: int

    @classmethod
    def of(cls, grid: Grid, low: int, high: int, length: int) -> Slabs:
        """Slabs from interval ``low`` up to ``high``; ``length`` is one or even."""
        first = np.arange(low, high, length) + PAD
        if length == 1:
            aim = vectors.unit(grid.aim_teme(first) + grid.aim_teme(first + 1))
            strays = grid.sway_rad[first]
        else:
            aim = grid.aim_teme(first + length // 2)
            node = first[:, np.newaxis] + np.arange(length + 1)
            away = vectors.separation_rad(grid.aim_teme(node), aim[:, np.newaxis])
            strays = away.max(axis=1) + grid.sway_rad[node[:, :-1]].max(axis=1)
        widest = np.maximum(grid.reach_rad[first], grid.reach_rad[first + length])
        return cls(first, aim, widest * 1.001 + strays + ASIDE_RAD, length)

    @property
    def half_s(self) -> float:
        """Half the time a slab lasts."""
        return 0.5 * STEP_S * self.length


def near_plane(
    courses: Courses, grid: Grid, slabs: Slabs, begin_s: float
) -> tuple[Ints, Ints]:
    """Course and slab of all in which the orbit's plane may meet the field.

    Courses count their time from ``begin_s`` of the grid.  An object in the field
    stands at some range along a ray near the line of sight, and its distance from the
    plane is then next to none.
    """
    low, high = _rays(grid, slabs)
    up = np.flatnonzero(high > low)
    steady = np.flatnonzero(courses.steady)
    pairs = [np.empty((2, 0), dtype=np.int64)]
    if up.size and steady.size:
        planes = _Planes(grid, slabs, up, low[up], high[up], begin_s)
        size = max(_PRODUCT // (6 * up.size), 1)
        for begin in range(0, steady.size, size):
            some = steady[begin : begin + size]
            of, slab = np.nonzero(planes.near(courses.take(some)))
            pairs.append(np.stack([some[of], up[slab]]))
    of, slab = np.concatenate(pairs, axis=1)
    return of, slab


class _Planes:
    """The slabs of a window as orbit planes are tested against them, ``(j,)`` each."""

    def __init__(
        self,
        grid: Grid,
        slabs: Slabs,
        up: Ints,
        low: Floats,
        high: Floats,
        begin_s: float,
    ) -> None:
        first = slabs.first[up]
        middle = grid.time_s[first] + slabs.half_s
        site = grid.site_km[first + slabs.length // 2]
        base = vectors.norm(site)
        half_way = float(0.5 * (middle[0] + middle[-1]))
        #: The middle, about which planes turn evenly, as courses count their time.
        self.when = half_way - begin_s
        self.turning_s = 0.5 * float(np.ptp(grid.time_s[first]))
        since = (middle - half_way)[:, np.newaxis]
        self.site, self.aim = (
            _single(np.concatenate([v, v * since], axis=1).T)
            for v in (site, slabs.aim[up])
        )
        self.near_foot, self.near_rise = _ray(base, high)
        self.far_foot, self.far_rise = _ray(base, low)
        self.reach = _single(slabs.reach_rad[up])
        out = np.hypot(site[:, 0], site[:, 1])
        self.drift = _single(out * EARTH_ROTATION_RAD_S * slabs.half_s)

    def near(self, courses: Courses) -> Bools:
        """Which planes may meet the field in which slabs, ``(m, j)``."""
        axis, e, room = courses.axis_km, courses.eccentricity, courses.room
        pole = np.concatenate(courses.poles(self.when), axis=1).astype(np.float32)
        far = axis * (1.0 + e) * (1.0 + room)
        beside = far * (room + 0.5 * (courses.node_rate * self.turning_s) ** 2)
        begin = _range_km(axis * (1.0 - e) * (1.0 - room), self.near_foot)
        begin -= self.near_rise
        end = _range_km(far, self.far_foot)
        end -= self.far_rise
        margin = end * self.reach
        margin += _single(beside)[:, np.newaxis]
        margin += self.drift
        site, aim = pole @ self.site, pole @ self.aim
        begin *= aim
        begin += site
        end *= aim
        end += site
        through = (begin > 0) != (end > 0)
        least = np.minimum(np.abs(begin, out=begin), np.abs(end, out=end), out=begin)
        return np.asarray(through | (least <= margin))


def _single(values: Floats) -> Singles:
    return values.astype(np.float32)


def _ray(base_km: Floats, altitude: Floats) -> tuple[Singles, Singles]:
    """Square of how near rays come to the Earth's centre, and where along them."""
    foot = _single((base_km * np.cos(altitude)) ** 2)
    return foot, _single(base_km * np.sin(altitude))


def _range_km(distance_km: Floats, foot: Singles) -> Singles:
    """From the feet of rays ``(j,)`` to distances ``(m,)`` along them, ``(m, j)``."""
    square: Singles = _single(distance_km**2)[:, np.newaxis] - foot
    np.maximum(square, 0, out=square)
    return np.sqrt(square, out=square)


def _rays(grid: Grid, slabs: Slabs) -> tuple[Floats, Floats]:
    """Lowest and highest ray of the field above the horizon, in each slab, radians.

    Seen against the plane across the line to the Earth's centre.
    """
    site = grid.site_km[slabs.first + slabs.length // 2]
    sine = vectors.dot(vectors.unit(site), slabs.aim)
    altitude = np.arcsin(np.clip(sine, -1.0, 1.0))
    room = slabs.reach_rad + EARTH_ROTATION_RAD_S * slabs.half_s
    low = np.maximum(altitude - room, -_LEAN_RAD)
    return low, np.minimum(altitude + room, pi / 2)


def near_chord(
    begin: NDArray[np.floating],
    end: NDArray[np.floating],
    aim: NDArray[np.floating],
    up: NDArray[np.floating],
    reach: NDArray[np.floating],
    slack_km: NDArray[np.floating],
) -> Bools:
    """Whether an object that goes from ``begin`` to ``end`` may pass the field.

    Places from the site ``(3, ...)``; ``aim`` and ``up`` unit vectors; the object may
    be ``slack_km`` off the chord; directions are within ``reach`` (rad) of the aim,
    and the vertical within as much of ``up`` as the Earth turns.
    """
    before, after = _dot(begin, aim), _dot(end, aim)
    aside = begin - before * aim
    moved = (end - after * aim) - aside
    length2 = _dot(moved, moved)
    share = -_dot(aside, moved) / np.where(length2 > 0.0, length2, 1.0)
    aside += np.clip(share, 0.0, 1.0) * moved
    farthest = np.sqrt(np.maximum(_dot(begin, begin), _dot(end, end))) + slack_km
    wide = reach >= pi / 2
    near = np.sqrt(_dot(aside, aside)) <= (
        farthest * np.sin(np.minimum(reach, pi / 2)) + slack_km
    )
    ahead = np.maximum(before, after) > -slack_km
    turned = farthest * (EARTH_ROTATION_RAD_S * STEP_S * LONG_SLAB)
    high = np.maximum(_dot(begin, up), _dot(end, up)) > -(slack_km + turned)
    return np.asarray((wide | (near & ahead)) & high)


def _dot(a: NDArray[np.floating], b: NDArray[np.floating]) -> NDArray[np.floating]:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def bulge_km(
    begin: NDArray[np.floating], end: NDArray[np.floating], span_s: float
) -> NDArray[np.floating]:
    """How far the path between two places may be from its chord, seen from a site."""
    dip = _PULL * span_s**2 / 8.0
    low = np.sqrt(np.minimum(_dot(begin, begin), _dot(end, end))) - dip
    pull = _UNEVEN * EARTH_MU_KM3_S2 / np.maximum(low, EARTH_RADIUS_KM) ** 2
    return np.asarray((pull + _SITE_PULL) * (span_s**2 / 8.0))


def near_courses(
    courses: Courses, grid: Grid, slabs: Slabs, of: Ints, slab: Ints, begin_s: float
) -> Bools:
    """Whether chords of courses ``of`` through slabs pass the field, ``(k,)``."""
    keep = np.empty(of.size, dtype=np.bool_)
    for low in range(0, of.size, _AT_ONCE):
        part = slice(low, low + _AT_ONCE)
        keep[part] = _near_some(courses, grid, slabs, of[part], slab[part], begin_s)
    return keep


def _near_some(
    courses: Courses, grid: Grid, slabs: Slabs, of: Ints, slab: Ints, begin_s: float
) -> Bools:
    node = slabs.first[slab]
    ends = []
    for index in (node, node + slabs.length):
        place = courses.places_km(of, grid.time_s[index] - begin_s)
        ends.append((place, grid.site_km.T[:, index].astype(np.float32)))
    (begin, site_0), (end, site_1) = ends
    farthest = np.sqrt(np.maximum(_dot(begin, begin), _dot(end, end)))
    slack = bulge_km(begin, end, 2.0 * slabs.half_s) * 1.02
    slack += farthest * courses.room.astype(np.float32)[of]
    return near_chord(
        begin - site_0,
        end - site_1,
        slabs.aim.T.astype(np.float32)[:, slab],
        grid.up.T[:, node].astype(np.float32),
        slabs.reach_rad.astype(np.float32)[slab],
        slack,
    )
