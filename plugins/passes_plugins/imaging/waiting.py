"""Lying in wait: where a pointing that does not follow catches most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import motion, mount
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.ground import Ground
from passes_plugins.imaging.recording import recording_of
from passes_plugins.imaging.scene import Scene
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.stars import Star, nearest_star

Floats = NDArray[np.float64]

_PLACES = 3
#: Places nearer to each other than this are one place, s.
_APART_S = 30.0
#: How close together places are tried, s, and the lowest worth trying, degrees.
_TRIED_S, _LOWEST_DEG = 5.0, 15.0
_ROTATIONS = np.radians(np.arange(0.0, 180.0, 5.0))


@dataclass(frozen=True, slots=True)
class Place:
    """One place to wait at; ``up_deg`` is where the frame's up points.

    That angle runs from the vertical (from north on an equatorial mount) to the left,
    which is north through east; ``best_up_deg`` is the rotation that helps most.
    """

    index: int
    way: str
    up_from: str
    shot: Shot
    in_field_s: float
    frames: float
    chance: float
    up_deg: float
    best_up_deg: float
    best_chance: float
    star: Star


def places_of(
    scene: Scene, ground: Ground, bench: Bench, choices: Choices, way: str
) -> tuple[Place, ...]:
    """The best three places of the pass, the best first."""
    tried = _tried(scene)
    found = [_place(scene, ground, bench, choices, way, int(i)) for i in tried]
    worth = [place.chance * _detail(scene, bench, place.index) for place in found]
    chosen: list[Place] = []
    for k in sorted(range(len(found)), key=lambda k: -worth[k]):
        moment = scene.time_s[found[k].index]
        apart = [abs(moment - scene.time_s[p.index]) for p in chosen]
        if worth[k] > 0.0 and all(a >= _APART_S for a in apart):
            chosen.append(found[k])
        if len(chosen) == _PLACES:
            break
    return tuple(chosen)


def _tried(scene: Scene) -> NDArray[np.int64]:
    track = scene.track
    high = scene.usable & (track.altitude_deg >= _LOWEST_DEG)
    known = high & np.isfinite(scene.rates_arcsec_s["fixed"])
    index = np.flatnonzero(known)
    if index.size < 3:
        return index
    step_s = float(np.median(np.diff(scene.time_s)))
    return index[:: max(1, round(_TRIED_S / step_s))]


def _detail(scene: Scene, bench: Bench, i: int) -> float:
    """What a place is worth besides its chance: detail across the object."""
    blur = np.hypot(scene.seeing_arcsec[i], np.nan_to_num(bench.diffraction_arcsec))
    size = scene.size_arcsec[i]
    size = size if np.isfinite(size) else 1e4 / scene.track.range_km[i]
    return float(size / blur)


def _place(
    scene: Scene, ground: Ground, bench: Bench, choices: Choices, way: str, i: int
) -> Place:
    track, rate = scene.track, float(scene.rates_arcsec_s[way][i])
    shot = shoot(
        bench,
        choices,
        way,
        float(scene.exposures_s[way][i]),
        float(scene.signal_e_s[i]),
        float(scene.sky_e_s[i]),
    )
    hz = recording_of(bench, shot.exposure_s, 1.0).frame_rate_hz
    hz = 1.0 / shot.exposure_s if np.isnan(hz) else hz
    error = ground.errors(track, bench, choices)
    off = ground.across_rad(i, error, among_stars=way == "stars")
    wide, high = np.radians([bench.width_deg, bench.height_deg])
    moving = _motion_angle(scene, bench, way, i)
    ups = np.concatenate([[np.radians(bench.rig.rotation_deg)], _ROTATIONS])
    tilt = mount.path_tilt_rad(moving, ups)[:, np.newaxis] + error.turn_rad
    speed = np.radians(rate / 3600.0)
    least = int(choices.frames)
    chances = mount.catch_chance(
        mount.chord_rad(wide, high, tilt, off), speed, hz, least
    )
    straight = mount.chord_rad(wide, high, mount.path_tilt_rad(moving, ups[0]), 0.0)
    best = int(np.argmax(chances[1:]))
    return Place(
        index=i,
        way=way,
        up_from="north" if bench.rig.mount.kind == "equatorial" else "the vertical",
        shot=shot,
        in_field_s=float(straight / speed),
        frames=float(straight / speed * hz),
        chance=float(chances[0]),
        up_deg=bench.rig.rotation_deg,
        best_up_deg=float(np.degrees(_ROTATIONS[best])),
        best_chance=float(chances[1:][best]),
        star=nearest_star(float(track.ra_icrs_deg[i]), float(track.dec_icrs_deg[i]))
        if np.isfinite(track.ra_icrs_deg[i])
        else Star("", np.nan, np.nan, np.nan, np.nan, np.nan),
    )


def _motion_angle(scene: Scene, bench: Bench, way: str, i: int) -> float:
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
