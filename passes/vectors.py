"""Small arithmetic on vectors; arrays hold components last, ``(..., 3)``.

Leading axes broadcast, so that one call serves one vector or a million.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def dot(a: ArrayLike, b: ArrayLike) -> Floats:
    """Scalar product of ``(..., 3)`` and ``(..., 3)``, ``(...)``."""
    u, v = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    product = u[..., 0] * v[..., 0]
    product = product + u[..., 1] * v[..., 1]
    return np.asarray(product + u[..., 2] * v[..., 2])


def norm(v: ArrayLike) -> Floats:
    """Length of ``(..., 3)``, ``(...)``, in the unit of ``v``."""
    return np.sqrt(dot(v, v))


def unit(v: ArrayLike) -> Floats:
    """Direction of ``(..., 3)``, of length one; nan where the length is zero."""
    vector = np.asarray(v, dtype=np.float64)
    length = norm(vector)[..., np.newaxis]
    return vector / np.where(length > 0.0, length, np.nan)


def cross(a: ArrayLike, b: ArrayLike) -> Floats:
    """Vector product of ``(..., 3)`` and ``(..., 3)``, ``(..., 3)``."""
    u, v = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    x, y, z = u[..., 0], u[..., 1], u[..., 2]
    p, q, r = v[..., 0], v[..., 1], v[..., 2]
    return np.stack([y * r - z * q, z * p - x * r, x * q - y * p], axis=-1)


def separation_rad(u: ArrayLike, v: ArrayLike) -> Floats:
    """Angle between ``(..., 3)`` and ``(..., 3)`` in radians, ``(...)``.

    Well conditioned near 0 and π; the lengths do not matter, unless one is zero
    (the angle is then 0).
    """
    return np.asarray(np.arctan2(norm(cross(u, v)), dot(u, v)))


def rotate_z(v: ArrayLike, angle_rad: ArrayLike) -> Floats:
    """Vectors ``(..., 3)`` turned about the z axis, from x towards y.

    An Earth-fixed place turned by the Greenwich sidereal angle stands in the
    equatorial frame; turned by minus that angle, the other way round.
    """
    vector = np.asarray(v, dtype=np.float64)
    angle = np.asarray(angle_rad, dtype=np.float64)
    c, s = np.cos(angle), np.sin(angle)
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    turned = np.empty((*np.broadcast_shapes(x.shape, c.shape), 3))
    turned[..., 0] = c * x - s * y
    turned[..., 1] = s * x + c * y
    turned[..., 2] = z
    return turned


def apply(matrix: ArrayLike, v: ArrayLike) -> Floats:
    """Matrices ``(..., 3, 3)`` applied to vectors ``(..., 3)``, ``(..., 3)``."""
    product = np.einsum(
        "...ij,...j->...i",
        np.asarray(matrix, dtype=np.float64),
        np.asarray(v, dtype=np.float64),
    )
    return np.asarray(product)


def spherical(v: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Longitude 0 to 2π, latitude −π/2 to π/2 (radians) and length of ``(..., 3)``.

    Three arrays ``(...)``.  The longitude of the poles is 0.
    """
    vector = np.asarray(v, dtype=np.float64)
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    longitude = np.arctan2(y, x)
    longitude = np.where(longitude < 0.0, longitude + 2 * np.pi, longitude)
    # A longitude of minus one part in 10¹⁷ would round up to the full circle.
    longitude = np.where(longitude >= 2 * np.pi, 0.0, longitude)
    return longitude, np.asarray(np.arctan2(z, np.hypot(x, y))), norm(vector)


def direction(lon_rad: ArrayLike, lat_rad: ArrayLike) -> Floats:
    """Unit vectors ``(..., 3)`` at longitudes and latitudes ``(...)`` in radians."""
    lon, lat = np.broadcast_arrays(
        np.asarray(lon_rad, dtype=np.float64), np.asarray(lat_rad, dtype=np.float64)
    )
    equatorial = np.cos(lat)
    return np.stack(
        [equatorial * np.cos(lon), equatorial * np.sin(lon), np.sin(lat)], axis=-1
    )
