"""From SGP4's mean elements at both ends of a window to orbits for the screen."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_RADIUS_KM, SECONDS_PER_DAY
from passes.finder.clock import Clocks
from passes.finder.screen import Orbits
from passes.orbits import MeanOrbits, Propagator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Second zonal harmonic of the Earth's gravity (WGS 72, as SGP4 has it).
_J2 = 0.001082616
#: Periods from here on belong to deep space (SGP4's own border).
DEEP_PERIOD_S = 225.0 * 60.0
#: Ticks a revolution; and the longest time between two ticks in deep space.
NEAR_TICKS, DEEP_TICKS, LONGEST_S = 48, 72, 1200.0
#: Orbits that come lower than this are followed step by step: SGP4 may call them
#: decayed near any perigee.
LOWEST_KM = EARTH_RADIUS_KM + 90.0
MOST_ECCENTRIC = 0.98
#: How far an object may be from its mean elements, beside what drag does to them.
#: Seen on real and on invented objects over 14 days: 0.0027 near the Earth, 0.0020 in
#: deep space on orbits rounder than ROUND (on others, up to 0.7).
ROOM_RAD, ROUND = 0.0045, 0.1
#: Where drag moves an object by so much, or the window is so long, the clock is tried
#: at the quarters too; what it misses there is room as well; where it misses more,
#: nothing is screened.
TRIED_RAD, LONG_S, MOST_SLIP_RAD = 2e-3, 3 * 86_400.0, 0.5
#: Mean motion that grows by this share a day belongs to an object about to come down:
#: within a day drag moves it a minute and a half, and nobody knows drag to a tenth.
DECAY_SHARE_A_DAY = 0.002
#: From here on it may come down within the window, and SGP4 take it up again after.
FALLING_SHARE_A_DAY = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What the mean elements say of some rows, ``(m,)`` each.

    ``steady`` rows can be screened; the others must be followed step by step.
    """

    orbits: Orbits
    steady: Bools
    decaying: Bools


def outlook(propagator: Propagator, rows: Ints, span_s: float) -> Outlook:
    """Mean orbits of rows through a window, and which of them can be relied on."""
    begin, end = propagator.mean(rows, 0.0), propagator.mean(rows, span_s)
    with np.errstate(all="ignore"):  # rows in error hold anything; they are not used
        orbits, growth_a_day = _orbits(begin, end, span_s)
        low = orbits.axis_km * (1.0 - orbits.eccentricity) < LOWEST_KM
        sound = (begin.error == 0) & (end.error == 0) & np.isfinite(orbits.axis_km)
        drag = np.abs(orbits.clocks.curve_rad_s2) * span_s**2
    steady = sound & ~low & (orbits.eccentricity < MOST_ECCENTRIC)
    steady &= np.abs(growth_a_day) < FALLING_SHARE_A_DAY
    tried = np.flatnonzero(steady & ((drag > TRIED_RAD) | (span_s > LONG_S)))
    slip = _slip(propagator, rows[tried], orbits.clocks.take(tried), span_s)
    # a slipped clock puts the close ticks of an eccentric orbit beside its perigee
    steady[tried] &= slip * (1.0 + 50.0 * orbits.eccentricity[tried]) < MOST_SLIP_RAD
    orbits.room_rad[tried] += 1.5 * slip
    sinking = sound & (growth_a_day > DECAY_SHARE_A_DAY)
    # near the Earth, what SGP4 can place at the start and not at the end comes down
    near = begin.motion_rad_s > 2 * pi / DEEP_PERIOD_S
    sinking |= near & (begin.error == 0) & (end.error != 0)
    return Outlook(orbits, steady, sinking)


def _orbits(begin: MeanOrbits, end: MeanOrbits, span_s: float) -> tuple[Orbits, Floats]:
    """Orbits that have the mean elements of both ends, and how fast they sink.

    The rates that J2 causes tell how often each angle has gone round in between.
    """
    motion = 0.5 * (begin.motion_rad_s + end.motion_rad_s)
    e = 0.5 * (begin.eccentricity + end.eccentricity)
    axis = 0.5 * (begin.axis_km + end.axis_km)
    inclination = 0.5 * (begin.inclination_rad + end.inclination_rad)
    cosine = np.cos(inclination)
    oblate = 1.5 * _J2 * motion * (EARTH_RADIUS_KM / (axis * (1.0 - e * e))) ** 2
    quick = oblate * np.sqrt(1.0 - e * e) * (1.5 * cosine**2 - 0.5)
    mean = _rate(begin.anomaly_rad, end.anomaly_rad, motion + quick, span_s)
    curve = 0.5 * (end.motion_rad_s - begin.motion_rad_s) / span_s
    deep = motion < 2 * pi / DEEP_PERIOD_S
    orbits = Orbits(
        axis_km=axis,
        eccentricity=e,
        inclination_rad=inclination,
        node_rad=begin.node_rad,
        node_rate_rad_s=_rate(begin.node_rad, end.node_rad, -oblate * cosine, span_s),
        argument_rad=begin.argument_rad,
        argument_rate_rad_s=_rate(
            begin.argument_rad,
            end.argument_rad,
            oblate * (2.5 * cosine**2 - 0.5),
            span_s,
        ),
        room_rad=np.where(deep & (e > ROUND), np.inf, ROOM_RAD),
        clocks=Clocks(
            begin.anomaly_rad % (2 * pi),
            mean - curve * span_s,
            curve,
            e,
            _step(motion, e),
        ),
    )
    return orbits, 2.0 * curve / motion * SECONDS_PER_DAY


def _rate(begin: Floats, end: Floats, expected: Floats, span_s: float) -> Floats:
    """The rate of an angle, near an expected one, that joins both ends."""
    slip = (end - begin - expected * span_s + pi) % (2 * pi) - pi
    return expected + slip / span_s


def _step(motion: Floats, e: Floats) -> Floats:
    """Eccentric anomaly between two ticks."""
    period = 2 * pi / motion
    most = np.ceil((1.0 + e) * period / LONGEST_S)
    deep = np.maximum(most, DEEP_TICKS)
    return 2 * pi / np.where(period < DEEP_PERIOD_S, NEAR_TICKS, deep)


def _slip(propagator: Propagator, rows: Ints, clocks: Clocks, span_s: float) -> Floats:
    """By how much clocks are wrong at the quarters of the window, ``(m,)``."""
    worst = np.zeros(rows.size)
    for share in (0.25, 0.5, 0.75):
        there = propagator.mean(rows, share * span_s)
        slip = there.anomaly_rad - clocks.mean_rad(share * span_s)
        slip = np.abs((slip + pi) % (2 * pi) - pi)
        worst = np.maximum(worst, np.where(there.error == 0, slip, np.inf))
    return worst
