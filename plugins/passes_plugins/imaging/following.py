"""Can the mount follow it, where, and will a blind prediction put it on the chip?"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np
from numpy.typing import NDArray

from passes import motion, mount
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.ground import Ground
from passes_plugins.imaging.scene import Scene

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_DRAWS_SEED = 3
#: An earlier stretch so long, as a part of the longest, is the better one.
_LONG_ENOUGH = 0.7


@dataclass(frozen=True, slots=True)
class Following:
    """Which samples each axis can follow; ``stretch`` is the run to use
    (:func:`_stretch`).

    ``pole`` is the index of the fastest sample of the first axis, ``worst_deg_s`` its
    rate there and ``worst_deg_s2`` that axis's hardest acceleration; ``pier`` says
    how to start an equatorial mount.
    """

    axes: tuple[str, str]
    reach: tuple[Bools, Bools]
    stretch: tuple[int, int] | None
    pole: int | None
    worst_deg_s: float
    worst_deg_s2: float
    pier: str


@dataclass(frozen=True, slots=True)
class Blind:
    """What comes of following a prediction without looking.

    ``chance`` that the object is on the chip with the mount synced through the main
    instrument, ``synced_here`` through this one; ``miss_arcmin`` of this rig's axis is
    exceeded once in twenty, ``aside_arcmin`` a part of it.
    """

    chance: float
    synced_here: float
    miss_arcmin: float
    aside_arcmin: float


def following_of(scene: Scene, bench: Bench) -> Following:
    """Hold the path against the mount's axes."""
    equatorial = bench.rig.mount.kind == "equatorial"
    columns = ("hour_angle", "dec") if equatorial else ("azimuth", "altitude")
    reach = (_reach(scene, bench, columns, 0), _reach(scene, bench, columns, 1))
    first = np.abs(getattr(scene.track, f"{columns[0]}_rate_deg_s"))
    within = np.where(scene.usable, first, np.nan)
    pole = int(np.nanargmax(within)) if np.isfinite(within).any() else None
    stretch = _stretch(scene, reach[0] & reach[1] & scene.usable)
    return Following(
        axes=("hour angle", "declination") if equatorial else columns,
        reach=reach,
        stretch=stretch,
        pole=pole,
        worst_deg_s=nan if pole is None else float(within[pole]),
        worst_deg_s2=_hardest(scene, columns[0]),
        pier=_pier(scene, stretch) if equatorial and stretch else "",
    )


def _reach(scene: Scene, bench: Bench, columns: tuple[str, str], axis: int) -> Bools:
    """Where one axis can follow."""
    carrier, name = bench.rig.mount, columns[axis]
    return mount.within_limits(
        getattr(scene.track, f"{name}_rate_deg_s"),
        getattr(scene.track, f"{name}_acceleration_deg_s2"),
        carrier.rate_limits_deg_s[axis],
        carrier.acceleration_limits_deg_s2[axis],
    )


def _hardest(scene: Scene, column: str) -> float:
    """The greatest acceleration of an axis on the usable path; nan is unknown."""
    pull = np.abs(getattr(scene.track, f"{column}_acceleration_deg_s2"))
    return float(np.fmax.reduce(np.where(scene.usable, pull, np.nan)))


def _stretch(scene: Scene, mask: Bools) -> tuple[int, int] | None:
    """The longest stretch, or an earlier one nearly as long: met low, where it is slow.

    Beyond the zenith of an alt-azimuth mount it would be met at its fastest.
    """
    longest = mount.longest_run(mask)
    if longest is None:
        return None
    enough = _LONG_ENOUGH * (longest[1] - longest[0])
    return next(run for run in mount.runs(mask) if run[1] - run[0] >= enough)


def _pier(scene: Scene, stretch: tuple[int, int]) -> str:
    """The side that holds for the longer part, so that no flip falls inside."""
    hour = scene.track.hour_angle_deg[stretch[0] : stretch[1] + 1]
    west = int((hour > 0.0).sum())
    east = hour.size - west
    side, sky = ("east", "west") if west >= east else ("west", "east")
    text = f"tube {side} of the pier, as for the {sky}ern sky"
    beyond = -hour.min() if side == "east" else hour.max()
    if beyond > 0.0 and min(west, east):
        text += (
            f"; it goes {beyond:.0f}° of hour angle past the meridian: try that it "
            "clears pier and cables, and switch the automatic flip off"
        )
    return text


def blind_of(
    scene: Scene,
    ground: Ground,
    bench: Bench,
    choices: Choices,
    i: int,
    aside_arcmin: tuple[float, float],
) -> Blind:
    """Whether a blind prediction holds it on the chip.

    ``aside_arcmin`` is how far this rig looks from the instrument that the mount was
    synced with, right and up in its own frame.
    """
    right, up = _errors_rad(scene, ground, bench, choices, i)
    off_right, off_up = np.radians(np.divide(aside_arcmin, 60.0))
    half = 0.5 * np.radians([bench.width_deg, bench.height_deg])

    def inside(x: Floats, y: Floats) -> float:
        return float(((np.abs(x) < half[0]) & (np.abs(y) < half[1])).mean())

    miss = np.degrees(np.hypot(right - off_right, up - off_up)) * 60.0
    return Blind(
        chance=inside(right - off_right, up - off_up),
        synced_here=inside(right, up),
        miss_arcmin=float(np.quantile(miss, 0.95)),
        aside_arcmin=float(np.hypot(*aside_arcmin)),
    )


def _errors_rad(
    scene: Scene, ground: Ground, bench: Bench, choices: Choices, i: int
) -> tuple[Floats, Floats]:
    """Where the object is in the frame, right and up of its centre, ``(m,)`` each."""
    error = ground.errors(scene.track, bench, choices)
    rate = np.radians(scene.rates_arcsec_s["fixed"][i] / 3600.0)
    pointing = np.radians(bench.rig.mount.pointing_error_arcmin / 60.0) / np.sqrt(2.0)
    rng = np.random.default_rng(_DRAWS_SEED)
    jitter = rng.standard_normal(error.late_s.shape) * np.nan_to_num(pointing)
    own = np.radians(bench.rig.rotation_deg)
    tilt = mount.path_tilt_rad(motion_angle(scene, bench, "fixed", i), own)
    left = ground.across_rad(i, error, among_stars=False)
    return mount.in_frame_rad(tilt + error.turn_rad, jitter - error.late_s * rate, left)


def motion_angle(scene: Scene, bench: Bench, way: str, i: int) -> float:
    """Direction of motion over the sensor, from the frame's own zero to the left."""
    track = scene.track
    if bench.rig.mount.kind != "equatorial":
        left = -float(track.azimuth_rate_deg_s[i])
        height = np.radians(track.altitude_deg[i])
        return float(
            motion.position_angle_rad(left, height, float(track.altitude_rate_deg_s[i]))
        )
    sidereal = 360.0 / 86164.0905 if way == "stars" else 0.0
    east = sidereal - float(track.hour_angle_rate_deg_s[i])
    dec = np.radians(track.dec_of_date_deg[i])
    return float(motion.position_angle_rad(east, dec, float(track.dec_rate_deg_s[i])))
