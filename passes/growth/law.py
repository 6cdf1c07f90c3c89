"""The law by which an error grows with age, and how strongly drag drives it."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import SECONDS_PER_DAY

Floats = NDArray[np.float64]

_MINUTES_PER_DAY = 1440.0
#: SGP4's own constants (WGS 72): radius of the Earth, km; square root of its
#: gravitational parameter in Earth radii and minutes; second zonal harmonic
#: (AIAA 2006-6753).
_RADIUS_KM = 6378.135
_KE = 60.0 / np.sqrt(_RADIUS_KM**3 / 398600.8)
_J2 = 1.082616e-3
#: Heights between which SGP4 takes the density to fall, km (same source).
_TOP_KM, _BOTTOM_KM = 120.0, 78.0


def timing_s(
    age_days: ArrayLike, c0: ArrayLike, c1: ArrayLike, power: ArrayLike
) -> Floats:
    """Time by which an object may be early or late, ``(...)`` s; all broadcast.

    Sigma or bound, as the coefficients are; an age before the epoch counts like one
    after it.
    """
    age = np.abs(np.asarray(age_days, dtype=np.float64))
    grown = np.asarray(c1, dtype=np.float64) * age ** np.asarray(power)
    return np.asarray(np.hypot(np.asarray(c0, dtype=np.float64), grown))


def cross_km(age_days: ArrayLike, c0: ArrayLike, c1: ArrayLike) -> Floats:
    """Distance by which an object may be off its path sideways, ``(...)`` km."""
    return timing_s(age_days, c0, c1, 1.0)


def errors(growth: Any, age_days: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Timing sigma and 95 % bound in seconds, cross-track sigma in km, ``(...)`` each.

    ``growth`` is anything with the fields of a growth record, numbers or arrays; a
    ``bound_power`` of nan means that the bound grows by the same power as sigma.
    """
    power = np.asarray(growth.power, dtype=np.float64)
    bound_power = np.asarray(growth.bound_power, dtype=np.float64)
    bound_power = np.where(np.isnan(bound_power), power, bound_power)
    return (
        timing_s(age_days, growth.sigma0_s, growth.sigma1_s, power),
        timing_s(age_days, growth.bound0_s, growth.bound1_s, bound_power),
        cross_km(age_days, growth.cross0_km, growth.cross1_km),
    )


def drag_s_day2(
    mean_motion_rad_min: ArrayLike,
    eccentricity: ArrayLike,
    inclination_rad: ArrayLike,
    bstar: ArrayLike,
) -> Floats:
    """How far drag carries an object ahead along its path, ``(...)`` s per day².

    After ``age`` days a prediction runs ahead of one without drag by this times
    ``age ** 2``; it is the quadratic term of SGP4's own theory (AIAA 2006-6753, its
    C1), signed as ``bstar`` is.  The air of the coming days differs from that of the
    fitted ones by a share of it, which is why the error scales with it, in years of
    a quiet Sun and of an active one.  Meaningless for orbits that take longer than
    225 minutes, where SGP4 leaves drag out of nearly everything.
    """
    motion = np.asarray(mean_motion_rad_min, dtype=np.float64)
    ecc = np.asarray(eccentricity, dtype=np.float64)
    theta2 = np.cos(np.asarray(inclination_rad, dtype=np.float64)) ** 2
    motion, axis = _brouwer(motion, ecc, theta2)
    bottom, scale = _shell(axis, ecc)
    xi = 1.0 / (axis - bottom)
    eta = axis * ecc * xi
    eta2, mixed, psi2 = eta**2, ecc * eta, np.abs(1.0 - eta**2)
    round_part = axis * (1.0 + 1.5 * eta2 + mixed * (4.0 + eta2))
    flat_part = 8.0 + 3.0 * eta2 * (8.0 + eta2)
    flat_part = 0.375 * _J2 * xi / psi2 * (3.0 * theta2 - 1.0) * flat_part
    c2 = scale * xi**4 / psi2**3.5 * motion * (round_part + flat_part)
    c1 = np.asarray(bstar, dtype=np.float64) * c2
    return np.asarray(1.5 * c1 * _MINUTES_PER_DAY * SECONDS_PER_DAY)


def _brouwer(motion: Floats, ecc: Floats, theta2: Floats) -> tuple[Floats, Floats]:
    """Mean motion and axis (Earth radii) of Brouwer's theory from Kozai's motion."""
    first = (_KE / motion) ** (2.0 / 3.0)
    flat = 0.75 * _J2 * (3.0 * theta2 - 1.0) / (1.0 - ecc**2) ** 1.5
    delta = flat / first**2
    axis = first * (1.0 - delta * (1.0 / 3.0 + delta * (1.0 + 134.0 / 81.0 * delta)))
    motion = motion / (1.0 + flat / axis**2)
    return motion, (_KE / motion) ** (2.0 / 3.0)


def _shell(axis: Floats, ecc: Floats) -> tuple[Floats, Floats]:
    """SGP4's bottom of the air (Earth radii) and its fourth-power scale, by perigee."""
    perigee_km = (axis * (1.0 - ecc) - 1.0) * _RADIUS_KM
    bottom_km = np.clip(perigee_km - _BOTTOM_KM, 20.0, _BOTTOM_KM)
    bottom = bottom_km / _RADIUS_KM + 1.0
    return bottom, ((_TOP_KM - bottom_km) / _RADIUS_KM) ** 4
