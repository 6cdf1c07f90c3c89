"""The frame on the sky: tangent-plane places and pixels, clipping of paths.

The tangent (gnomonic) plane maps great circles to straight lines (FITS ``TAN``,
Calabretta & Greisen 2002, A&A 395, 1077).  Pixels are counted as FITS counts them:
the first one's centre is (1, 1), x to the right, y up.  A frame's position angle is
that of its up direction, north through east; with up north, east is to the left,
unless the image is mirrored.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def _floats(value: ArrayLike) -> Floats:
    return np.asarray(value, dtype=np.float64)


# --- between the sphere and the tangent plane ---------------------------------


def standard(
    ra_rad: ArrayLike, dec_rad: ArrayLike, ra0_rad: ArrayLike, dec0_rad: ArrayLike
) -> tuple[Floats, Floats]:
    """Standard coordinates (eastward, northward) about a centre, ``(...)`` each.

    Tangents of angles, so nearly radians; nan on the far half of the sphere.
    """
    run = _floats(ra_rad) - _floats(ra0_rad)
    dec, dec0 = _floats(dec_rad), _floats(dec0_rad)
    depth = np.sin(dec) * np.sin(dec0) + np.cos(dec) * np.cos(dec0) * np.cos(run)
    depth = np.where(depth > 0.0, depth, np.nan)
    east = np.cos(dec) * np.sin(run) / depth
    north = np.sin(dec) * np.cos(dec0) - np.cos(dec) * np.sin(dec0) * np.cos(run)
    return east, north / depth


def sky_of(
    east: ArrayLike, north: ArrayLike, ra0_rad: ArrayLike, dec0_rad: ArrayLike
) -> tuple[Floats, Floats]:
    """Right ascension (0 to 2π) and declination of standard coordinates, ``(...)``."""
    xi, eta = _floats(east), _floats(north)
    dec0 = _floats(dec0_rad)
    toward = np.cos(dec0) - eta * np.sin(dec0)
    ra = _floats(ra0_rad) + np.arctan2(xi, toward)
    dec = np.arctan2(np.sin(dec0) + eta * np.cos(dec0), np.hypot(xi, toward))
    return np.mod(ra, 2.0 * np.pi), dec


# --- between the tangent plane and the frame ----------------------------------


def in_frame(
    east: ArrayLike,
    north: ArrayLike,
    position_angle_rad: ArrayLike,
    mirrored: ArrayLike = False,
) -> tuple[Floats, Floats]:
    """Standard coordinates turned to the frame's right and up, ``(...)`` each."""
    xi, eta = _floats(east), _floats(north)
    c, s = np.cos(position_angle_rad), np.sin(position_angle_rad)
    right = eta * s - xi * c
    return np.where(mirrored, -right, right), np.asarray(xi * s + eta * c)


def from_frame(
    right: ArrayLike,
    up: ArrayLike,
    position_angle_rad: ArrayLike,
    mirrored: ArrayLike = False,
) -> tuple[Floats, Floats]:
    """Undo :func:`in_frame`: eastward and northward, ``(...)`` each."""
    r = np.where(mirrored, -_floats(right), _floats(right))
    u = _floats(up)
    c, s = np.cos(position_angle_rad), np.sin(position_angle_rad)
    return np.asarray(u * s - r * c), np.asarray(u * c + r * s)


def pixels(
    right: ArrayLike,
    up: ArrayLike,
    scale_arcsec_px: ArrayLike,
    size_px: tuple[float, float],
) -> tuple[Floats, Floats]:
    """Pixels of places in the frame, the axis on the middle of the image."""
    px = _floats(scale_arcsec_px) * np.pi / (180.0 * 3600.0)
    x = _floats(right) / px + (size_px[0] + 1.0) / 2.0
    return np.asarray(x), np.asarray(_floats(up) / px + (size_px[1] + 1.0) / 2.0)


