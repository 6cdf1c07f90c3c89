"""How fast directions move: speeds and accelerations of angles, turning of the field.

Vectors are ``(..., 3)`` in km, km/s and km/s²; angles in radians.  Speeds are those of
the angle itself, without any wrapping, so that no 360° jump ever shows in them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import vectors

Floats = NDArray[np.float64]

#: Offsets, in steps, at which :func:`differentiate` wants positions.
STENCIL = (-2, -1, 0, 1, 2)
_FIRST = np.array([1.0, -8.0, 0.0, 8.0, -1.0]) / 12.0
_SECOND = np.array([-1.0, 16.0, -30.0, 16.0, -1.0]) / 12.0


class Sweep(NamedTuple):
    """A spherical direction and how it moves, ``(...)`` each: rad, rad/s, rad/s²."""

    longitude: Floats
    latitude: Floats
    longitude_rate: Floats
    latitude_rate: Floats
    longitude_acceleration: Floats
    latitude_acceleration: Floats


def differentiate(positions_km: Floats, step_s: float) -> tuple[Floats, Floats]:
    """Velocity and acceleration ``(..., 3)`` in the middle of five positions.

    ``positions_km`` is ``(..., 5, 3)``, ``step_s`` apart (:data:`STENCIL`).  Central
    differences of fourth order: for motion of angular frequency w and radius r the
    error is r w⁵ h⁴ / 30 and r w⁶ h⁴ / 90.  Source: Abramowitz & Stegun, table 25.2
    (from memory).
    """
    velocity = np.einsum("s,...sc->...c", _FIRST, positions_km) / step_s
    acceleration = np.einsum("s,...sc->...c", _SECOND, positions_km) / step_s**2
    return velocity, acceleration


def seen_turning(
    position_km: Floats,
    velocity_km_s: Floats,
    acceleration_km_s2: Floats,
    angle_rad: ArrayLike,
    rate_rad_s: float,
) -> tuple[Floats, Floats, Floats]:
    """The same motion in axes that turn steadily about z, ``(..., 3)`` each.

    ``angle_rad`` ``(...)`` is how far the axes have turned, ``rate_rad_s`` how fast.
    The Coriolis and centrifugal parts are included.
    """
    angle = -np.asarray(angle_rad, dtype=float)
    position = vectors.rotate_z(position_km, angle)
    velocity = vectors.rotate_z(velocity_km_s, angle) - _spin(position, rate_rad_s)
    acceleration = (
        vectors.rotate_z(acceleration_km_s2, angle)
        - 2.0 * _spin(velocity, rate_rad_s)
        - _spin(_spin(position, rate_rad_s), rate_rad_s)
    )
    return position, velocity, acceleration


def _spin(vector: Floats, rate_rad_s: float) -> Floats:
    """Cross product of a rotation about z with a vector, ``(..., 3)``."""
    x, y, z = np.moveaxis(vector, -1, 0)
    return rate_rad_s * np.stack([-y, x, np.zeros_like(z)], axis=-1)


def sweep(
    position_km: Floats, velocity_km_s: Floats, acceleration_km_s2: Floats
) -> Sweep:
    """Longitude and latitude of a moving vector, with speeds and accelerations.

    Longitude is in -π to π, from the first axis towards the second, whichever way that
    turns.  The longitude's speed grows as the reciprocal of the distance from the pole
    and is right at any distance; on the pole itself longitude is undefined and the
    speeds and accelerations are nan.
    """
    x, y, z = np.moveaxis(position_km, -1, 0)
    across, radius = np.hypot(x, y), vectors.norm(position_km)
    dx, dy, dz = np.moveaxis(velocity_km_s, -1, 0)
    ddx, ddy, ddz = np.moveaxis(acceleration_km_s2, -1, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        cosine, sine = x / across, y / across
        outward, sideways = cosine * dx + sine * dy, cosine * dy - sine * dx
        lon_rate = sideways / across
        lon_acceleration = (cosine * ddy - sine * ddx - 2 * lon_rate * outward) / across
        lat_rate = (across * dz - z * outward) / radius**2
        receding = vectors.dot(position_km, velocity_km_s) / radius
        pull = (across * ddz - z * (cosine * ddx + sine * ddy)) / radius
        lat_acceleration = (pull - 2 * receding * lat_rate) / radius
        lat_acceleration = lat_acceleration - lon_rate**2 * across * z / radius**2
    return Sweep(
        np.arctan2(y, x),
        np.arctan2(z, across),
        lon_rate,
        lat_rate,
        lon_acceleration,
        lat_acceleration,
    )


def angular_speed(position_km: Floats, velocity_km_s: Floats) -> Floats:
    """Speed of the direction of a moving vector, rad/s, ``(...)``."""
    moment = vectors.norm(vectors.cross(position_km, velocity_km_s))
    return np.asarray(moment / vectors.dot(position_km, position_km))


def position_angle_rad(
    lon_rate: ArrayLike, lat_rad: ArrayLike, lat_rate: ArrayLike
) -> Floats:
    """Direction of motion on the sphere, 0 to 2π, ``(...)``.

    From the north pole of the coordinates through growing longitude: with right
    ascension and declination the position angle, north through east.
    """
    east = np.asarray(lon_rate) * np.cos(lat_rad)
    level = np.stack(np.broadcast_arrays(lat_rate, east, 0.0), axis=-1)
    return vectors.spherical(level)[0]


def parallactic_angle_rad(
    hour_angle_rad: ArrayLike, dec_rad: ArrayLike, latitude_rad: ArrayLike
) -> Floats:
    """Position angle of the zenith seen at a target, -π to π, ``(...)``.

    Positive west of the meridian.  Source: Meeus, Astronomical Algorithms, eq. 14.1.
    """
    hour, dec, lat = map(np.asarray, (hour_angle_rad, dec_rad, latitude_rad))
    run = np.sin(lat) * np.cos(dec) - np.cos(lat) * np.sin(dec) * np.cos(hour)
    return np.asarray(np.arctan2(np.cos(lat) * np.sin(hour), run))


def field_rotation_rate(
    azimuth_rate: ArrayLike,
    altitude_rad: ArrayLike,
    hour_angle_rate: ArrayLike,
    dec_rad: ArrayLike,
) -> Floats:
    """Speed of the parallactic angle along a moving target, ``(...)``.

    How fast the sky's north turns in a camera on an alt-azimuth mount that follows the
    target.  Each axis turns the field about the line of sight by its own speed times
    the sine of the target's height above that axis's equator; for a star this is the
    usual -ω cos(latitude) cos(azimuth) / cos(altitude).
    """
    by_azimuth = np.asarray(azimuth_rate) * np.sin(altitude_rad)
    by_hour_angle = np.asarray(hour_angle_rate) * np.sin(dec_rad)
    return np.asarray(by_azimuth - by_hour_angle)
