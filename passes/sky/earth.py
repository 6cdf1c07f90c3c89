"""How the Earth stands: sidereal angle, sites, and the frames of satellite work.

TEME is SGP4's frame (true equator, mean equinox, AIAA 2006-6753 appendix C); turned
by minus the sidereal angle of 1982 it becomes Earth-fixed.  Polar motion is left
out (under 0.4″, 10 m), as skyfield leaves it out by default, so that rise and set
agree with ``(satellite - site).at(t).altaz()``.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM
from passes.model import Site
from passes.sky._door import at_hours, ephemeris, require_ephemeris
from passes.sky._nodes import LINEAR, interpolated, tabulated
from passes.vectors import rotate_z

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: By definition (IAU 1991).
_TT_MINUS_TAI_S = 32.184
#: Turn of the mean sidereal angle a second of UT1 (IAU 1982).
_SIDEREAL_RATE_RAD_S = 7.2921158553e-5


def _sidereal_at(hours: Ints) -> Floats:
    """Sidereal angle and leap seconds at whole hours, ``(m, 2)``."""
    from skyfield.sgp4lib import theta_GMST1982

    time = at_hours(hours)
    angle, _ = theta_GMST1982(time.whole, time.ut1_fraction)
    leaps = np.rint(time.dut1 + time.delta_t - _TT_MINUS_TAI_S)
    return np.stack([angle, leaps], axis=1)


_sidereal = tabulated(_sidereal_at, LINEAR)


def _sidereal_lines(first_day: int, last_day: int) -> Floats:
    """Lines for the angle; a leap second falls between two of them."""
    lines = _sidereal(first_day, last_day)
    angle = lines[:, 0, 0]
    turned = lines[:, 1, 0] - lines[:, 1, 1] * _SIDEREAL_RATE_RAD_S
    return np.stack([angle, turned % (2.0 * np.pi)], axis=1)[:, :, np.newaxis]


def gmst_rad(start: datetime, time_s: ArrayLike) -> Floats:
    """Greenwich mean sidereal angle of 1982, ``(n,)`` in 0…2π, from UTC.

    The angle by which skyfield turns TEME to Earth-fixed (IAU 1982, Aoki et al.
    1982), with skyfield's own UT1; within 1e-11 rad of it.
    """
    angle = interpolated(_sidereal_lines, start, time_s)[..., 0]
    return np.where(angle >= 2.0 * np.pi, angle - 2.0 * np.pi, angle)


def site_km(site: Site) -> Floats:
    """Earth-fixed place of a site on the WGS 84 ellipsoid, ``(3,)`` km."""
    latitude, longitude = np.radians([site.latitude_deg, site.longitude_deg])
    square = EARTH_FLATTENING * (2.0 - EARTH_FLATTENING)
    normal = EARTH_RADIUS_KM / np.sqrt(1.0 - square * np.sin(latitude) ** 2)
    height = site.height_m / 1000.0
    out = (normal + height) * np.cos(latitude)
    up = (normal * (1.0 - square) + height) * np.sin(latitude)
    return np.array([out * np.cos(longitude), out * np.sin(longitude), up])


def site_axes(site: Site) -> Floats:
    """Rows east, north, up (geodetic) of a site, Earth-fixed, ``(3, 3)``."""
    latitude, longitude = np.radians([site.latitude_deg, site.longitude_deg])
    c, s = np.cos(longitude), np.sin(longitude)
    p, q = np.cos(latitude), np.sin(latitude)
    return np.array([[-s, c, 0.0], [-q * c, -q * s, p], [p * c, p * s, q]])


def _frames_at(hours: Ints) -> Floats:
    """TEME to ICRS and ICRS to true of date, as skyfield has them, ``(m, 18)``."""
    from skyfield.sgp4lib import TEME

    time = at_hours(hours)
    to_icrs = np.moveaxis(TEME.rotation_at(time), -1, 0).swapaxes(1, 2)
    of_date = np.moveaxis(time.M, -1, 0)
    return np.concatenate([to_icrs.reshape(-1, 9), of_date.reshape(-1, 9)], axis=1)


_frames = tabulated(_frames_at, LINEAR)


def _matrices(columns: slice, start: datetime, time_s: ArrayLike) -> Floats:
    flat = interpolated(
        lambda first, last: _frames(first, last)[:, :, columns], start, time_s
    )
    return flat.reshape(*flat.shape[:-1], 3, 3)


def teme_to_icrs(start: datetime, time_s: ArrayLike) -> Floats:
    """Rotations from TEME to ICRS axes, ``(n, 3, 3)``; within 1e-9 rad of skyfield."""
    return _matrices(slice(0, 9), start, time_s)


def true_of_date_from_icrs(start: datetime, time_s: ArrayLike) -> Floats:
    """Rotations from ICRS to the true equator and equinox of date, ``(n, 3, 3)``.

    Within 1e-9 rad of skyfield's (IAU 2006 precession, IAU 2000A nutation).
    """
    return _matrices(slice(9, 18), start, time_s)


def j2000_from_icrs() -> Floats:
    """The small constant turn from ICRS to the mean frame of J2000, ``(3, 3)``.

    The frame bias of the IAU (IERS Conventions 2010, section 5.4.4), as skyfield has
    it: 23 milliarcseconds, 0.8 m in a low orbit.
    """
    from skyfield.framelib import ICRS_to_J2000

    return np.array(ICRS_to_J2000)


def site_teme_km(site: Site, start: datetime, time_s: ArrayLike) -> Floats:
    """Where a site stands in TEME, ``(n, 3)`` km."""
    return rotate_z(site_km(site), gmst_rad(start, time_s))


def _velocity_at(hours: Ints) -> Floats:
    return np.asarray(ephemeris()["earth"].at(at_hours(hours)).velocity.km_per_s).T


_velocity = tabulated(_velocity_at, LINEAR)


def earth_velocity_km_s(start: datetime, time_s: ArrayLike) -> Floats:
    """Velocity of the Earth about the barycentre, ICRS, ``(n, 3)`` km/s.

    DE421, to 5e-6 km/s (3e-6″ of aberration).  OutsideEphemeris beyond its span.
    """
    return interpolated(_velocity_within, start, time_s)


def _velocity_within(first_day: int, last_day: int) -> Floats:
    require_ephemeris(first_day, last_day)
    return _velocity(first_day, last_day)