def from_pixels(
    x: ArrayLike, y: ArrayLike, scale_arcsec_px: ArrayLike, size_px: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Undo :func:`pixels`."""
    px = _floats(scale_arcsec_px) * np.pi / (180.0 * 3600.0)
    right = (_floats(x) - (size_px[0] + 1.0) / 2.0) * px
    return np.asarray(right), np.asarray((_floats(y) - (size_px[1] + 1.0) / 2.0) * px)


# --- paths through a rectangle ------------------------------------------------


def reach(
    half_width: ArrayLike, half_height: ArrayLike, direction_rad: ArrayLike
) -> Floats:
    """Half of what a rectangle spans across a direction of motion, ``(...)``.

    ``direction_rad`` counts from the rectangle's up direction.
    """
    across = _floats(half_width) * np.abs(np.cos(direction_rad))
    return np.asarray(across + _floats(half_height) * np.abs(np.sin(direction_rad)))


def parabolas(
    time_s: ArrayLike, right: ArrayLike, up: ArrayLike
) -> tuple[Floats, Floats, Floats, Floats]:
    """Parabolas through three places of each path; arguments are ``(..., 3)``.

    With u = (time − middle) / half from −1 to 1, gives middle and half, ``(...)``
    each, and the coefficients of c₀ + c₁u + c₂u² for right and for up, ``(..., 3)``
    each.  Where two places coincide the run is straight.  Over the seconds of a low
    object's crossing, and minutes of a slow one's, it is within 1″ of the path.
    """
    t = _floats(time_s)
    middle = 0.5 * (t[..., 0] + t[..., 2])
    half = np.maximum(0.5 * (t[..., 2] - t[..., 0]), 1e-9)
    u = (t[..., 1] - middle) / half
    return middle, half, _parabola(u, _floats(right)), _parabola(u, _floats(up))


def _parabola(u: Floats, y: Floats) -> Floats:
    """Through (−1, y₀), (u, y₁), (1, y₂); straight where u is at an end."""
    even, odd = 0.5 * (y[..., 0] + y[..., 2]), 0.5 * (y[..., 2] - y[..., 0])
    room = u * u - 1.0
    bent = room < -1e-6
    excess = y[..., 1] - even - odd * u
    c2 = np.where(bent, excess / np.where(bent, room, 1.0), 0.0)
    return np.stack([even - c2, odd, c2], axis=-1)


def at(coefficients: ArrayLike, u: ArrayLike) -> Floats:
    """Parabolas of :func:`parabolas` at scaled times ``(...)``."""
    c = _floats(coefficients)
    v = _floats(u)
    return np.asarray(c[..., 0] + v * (c[..., 1] + v * c[..., 2]))


def stay_in(
    right: ArrayLike, up: ArrayLike, half_width: ArrayLike, half_height: ArrayLike
) -> tuple[Floats, Floats]:
    """First and last scaled time at which parabolas are in a rectangle, ``(...)``.

    ``right`` and ``up`` are coefficients ``(..., 3)``; only −1 … 1 is looked at; nan
    where they stay outside.
    """
    cuts = [np.full(np.shape(right)[:-1], -1.0), np.full(np.shape(right)[:-1], 1.0)]
    for path, half in ((_floats(right), half_width), (_floats(up), half_height)):
        for side in (-1.0, 1.0):
            cuts += _roots(path, side * _floats(half))
    edges = np.sort(np.clip(np.stack(cuts, axis=-1), -1.0, 1.0), axis=-1)
    middle = 0.5 * (edges[..., :-1] + edges[..., 1:])
    inside = (
        np.abs(at(_floats(right)[..., np.newaxis, :], middle))
        <= np.asarray(_floats(half_width))[..., np.newaxis]
    )
    inside &= (
        np.abs(at(_floats(up)[..., np.newaxis, :], middle))
        <= np.asarray(_floats(half_height))[..., np.newaxis]
    )
    inside &= edges[..., 1:] > edges[..., :-1]
    first = np.where(inside, edges[..., :-1], np.inf).min(axis=-1)
    last = np.where(inside, edges[..., 1:], -np.inf).max(axis=-1)
    none = ~inside.any(axis=-1)
    return np.where(none, np.nan, first), np.where(none, np.nan, last)


def _roots(path: Floats, level: Floats) -> list[Floats]:
    """Where parabolas reach a level; 1 (an edge that is there anyway) where never."""
    c, b, a = path[..., 0] - level, path[..., 1], path[..., 2]
    flat = np.abs(a) < 1e-12 * np.maximum(np.abs(b), 1e-30)
    square = b * b - 4.0 * a * c
    root = np.sqrt(np.maximum(square, 0.0))
    q = -0.5 * (b + np.where(b < 0.0, -root, root))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        line = np.where(b != 0.0, -c / b, 1.0)
        one = np.where(flat, line, np.where(square >= 0.0, q / a, 1.0))
        other = np.where(flat | (square < 0.0) | (q == 0.0), 1.0, c / q)
    return [np.nan_to_num(np.asarray(each), nan=1.0) for each in (one, other)]
