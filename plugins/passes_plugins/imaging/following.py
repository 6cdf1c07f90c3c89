"""Can the mount follow it, where, and will a blind prediction put it on the chip?"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isnan, nan

import numpy as np
from numpy.typing import NDArray

from passes import mount
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.ground import Ground
from passes_plugins.imaging.scene import Scene

Bools = NDArray[np.bool_]

_DRAWS_SEED = 3
#: An earlier stretch so long, as a part of the longest, is the better one.
_LONG_ENOUGH = 0.7


@dataclass(frozen=True, slots=True)
class Following:
    """Which samples each axis can follow; ``stretch`` is the run to use
    (:func:`_stretch`).

    ``pole`` is the index of the fastest sample of the first axis, ``worst_deg_s`` its
    rate there; ``pier`` says how to start an equatorial mount.
    """

    axes: tuple[str, str]
    reach: tuple[Bools, Bools]
    stretch: tuple[int, int] | None
    pole: int | None
    worst_deg_s: float
    pier: str


def following_of(scene: Scene, bench: Bench) -> Following:
    """Hold the path against the mount's axes."""
    track, carrier = scene.track, bench.rig.mount
    equatorial = carrier.kind == "equatorial"
    names = ("hour angle", "declination") if equatorial else ("azimuth", "altitude")
    columns = ("hour_angle", "dec") if equatorial else ("azimuth", "altitude")
    reach = []
    for i, name in enumerate(columns):
        reach.append(
            mount.within_limits(
                getattr(track, f"{name}_rate_deg_s"),
                getattr(track, f"{name}_acceleration_deg_s2"),
                carrier.rate_limits_deg_s[i],
                carrier.acceleration_limits_deg_s2[i],
            )
        )
    first = np.abs(getattr(track, f"{columns[0]}_rate_deg_s"))
    within = np.where(scene.usable, first, np.nan)
    pole = int(np.nanargmax(within)) if np.isfinite(within).any() else None
    stretch = _stretch(scene, reach[0] & reach[1] & scene.usable)
    return Following(
        axes=names,
        reach=(reach[0], reach[1]),
        stretch=stretch,
        pole=pole,
        worst_deg_s=nan if pole is None else float(within[pole]),
        pier=_pier(scene, stretch) if equatorial and stretch else "",
    )


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


def blind_chance(
    scene: Scene, ground: Ground, bench: Bench, choices: Choices, i: int
) -> tuple[float, float]:
    """Chance that a blind prediction holds it on the chip, and the 95 % miss in ′.

    The chip counts as a square of its smaller side, so that rotation does not matter.
    """
    track = scene.track
    error = ground.errors(track, bench, choices)
    rate = float(scene.rates_arcsec_s["fixed"][i]) / 60.0
    along = error.late_s * rate
    across = np.degrees(ground.across_rad(i, error, among_stars=False)) * 60.0
    half = 30.0 * min(bench.width_deg, bench.height_deg)
    pointing = bench.rig.mount.pointing_error_arcmin / np.sqrt(2.0)
    rng = np.random.default_rng(_DRAWS_SEED)
    along = along + rng.standard_normal(along.shape) * np.nan_to_num(pointing)
    inside = (np.abs(along) < half) & (np.abs(across) < half)
    return float(inside.mean()), float(np.quantile(np.hypot(along, across), 0.95))


def offset_arcmin(bench: Bench) -> float:
    """How far this rig looks from the platform's main instrument."""
    right, up = bench.rig.offset_arcmin
    return 0.0 if isnan(right) or isnan(up) else hypot(right, up)
