"""Which stretches of which orbits can be above the limit at all.

Two tests on SGP4's own mean elements, each with room for everything that they leave
out, so that nothing is missed: whether the orbit's plane comes near the site, which
gives spans of time in closed form, and within those whether the object itself does.
Only what passes both is worth SGP4.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import cos, pi, sin
from typing import Self

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_ROTATION_RAD_S
from passes.finder.clock import Clocks
from passes.finder.frame import Frame

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Reals = NDArray[np.floating]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: The vertical misses the Earth's centre by up to 21.4 km: room for that.
VERTICAL_RAD = 0.0034
#: Share by which an object may be farther out than its mean elements say.
FARTHER = 1.005
#: Intervals between ticks that the first, coarser test takes together.
SLAB = 4
#: Stretches closer than this many intervals are joined: they share nodes anyway.
JOIN = 6
#: Rounding of cosines in single precision.
_ROUND = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Orbits:
    """Orbits as the screen needs them, ``(m,)`` each; rates are through the window.

    ``room_rad`` is how far an object may be from where these elements put it;
    infinite where no screening is safe.
    """

    axis_km: Floats
    eccentricity: Floats
    inclination_rad: Floats
    node_rad: Floats
    node_rate_rad_s: Floats
    argument_rad: Floats
    argument_rate_rad_s: Floats
    room_rad: Floats
    clocks: Clocks

    def take(self, which: Ints) -> Self:
        """Some of these orbits."""
        arrays = {f.name: getattr(self, f.name) for f in fields(self)}
        arrays.pop("clocks")
        some = {name: array[which] for name, array in arrays.items()}
        return replace(self, **some, clocks=self.clocks.take(which))


@dataclass(frozen=True, slots=True, eq=False)
class Zones:
    """Stretches of intervals to look at, ``(z,)`` each, in order of object and time.

    Interval ``k`` lies between ticks ``k`` and ``k + 1``; ``last`` is included.
    """

    of: Ints
    first: Ints
    last: Ints


def zones(orbits: Orbits, frame: Frame) -> Zones:
    """Every stretch of every orbit in which the object may be above the limit."""
    view = _View(orbits, frame)
    of, slab = view.slabs_near_plane()
    near = view.near(of, slab)
    of, interval = _intervals(of[near], slab[near])
    inside = (interval >= view.first[of]) & (interval <= view.last[of])
    of, interval = of[inside], interval[inside]
    seen = view.near_closely(of, interval)
    return _joined(of[seen], interval[seen], view.last)


class _View:
    """Orbits against one site, with what every test needs worked out once.

    Single precision: it is wrong by 1e-7 of the angle turned since the window's
    start, for which ``room`` has room, and its sines cost a tenth.
    """

    def __init__(self, orbits: Orbits, frame: Frame) -> None:
        clocks, e = orbits.clocks, orbits.eccentricity
        self.orbits, self.frame = orbits, frame
        self.flat, self.rise = cos(frame.latitude_rad), sin(frame.latitude_rad)
        #: First and last interval that touch the window.
        self.first = np.floor(clocks.ticks(0.0)).astype(np.int64)
        self.last = np.floor(clocks.ticks(frame.span_s)).astype(np.int64)
        turned = 2e-7 * np.maximum(self.last * clocks.step_rad, 10.0)
        self.room = VERTICAL_RAD + orbits.room_rad + turned
        apogee_km = orbits.axis_km * (1.0 + e) * FARTHER
        self.apogee_cone = self._cone_rad(apogee_km) + self.room
        #: The site's meridian from the ascending node at the start, and its rate.
        turn = frame.turn_at_start()
        self.turn = (turn - orbits.node_rad) % (2 * pi)
        self.turn_rate = EARTH_ROTATION_RAD_S - orbits.node_rate_rad_s
        #: How fast the vertical turns, with room for the turning of the node.
        self.site_rate = 1.05 * EARTH_ROTATION_RAD_S * self.flat
        self._hold_singles()

    def _hold_singles(self) -> None:
        """The columns of the inner tests, in single precision."""
        orbits, clocks, e = self.orbits, self.orbits.clocks, self.orbits.eccentricity

        def single(values: Floats) -> Singles:
            return values.astype(np.float32)

        self.e, self.narrow = single(e), single(np.sqrt(1.0 - e * e))
        self.step = single(clocks.step_rad)
        self.start, self.rate = single(clocks.anomaly_rad), single(clocks.rate_rad_s)
        self.bend = single(clocks.curve_rad_s2 / clocks.rate_rad_s**2)
        self.turn_0 = single(self.turn)
        self.turn_1 = single(self.turn_rate / clocks.rate_rad_s)
        self.perigee_0 = single(orbits.argument_rad)
        self.perigee_1 = single(orbits.argument_rate_rad_s / clocks.rate_rad_s)
        self.tilt = single(np.cos(orbits.inclination_rad) * self.flat)
        self.lift = single(np.sin(orbits.inclination_rad) * self.rise)

    def _cone_rad(self, distance_km: Reals) -> Reals:
        """How far from the vertical an object can be and yet reach the limit.

        The angle at the Earth's centre, for distances from there.
        """
        limit = self.frame.limit_rad
        reach = np.minimum(self.frame.base_km * cos(limit) / distance_km, 1.0)
        cone: Reals = np.arccos(reach) - limit
        return cone

    # --- the orbit's plane -----------------------------------------------------

    def slabs_near_plane(self) -> tuple[Ints, Ints]:
        """Object and slab of every slab in which the plane passes near the site."""
        low_s, high_s, valid = self._spans_near_plane()
        clocks, e = self.orbits.clocks, self.orbits.eccentricity
        step = (clocks.step_rad * SLAB)[:, np.newaxis]
        first = (clocks.mean_rad(low_s.T).T - e[:, np.newaxis]) // step
        last = (clocks.mean_rad(high_s.T).T + e[:, np.newaxis]) // step
        first = np.maximum(first, (self.first // SLAB)[:, np.newaxis])
        last = np.minimum(last, (self.last // SLAB)[:, np.newaxis])
        before = np.maximum.accumulate(np.where(valid, last, -np.inf), axis=1)
        first[:, 1:] = np.maximum(first[:, 1:], before[:, :-1] + 1)
        counts = np.where(valid, np.maximum(last - first + 1, 0), 0)
        return _runs(first.astype(np.int64), counts.astype(np.int64))

    def _spans_near_plane(self) -> tuple[Floats, Floats, Bools]:
        """Spans of time, in order, in which the plane is near: ``(m, spans)`` each.

        The vertical's distance from the plane is a sine of the Earth's turn, so the
        turns at which it stays within the cone are known in closed form: two arcs a
        turn, one around each half of the plane.
        """
        incline = self.orbits.inclination_rad
        reach = np.sin(np.clip(self.apogee_cone, 0.0, pi / 2))
        scale = np.maximum(np.sin(incline) * self.flat, 1e-12)
        lean = np.cos(incline) * self.rise
        low, high = (lean - reach) / scale, (lean + reach) / scale
        valid = (low <= 1.0) & (high >= -1.0) & (self.apogee_cone > 0.0)
        low, high = np.arcsin(np.clip([low, high], -1.0, 1.0))
        begin = self._when(low, pi - high)
        end = self._when(high, pi - low)
        span_s = self.frame.span_s
        valid = valid[:, np.newaxis] & (begin <= span_s) & (end >= 0.0)
        return np.clip(begin, 0.0, span_s), np.clip(end, 0.0, span_s), valid

    def _when(self, ascending: Floats, descending: Floats) -> Floats:
        """When the Earth has turned by angles, and by them again each turn."""
        turned = self.turn_rate.max(initial=0.0) * self.frame.span_s
        turns = 2 * pi * np.arange(-1, int(turned / (2 * pi)) + 2)
        angle = np.stack([ascending, descending], axis=1)[:, np.newaxis, :]
        angle = (angle + turns[:, np.newaxis]).reshape(ascending.size, 2 * turns.size)
        return (angle - self.turn[:, np.newaxis]) / self.turn_rate[:, np.newaxis]

    # --- the object itself -----------------------------------------------------

    def near(self, of: Ints, slab: Ints) -> Bools:
        """Whether an object may be above the limit somewhere in each slab, ``(c,)``."""
        clocks, e = self.orbits.clocks, self.orbits.eccentricity
        half = clocks.step_rad * (SLAB / 2)
        swing = half * np.sqrt((1.0 + e) / (1.0 - e))
        drift = self.site_rate * half * (1.0 + e) / clocks.rate_rad_s
        widest = np.minimum(np.maximum(self.apogee_cone + swing + drift, 0.0), pi)
        cosine, _ = self._from_vertical(of, (slab + 0.5) * SLAB)
        return np.asarray(cosine >= (np.cos(widest) - _ROUND).astype(np.float32)[of])

    def near_closely(self, of: Ints, interval: Ints) -> Bools:
        """The same for single intervals, with the distance there."""
        cosine, reach = self._from_vertical(of, interval + 0.5)
        half = self.step[of] * np.float32(0.5)
        e = self.e[of]
        nearest, farthest = np.maximum(reach - e * half, 1 - e), reach + e * half
        axis = (self.orbits.axis_km * FARTHER).astype(np.float32)
        cone = self._cone_rad(axis[of] * farthest)
        swing = half * self.narrow[of] / nearest
        site = (self.site_rate / self.orbits.clocks.rate_rad_s).astype(np.float32)
        widest = cone + swing + site[of] * half * farthest
        widest += self.room.astype(np.float32)[of]
        widest = np.clip(widest, 0, np.float32(pi))
        return np.asarray(cosine >= np.cos(widest) - np.float32(_ROUND))

    def _from_vertical(self, of: Ints, ticks: Reals) -> tuple[Singles, Singles]:
        """Cosine of the angle between object and vertical, and distance ÷ axis."""
        e = self.e[of]
        angle = ticks.astype(np.float32) * self.step[of]
        c, s = np.cos(angle), np.sin(angle)
        gone = angle - e * s - self.start[of]
        gone -= self.bend[of] * gone * gone  # time × rate
        turn = self.turn_0[of] + self.turn_1[of] * gone
        perigee = self.perigee_0[of] + self.perigee_1[of] * gone
        along = np.float32(self.flat) * np.cos(turn)
        across = np.sin(turn) * self.tilt[of] + self.lift[of]
        cp, sp = np.cos(perigee), np.sin(perigee)
        reach = 1 - e * c
        height = (c - e) * (along * cp + across * sp)
        height += self.narrow[of] * s * (across * cp - along * sp)
        return height / reach, reach


def _runs(first: Ints, counts: Ints) -> tuple[Ints, Ints]:
    """Runs ``first … first + count - 1`` of ``(m, r)``, laid end to end."""
    objects = np.repeat(np.arange(first.shape[0]), counts.sum(axis=1))
    flat_counts, flat_first = counts.reshape(-1), first.reshape(-1)
    begin = np.cumsum(flat_counts) - flat_counts
    value = np.arange(objects.size) + np.repeat(flat_first - begin, flat_counts)
    return objects, value


def _intervals(of: Ints, slab: Ints) -> tuple[Ints, Ints]:
    """The single intervals of slabs, in order."""
    interval = slab[:, np.newaxis] * SLAB + np.arange(SLAB)
    return np.repeat(of, SLAB), interval.reshape(-1)


def _joined(of: Ints, interval: Ints, last: Ints) -> Zones:
    """Single intervals, in order, joined into zones.

    A zone that reaches the last interval of the window gets one more, so that its
    samples reach beyond the window's end.
    """
    gap = (np.diff(of) != 0) | (np.diff(interval) > JOIN)
    edge = np.ones(min(of.size, 1), dtype=np.bool_)
    opens = np.concatenate([edge, gap])
    closes = np.concatenate([gap, edge])
    zone_of, end = of[opens], interval[closes]
    return Zones(zone_of, interval[opens], end + (end == last[zone_of]))


def whole(orbits: Orbits, frame: Frame) -> Zones:
    """The whole window as one zone an object."""
    first = np.floor(orbits.clocks.ticks(0.0)).astype(np.int64)
    last = np.floor(orbits.clocks.ticks(frame.span_s)).astype(np.int64) + 1
    return Zones(np.arange(first.size), first, last)
