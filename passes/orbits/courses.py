"""Roughly where objects are through a window, without propagating them.

Mean elements at the beginning, the middle and the end of a window, and angles joined
by parabolas between: what a search needs to choose where SGP4 is worth calling.  How
far an object may be from its course is told, or that no course can be relied on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from math import pi
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_RADIUS_KM, SECONDS_PER_DAY
from passes.orbits.propagator import MeanOrbits, Propagator
from passes.orbits.secular import (
    DEEP_PERIOD_MIN,
    J2,
    RADIUS_KM,
    Mean,
    Secular,
    true_motion,
)

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: How far an object may be from its mean elements, as a share of its distance from the
#: Earth's centre.  Seen on 12,700 real and 30,000 invented objects over windows of
#: half a day: 0.0028.
ROOM = 0.0042
#: Objects in deep space on orbits less round than this are swayed by Sun and Moon more
#: than courses can tell.
ROUND = 0.1
#: Orbits that come lower, or are more eccentric, may fail part-way.
LOWEST_KM, MOST_ECCENTRIC = EARTH_RADIUS_KM + 90.0, 0.9
#: By how much a parabola may miss the mean anomaly at the quarters of a window, rad.
MOST_SLIP_RAD = 0.02
#: Inclinations beyond this make SGP4's long-period term grow without bounds.
MOST_INCLINED_RAD = np.radians(160.0)
_KEPLER_STEPS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Courses:
    """Mean orbits of rows ``(m,)``; time is in seconds from the window's beginning.

    An angle is ``angle + rate · t`` (the anomaly ``+ curve · t²``).  ``room`` is how
    far an object may be from its course, a share of its distance; only ``steady`` rows
    have a course to rely on, and only rows that are ``sinking`` fall so fast that
    nobody knows their times to a minute.
    """

    axis_km: Floats
    eccentricity: Floats
    inclination_rad: Floats
    node_rad: Floats
    node_rate: Floats
    argument_rad: Floats
    argument_rate: Floats
    anomaly_rad: Floats
    anomaly_rate: Floats
    anomaly_curve: Floats
    room: Floats
    steady: Bools
    sinking: Bools

    def take(self, which: Any) -> Self:
        """Some of these courses."""
        return type(self)(*(getattr(self, f.name)[which] for f in fields(self)))

    def poles(self, time_s: float) -> tuple[Floats, Floats]:
        """Unit vectors across the orbit planes at a time and their change, ``(m, 3)``.

        The change is a second's.
        """
        node = self.node_rad + self.node_rate * time_s
        sine, flat = np.sin(self.inclination_rad), np.cos(self.inclination_rad)
        s, c = np.sin(node), np.cos(node)
        pole = np.stack([s * sine, -c * sine, flat], axis=1)
        zero = np.zeros_like(s)
        change = np.stack([c * sine, s * sine, zero], axis=1)
        return pole, change * self.node_rate[:, np.newaxis]

    def places_km(self, of: Ints, time_s: Floats) -> Singles:
        """Where courses ``of`` ``(k,)`` are at times, TEME, ``(3, k)`` km.

        Single precision, which is wrong by some metres.
        """
        e, mean, argument, node = self._angles(of, time_s)
        angle = mean + e * np.sin(mean) * (1 + e * np.cos(mean))
        for _ in range(_KEPLER_STEPS if float(e.max(initial=0)) > 0.01 else 1):
            slip = angle - e * np.sin(angle) - mean
            angle -= slip / (1 - e * np.cos(angle))
        axis = self.axis_km.astype(np.float32)[of]
        along = axis * (np.cos(angle) - e)
        across = axis * np.sqrt(1 - e * e) * np.sin(angle)
        c, s = np.cos(argument), np.sin(argument)
        forward, upward = along * c - across * s, along * s + across * c
        tilt = self.inclination_rad.astype(np.float32)[of]
        c, s = np.cos(node), np.sin(node)
        level = upward * np.cos(tilt)
        return np.stack(
            [forward * c - level * s, forward * s + level * c, upward * np.sin(tilt)]
        )

    def _angles(
        self, of: Ints, time_s: Floats
    ) -> tuple[Singles, Singles, Singles, Singles]:
        mean = self.anomaly_rad[of] + time_s * (
            self.anomaly_rate[of] + time_s * self.anomaly_curve[of]
        )
        argument = self.argument_rad[of] + self.argument_rate[of] * time_s
        node = self.node_rad[of] + self.node_rate[of] * time_s
        return (
            self.eccentricity.astype(np.float32)[of],
            np.remainder(mean, 2 * pi).astype(np.float32),
            np.remainder(argument, 2 * pi).astype(np.float32),
            np.remainder(node, 2 * pi).astype(np.float32),
        )


def courses(
    propagator: Propagator, rows: Ints, begin_s: float, end_s: float
) -> Courses:
    """Courses of rows through a window; ephemerides are not looked at.

    ``propagator.catalogue`` must have the element columns.
    """
    motion = true_motion(propagator.catalogue, rows)
    with np.errstate(all="ignore"):  # impossible orbits are not steady
        deep = ~(motion > 2 * pi / DEEP_PERIOD_MIN)
        near = _near(propagator, rows[~deep], begin_s, end_s)
        far = _deep(propagator, rows[deep], begin_s, end_s)
        columns = []
        for f in fields(Courses):
            column = np.empty(rows.size, dtype=getattr(near, f.name).dtype)
            column[~deep], column[deep] = getattr(near, f.name), getattr(far, f.name)
            columns.append(column)
    return Courses(*columns)


def _near(propagator: Propagator, rows: Ints, begin_s: float, end_s: float) -> Courses:
    catalogue: Any = propagator.catalogue
    secular = Secular(catalogue, rows)
    old = propagator.age_s(rows)
    span = end_s - begin_s

    def at(share: float) -> Mean:
        there = secular.at((old + begin_s + share * span) / 60.0)
        return replace(
            there,
            anomaly_rad=there.anomaly_rad - there.moved_rad,
            argument_rad=there.argument_rad + there.moved_rad,
        )

    ends = at(0.0), at(0.5), at(1.0)
    begin, middle, end = ends
    mean_rate, bend, slip = _anomaly(ends, at, span)
    tilt = catalogue.inclination_rad[rows]
    steady = _steady(ends, slip) & np.isfinite(bend) & (tilt < MOST_INCLINED_RAD)
    return Courses(
        middle.axis_km,
        middle.eccentricity,
        tilt,
        begin.node_rad,
        (end.node_rad - begin.node_rad) / span,
        begin.argument_rad,
        (end.argument_rad - begin.argument_rad) / span,
        begin.anomaly_rad,
        mean_rate,
        bend,
        _room(ends, slip, secular.most_swing),
        steady,
        2.0 * bend / mean_rate * SECONDS_PER_DAY > SINKING_SHARE_A_DAY,
    )


def _changed(ends: tuple[Mean, Mean, Mean]) -> tuple[Floats, Floats]:
    """By how much eccentricity and (as a share) axis change from end to end."""
    begin, _, end = ends
    swing = np.abs(end.eccentricity - begin.eccentricity)
    return swing, np.abs(end.axis_km / begin.axis_km - 1.0)


def _room(ends: tuple[Mean, Mean, Mean], slip: Floats, most_swing: Any) -> Floats:
    """How far objects may be from their course, as a share of their distance."""
    swing, shrink = _changed(ends)
    e = ends[1].eccentricity
    moved = np.max([np.abs(there.moved_rad) for there in ends], axis=0)
    # what drag moves the perigee by moves the object by as much, times 2 e
    moved = 2.0 * e * (2.0 * moved + most_swing)
    return np.asarray((ROOM + 2.0 * (slip + swing) + shrink + moved) / (1.0 - e))


def _anomaly(
    ends: tuple[Mean, Mean, Mean], at: Callable[[float], Mean], span: float
) -> tuple[Floats, Floats, Floats]:
    """Rate and curve of the anomaly through three places, and its slip between them."""
    begin, middle, end = ends
    third = end.anomaly_rad - begin.anomaly_rad
    bend = 2.0 * (third - 2.0 * (middle.anomaly_rad - begin.anomaly_rad)) / span**2
    rate = third / span - bend * span
    slip = np.zeros_like(rate)
    for share in (0.25, 0.75):
        t, there = share * span, at(share)
        told = begin.anomaly_rad + (rate + bend * t) * t
        slip = np.maximum(slip, np.abs(there.anomaly_rad - told))
    return rate, bend, slip


def _steady(ends: tuple[Mean, Mean, Mean], slip: Floats) -> Bools:
    """Whether orbits stay high and round enough to be told ahead."""
    begin, middle, end = ends
    swing, shrink = _changed(ends)
    e = middle.eccentricity
    low = np.minimum(begin.axis_km, end.axis_km) * (1.0 - e - swing)
    steady = (low > LOWEST_KM) & (e + swing < MOST_ECCENTRIC) & (slip < MOST_SLIP_RAD)
    for there in ends:
        steady &= ~there.refused
    return np.asarray(steady & (shrink < 0.01))


#: Mean motion that grows by this share a day belongs to an object about to come down.
SINKING_SHARE_A_DAY = 0.002


def _deep(propagator: Propagator, rows: Ints, begin_s: float, end_s: float) -> Courses:
    """Courses in deep space: the package's mean elements, joined by expected rates."""
    begin, end = propagator.mean(rows, begin_s), propagator.mean(rows, end_s)
    span = end_s - begin_s
    motion = 0.5 * (begin.motion_rad_s + end.motion_rad_s)
    e = 0.5 * (begin.eccentricity + end.eccentricity)
    axis = 0.5 * (begin.axis_km + end.axis_km)
    tilt = 0.5 * (begin.inclination_rad + end.inclination_rad)
    oblate = 1.5 * J2 * motion * (RADIUS_KM / (axis * (1.0 - e * e))) ** 2
    c = np.cos(tilt)
    quick = motion + oblate * np.sqrt(1.0 - e * e) * (1.5 * c * c - 0.5)
    turn = oblate * (2.5 * c * c - 0.5)
    steady = (begin.error == 0) & (end.error == 0) & (e < ROUND)
    return Courses(
        axis,
        e,
        tilt,
        begin.node_rad,
        _joined("node_rad", begin, end, -oblate * c, span),
        begin.argument_rad,
        _joined("argument_rad", begin, end, turn, span),
        begin.anomaly_rad,
        _joined("anomaly_rad", begin, end, quick, span),
        np.zeros(rows.size),
        np.full(rows.size, ROOM),
        steady & (axis * (1.0 - e) > LOWEST_KM),
        np.zeros(rows.size, dtype=np.bool_),
    )


def _joined(
    name: str, begin: MeanOrbits, end: MeanOrbits, expected: Floats, span: float
) -> Floats:
    """The rate of an angle, near an expected one, that joins both ends."""
    apart = getattr(end, name) - getattr(begin, name) - expected * span
    return np.asarray(expected + ((apart + pi) % (2 * pi) - pi) / span)
