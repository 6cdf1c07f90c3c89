"""Where on the ground an object stands in front of a body, and for how long.

Places are Earth-fixed, km; a strip is what a narrow beam from the disc of the Sun or
the Moon past the object sweeps over the ellipsoid (WGS 84).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM
from passes.vectors import cross, dot, norm, unit

Floats = NDArray[np.float64]

_SQUARE = EARTH_FLATTENING * (2.0 - EARTH_FLATTENING)
#: Steps that settle a latitude, and a point of the ground, far below a millimetre.
_LATITUDE_STEPS, _GROUND_STEPS = 4, 2
#: Looks along a chord when its lit part is measured.
_LOOKS = 2001


def geodetic(place_km: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Latitude and longitude (rad) and height (km) over WGS 84 of ``(..., 3)``.

    By iterating the normal's foot: good to 1e-9 km up to some hundred kilometres, to a
    metre in the geostationary ring, at the poles too.
    """
    place = np.asarray(place_km, dtype=np.float64)
    out, up = np.hypot(place[..., 0], place[..., 1]), place[..., 2]
    latitude = np.arctan2(up, out * (1.0 - _SQUARE))
    for _ in range(_LATITUDE_STEPS):
        sine = np.sin(latitude)
        normal = EARTH_RADIUS_KM / np.sqrt(1.0 - _SQUARE * sine**2)
        latitude = np.arctan2(up + _SQUARE * normal * sine, out)
    sine, flat = np.sin(latitude), np.cos(latitude)
    foot = EARTH_RADIUS_KM * np.sqrt(1.0 - _SQUARE * sine**2)
    height = out * flat + up * sine - foot
    return latitude, np.arctan2(place[..., 1], place[..., 0]), height


def from_geodetic(
    latitude_rad: ArrayLike, longitude_rad: ArrayLike, height_km: ArrayLike
) -> Floats:
    """Earth-fixed places ``(..., 3)`` km of latitudes, longitudes and heights."""
    latitude, longitude, height = np.broadcast_arrays(
        np.asarray(latitude_rad, dtype=np.float64), longitude_rad, height_km
    )
    normal = EARTH_RADIUS_KM / np.sqrt(1.0 - _SQUARE * np.sin(latitude) ** 2)
    out = (normal + height) * np.cos(latitude)
    up = (normal * (1.0 - _SQUARE) + height) * np.sin(latitude)
    return np.stack([out * np.cos(longitude), out * np.sin(longitude), up], axis=-1)


def up_at(place_km: ArrayLike) -> Floats:
    """The vertical of the ellipsoid under places ``(..., 3)``; unit vectors."""
    latitude, longitude, _ = geodetic(place_km)
    return _vertical(latitude, longitude)


def _vertical(latitude: Floats, longitude: Floats) -> Floats:
    flat = np.cos(latitude)
    return np.stack(
        [flat * np.cos(longitude), flat * np.sin(longitude), np.sin(latitude)], axis=-1
    )


def ground_km(
    object_km: ArrayLike, body_km: ArrayLike, height_km: ArrayLike = 0.0
) -> Floats:
    """Where lines from a body through an object first meet the ground, ``(..., 3)``.

    The ground lies ``height_km`` above the ellipsoid.  nan where the line passes the
    Earth by, or the object is on the far side or below the ground.
    """
    start = np.asarray(object_km, dtype=np.float64)
    ray = unit(start - np.asarray(body_km, dtype=np.float64))
    height = np.asarray(height_km, dtype=np.float64)
    along = _first_hit(start, ray, height)
    with np.errstate(invalid="ignore"):
        for _ in range(_GROUND_STEPS):
            place = start + along[..., np.newaxis] * ray
            latitude, longitude, above = geodetic(place)
            along = along - (above - height) / dot(ray, _vertical(latitude, longitude))
    return np.asarray(start + along[..., np.newaxis] * ray)


def _first_hit(start: Floats, ray: Floats, height: Floats) -> Floats:
    """Distance along rays to an ellipsoid whose axes are longer by the height."""
    wide = EARTH_RADIUS_KM + height
    tall = EARTH_RADIUS_KM * (1.0 - EARTH_FLATTENING) + height
    scale = np.stack(np.broadcast_arrays(1.0 / wide, 1.0 / wide, 1.0 / tall), axis=-1)
    p, d = start * scale, ray * scale
    a, half_b, c = dot(d, d), dot(p, d), dot(p, p) - 1.0
    with np.errstate(invalid="ignore"):
        root = np.sqrt(half_b**2 - a * c)
        along = (-half_b - root) / a
        return np.asarray(np.where((along > 0.0) & (c > 0.0), along, np.nan))


def across(aim: ArrayLike, motion: ArrayLike) -> Floats:
    """Unit vectors ``(..., 3)`` across a line of sight and across a motion on the sky.

    They point to the left of the motion, as seen by an observer whose head is up.
    """
    return unit(cross(aim, motion))


def limb_km(
    body_km: ArrayLike, radius_km: float, seen_from_km: ArrayLike, side: ArrayLike
) -> Floats:
    """Points ``(..., 3)`` in the direction of a body's limb on one side of it.

    ``side`` are unit vectors across the line of sight; a sphere's limb stands a little
    wider than its radius at its centre's distance.
    """
    body = np.asarray(body_km, dtype=np.float64)
    sine = radius_km / norm(body - np.asarray(seen_from_km, dtype=np.float64))
    wide = radius_km / np.sqrt(1.0 - sine**2)
    return np.asarray(body + wide[..., np.newaxis] * np.asarray(side))


def lit_share(
    entry: tuple[float, float],
    leaving: tuple[float, float],
    bright_limb_rad: float,
    phase_rad: float,
) -> float:
    """The part of a chord that lies on the lit side of a disc, 0 to 1.

    Points are (east, north) in radii of the disc; the bright limb's position angle
    counts from north through east; the phase is the angle Sun-body-observer.  The
    terminator is half an ellipse (Meeus, Astronomical Algorithms, chapter 48).
    """
    share = np.linspace(0.0, 1.0, _LOOKS)
    east = entry[0] + (leaving[0] - entry[0]) * share
    north = entry[1] + (leaving[1] - entry[1]) * share
    s, c = np.sin(bright_limb_rad), np.cos(bright_limb_rad)
    toward, aside = east * s + north * c, east * c - north * s
    edge = -np.cos(phase_rad) * np.sqrt(np.maximum(1.0 - aside**2, 0.0))
    return float((toward >= edge).mean())
