"""The chance that a target crosses a frame that waits for it.

Ground axes are Earth-fixed, so that their z axis is the Earth's own.  An object that
is late flies the same path among the stars, later, while the Earth has turned under
it: seen from the ground its whole path has turned about the Earth's axis.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import EARTH_ROTATION_RAD_S
from passes.vectors import cross, dot, rotate_z, unit

Floats = NDArray[np.float64]

#: Where 95 % of a normal distribution lies, in sigmas.
_BOUND_SIGMAS = 1.959964


def inertial_velocity_km_s(place_km: Floats, ground_velocity_km_s: Floats) -> Floats:
    """Velocity among the stars of something seen from the ground, ``(..., 3)``."""
    spin = np.array([0.0, 0.0, EARTH_ROTATION_RAD_S])
    return ground_velocity_km_s + cross(spin, place_km)


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """Draws ``(m,)`` of what may be wrong: lateness, offset aside, pointing, rotation.

    ``across_rad`` is the pointing's part across the path, ``turn_rad`` the camera's.
    """

    late_s: Floats
    aside_km: Floats
    across_rad: Floats
    turn_rad: Floats


def stretched(normal: Floats, sigma: float, bound: float) -> Floats:
    """Normal draws ``(m,)`` as errors of a sigma (68.3 %) and a 95 % bound.

    Straight up to the sigma, a power beyond, so that both are met.
    """
    size = np.abs(normal)
    if not sigma > 0.0:
        return np.zeros_like(normal)
    steep = np.log(max(bound / sigma, 1.0)) / np.log(_BOUND_SIGMAS)
    grown = np.where(size <= 1.0, size, np.maximum(size, 1.0) ** steep)
    return np.asarray(np.sign(normal) * sigma * grown)


def drawn(
    *,
    timing_sigma_s: float,
    timing_bound_s: float,
    cross_sigma_km: float,
    pointing_rms_rad: float,
    turn_sigma_rad: float,
    draws: int = 4000,
    seed: int = 1,
) -> Errors:
    """Errors at random, the same every time; an unknown one counts as none.

    ``pointing_rms_rad`` is a distance on the sky, so a part of 1/√2 lies across.
    """
    normal = np.random.default_rng(seed).standard_normal((4, draws))
    known = np.nan_to_num(
        [timing_sigma_s, timing_bound_s, cross_sigma_km, pointing_rms_rad]
    )
    return Errors(
        late_s=stretched(normal[0], float(known[0]), float(known[1])),
        aside_km=normal[1] * known[2],
        across_rad=normal[2] * known[3] / np.sqrt(2.0),
        turn_rad=normal[3] * turn_sigma_rad,
    )


def across_rad(
    place_km: Floats,
    velocity_km_s: Floats,
    site_km: Floats,
    late_s: ArrayLike,
    aside_km: ArrayLike,
    *,
    among_stars: bool = False,
) -> Floats:
    """How far to the left of the expected path the object runs, ``(m,)`` radians.

    ``place_km``, ``velocity_km_s`` (among the stars) and ``site_km`` are ``(3,)`` in
    ground axes at the expected moment; ``late_s`` and ``aside_km`` (along the orbit's
    normal) are ``(m,)``.  The pointing stands still, or goes with the stars.
    """
    late = np.asarray(late_s, dtype=np.float64)
    normal = unit(cross(place_km, velocity_km_s))
    moved = place_km + np.asarray(aside_km, dtype=np.float64)[..., np.newaxis] * normal
    seen = unit(rotate_z(moved, -EARTH_ROTATION_RAD_S * late) - site_km)
    if among_stars:
        seen = rotate_z(seen, EARTH_ROTATION_RAD_S * late)
    pointing = unit(place_km - site_km)
    left = _left_of_motion(place_km, velocity_km_s, site_km, among_stars)
    return np.arctan2(dot(seen, left), dot(seen, pointing))


def _left_of_motion(
    place_km: Floats, velocity_km_s: Floats, site_km: Floats, among_stars: bool
) -> Floats:
    """Unit vector on the sky to the left of the motion, ``(3,)``, seen from outside in.

    Left as the observer sees it, who looks up along the pointing.
    """
    spin = np.array([0.0, 0.0, EARTH_ROTATION_RAD_S])
    carried = cross(spin, site_km if among_stars else place_km)
    pointing = unit(place_km - site_km)
    seen = velocity_km_s - carried
    return unit(cross(seen, pointing))


def path_tilt_rad(motion_angle_rad: ArrayLike, up_angle_rad: ArrayLike) -> Floats:
    """Angle of the motion from the frame's right towards its up, ``(...)``, 0 to 2π.

    Both angles are measured to the left from the same direction: that of the motion
    and that of the frame's up.
    """
    turned = np.asarray(motion_angle_rad) - np.asarray(up_angle_rad) + np.pi / 2
    return np.asarray(turned % (2.0 * np.pi))


def in_frame_rad(
    tilt_rad: ArrayLike, along_rad: ArrayLike, left_rad: ArrayLike
) -> tuple[Floats, Floats]:
    """A place along and to the left of a path as right and up in the frame, ``(...)``.

    ``tilt_rad`` is the motion's angle (:func:`path_tilt_rad`).
    """
    c, s = np.cos(np.asarray(tilt_rad)), np.sin(np.asarray(tilt_rad))
    along, left = np.asarray(along_rad), np.asarray(left_rad)
    return np.asarray(along * c - left * s), np.asarray(along * s + left * c)


def left_of_path_rad(
    tilt_rad: ArrayLike, right_rad: ArrayLike, up_rad: ArrayLike
) -> Floats:
    """How far to the left of a path a place in the frame lies, ``(...)`` radians.

    The path runs through the frame's centre; ``tilt_rad`` is the motion's angle.
    """
    c, s = np.cos(np.asarray(tilt_rad)), np.sin(np.asarray(tilt_rad))
    return np.asarray(np.asarray(up_rad) * c - np.asarray(right_rad) * s)


def chord_rad(
    width_rad: ArrayLike, height_rad: ArrayLike, tilt_rad: ArrayLike, off_rad: ArrayLike
) -> Floats:
    """Length of a straight path inside a rectangle, ``(...)`` radians; 0 if it misses.

    ``tilt_rad`` is the path's angle from the width, ``off_rad`` its distance from the
    centre; the field is taken as flat.
    """
    c, s = np.cos(np.asarray(tilt_rad)), np.sin(np.asarray(tilt_rad))
    off = np.asarray(off_rad, dtype=np.float64)
    a, b = _inside(c, -off * s, width_rad)
    p, q = _inside(s, off * c, height_rad)
    return np.asarray(np.maximum(np.minimum(b, q) - np.maximum(a, p), 0.0))


def _inside(slope: Floats, at_zero: Floats, size: ArrayLike) -> tuple[Floats, Floats]:
    """Where ``at_zero + slope · t`` lies within a band, as an interval of ``t``."""
    half = 0.5 * np.asarray(size, dtype=np.float64)
    level = np.abs(slope) < 1e-15  # along the band: everywhere inside, or nowhere
    steep = np.where(level, 1.0, slope)
    one, other = (-half - at_zero) / steep, (half - at_zero) / steep
    outside = np.where(np.abs(at_zero) <= half, np.inf, -np.inf)
    low = np.where(level, -outside, np.minimum(one, other))
    return low, np.where(level, outside, np.maximum(one, other))


def catch_chance(
    chord: ArrayLike, rate_rad_s: float, frames_hz: float, least: int
) -> Floats:
    """Chance of at least so many frames over draws ``(..., m)``, ``(...)``.

    The first frame falls anywhere between two, so a chord of 3.4 frames gives four of
    them in four cases of ten.
    """
    frames = np.asarray(chord, dtype=np.float64) / rate_rad_s * frames_hz
    return np.asarray(np.clip(frames - least + 1.0, 0.0, 1.0).mean(axis=-1))
