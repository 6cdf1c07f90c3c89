"""How much of the Sun a satellite sees past the Earth.

The Earth is a flattened ellipsoid about the z axis, the Sun a disc; between full
light and umbra lies the penumbra, where the Earth's limb cuts the disc.  The limb is
taken in the plane of satellite, Earth's centre and Sun, where it is exact; across the
disc it is a circle.  Left out: the atmosphere, which bends and reddens the last light
(some kilometres of shadow edge, a few tenths of a second in low orbit).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM, SUN_RADIUS_KM
from passes.vectors import cross, dot, norm, separation_rad, unit

Floats = NDArray[np.float64]

#: Points handled at once: what fits a processor's cache.
_AT_ONCE = 16384


def lit_fraction(
    position_km: ArrayLike,
    sun_km: ArrayLike,
    *,
    earth_radius_km: float = EARTH_RADIUS_KM,
    flattening: float = EARTH_FLATTENING,
    sun_radius_km: float = SUN_RADIUS_KM,
) -> Floats:
    """Fraction of the Sun's disc in sight, ``(...)``: 1 in full sun, 0 in the umbra.

    ``position_km`` and ``sun_km`` are ``(..., 3)`` from the Earth's centre in any
    frame whose z axis is the Earth's (TEME, true of date), and broadcast.  A point
    within the Earth is treated as one on its surface.  nan in gives nan out.
    """
    position, sun = np.broadcast_arrays(
        np.asarray(position_km, dtype=np.float64), np.asarray(sun_km, dtype=np.float64)
    )
    p, s = position.reshape(-1, 3), sun.reshape(-1, 3)
    lit = np.empty(len(p))
    for begin in range(0, len(p), _AT_ONCE):
        some = slice(begin, begin + _AT_ONCE)
        lit[some] = _lit(p[some], s[some], earth_radius_km, flattening, sun_radius_km)
    return lit.reshape(position.shape[:-1])


def _lit(
    position: Floats, sun: Floats, radius: float, flattening: float, sun_radius: float
) -> Floats:
    """The fraction for ``(n, 3)``; only points near or in the shadow are worked out."""
    lit = np.where(np.isnan(position).any(-1) | np.isnan(sun).any(-1), np.nan, 1.0)
    distance = norm(sun)
    along = dot(position, sun) / distance
    across = np.sqrt(np.maximum(dot(position, position) - along**2, 0.0))
    # The penumbra widens by (Sun + Earth) / distance; a little more does no harm.
    reach = radius - along * 1.1 * (sun_radius + radius) / distance + 10.0
    near = (along < 0.0) & (across < reach)
    if near.any():
        height, limb = limb_angles_rad(position[near], sun[near], radius, flattening)
        disc = np.arcsin(sun_radius / norm(sun[near] - position[near]))
        lit[near] = 1.0 - _covered(disc, np.tan(limb), height)
    return lit


def limb_angles_rad(
    position_km: Floats, sun_km: Floats, earth_radius_km: float, flattening: float
) -> tuple[Floats, Floats]:
    """How high the Sun's centre stands over the Earth's limb, and the limb itself.

    Both ``(n,)`` radians as seen from ``(n, 3)``; the second is the angle between
    limb and Earth's centre.  Stretched along its axis, the Earth is a sphere and
    straight lines stay straight, so the tangent is found there and brought back.
    """
    stretch = np.array([1.0, 1.0, 1.0 / (1.0 - flattening)]) / earth_radius_km
    inward = -position_km * stretch
    towards = (sun_km - position_km) * stretch
    distance = np.maximum(norm(inward), 1.0)
    inward = inward / norm(inward)[:, np.newaxis]
    sideways = _across(towards, inward)
    sine = 1.0 / distance
    cosine = np.sqrt(1.0 - sine**2)
    tangent = cosine[:, np.newaxis] * inward + sine[:, np.newaxis] * sideways
    tangent = tangent / stretch
    limb = separation_rad(-position_km, tangent)
    return separation_rad(-position_km, sun_km - position_km) - limb, limb


def _across(towards: Floats, inward: Floats) -> Floats:
    """Unit vectors in the plane of two directions, at right angles to the second.

    On the shadow's axis every plane serves, so any right angle will do.
    """
    sideways = towards - dot(towards, inward)[:, np.newaxis] * inward
    least = np.eye(3)[np.argmin(np.abs(inward), axis=-1)]
    on_axis = norm(sideways) < 1e-12 * norm(towards)
    sideways = np.where(on_axis[:, np.newaxis], cross(inward, least), sideways)
    return unit(sideways)


def _covered(disc: Floats, limb: Floats, height: Floats) -> Floats:
    """Part of a disc covered by a circle of radius ``limb``; ``(n,)`` each.

    ``height`` is the disc's centre above the circle's edge.  The circle is given by
    its radius of curvature on the sky, so that a plane figure serves.
    """
    apart = limb + height
    inside = np.minimum(disc, limb) ** 2 / disc**2
    covered = np.where(apart <= np.abs(limb - disc), inside, 0.0)
    cut = (np.abs(height) < disc) & (apart > np.abs(limb - disc))
    if cut.any():
        covered[cut] = _lens(disc[cut], limb[cut], height[cut])
    return covered


def _lens(disc: Floats, limb: Floats, height: Floats) -> Floats:
    """Area shared by a disc and a cutting circle, as part of the disc.

    ``chord`` and ``sagitta`` are where the common chord passes, from the disc's
    centre and from the circle's edge.
    """
    apart = limb + height
    chord = (height * (limb + apart) + disc**2) / (2.0 * apart)
    on_disc = np.arccos(np.clip(chord / disc, -1.0, 1.0))
    half = np.sqrt(np.maximum(disc**2 - chord**2, 0.0))
    on_limb = np.arctan2(half, apart - chord)
    near = disc**2 * on_disc - chord * half
    far = limb**2 * on_limb - (apart - chord) * half
    return np.clip((near + far) / (np.pi * disc**2), 0.0, 1.0)
