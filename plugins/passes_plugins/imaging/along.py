"""The advice's rows along the pass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import motion
from passes_plugins.imaging.details import angle, iso, number
from passes_plugins.imaging.shot import dialled_s

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case
    from passes_plugins.imaging.scene import Scene


def rows(case: Case) -> Iterator[dict[str, Any]]:
    """A row every so many seconds while it is up."""
    scene, track = case.scene, case.scene.track
    time_s = scene.time_s
    up = np.flatnonzero(np.asarray(track.altitude_deg) > 0.0)
    if not up.size:
        return
    wanted = np.arange(time_s[up[0]], time_s[up[-1]] + 1e-6, case.choices.every_s)
    index = np.unique(np.clip(np.searchsorted(time_s, wanted - 1e-6), 0, up[-1]))
    turning = np.degrees(
        motion.field_rotation_rate(
            np.radians(track.azimuth_rate_deg_s),
            np.radians(track.altitude_deg),
            np.radians(track.hour_angle_rate_deg_s),
            np.radians(track.dec_of_date_deg),
        )
    )
    size_px = scene.size_px(case.bench)
    for i in index:
        yield _row(case, int(i), float(turning[i]), float(size_px[i]))


def _row(case: Case, i: int, turning: float, size_px: float) -> dict[str, Any]:
    scene, track, found = case.scene, case.scene.track, case.following
    follow = found is not None and bool(found.reach[0][i] and found.reach[1][i])
    exposure = case.shot.exposure_s if case.shot else float("nan")
    flow = float(scene.signal_e_s[i] + scene.sky_e_s[i])
    blur = np.hypot(
        scene.seeing_arcsec[i], np.nan_to_num(case.bench.diffraction_arcsec)
    )
    return {
        "time": iso(case.time(float(scene.time_s[i]))),
        "azimuth_deg": angle(track.azimuth_deg[i]),
        "refracted_altitude_deg": angle(track.refracted_altitude_deg[i]),
        "range_km": number(track.range_km[i]),
        "size_arcsec": number(scene.size_arcsec[i], 3),
        "size_px": number(size_px, 3),
        "phase_angle_deg": number(track.phase_angle_deg[i], 3),
        "seen_blur_arcsec": number(blur, 3),
        "dispersion_arcsec": number(scene.dispersion_arcsec[i], 3),
        "magnitude": number(track.magnitude[i], 3),
        "sky_mag_arcsec2": number(scene.sky_mag[i], 3),
        "angular_rate_deg_s": number(track.angular_rate_deg_s[i]),
        "azimuth_rate_deg_s": number(track.azimuth_rate_deg_s[i]),
        "altitude_rate_deg_s": number(track.altitude_rate_deg_s[i]),
        "azimuth_acceleration_deg_s2": number(track.azimuth_acceleration_deg_s2[i]),
        "altitude_acceleration_deg_s2": number(track.altitude_acceleration_deg_s2[i]),
        "hour_angle_rate_deg_s": number(track.hour_angle_rate_deg_s[i]),
        "dec_rate_deg_s": number(track.dec_rate_deg_s[i]),
        "hour_angle_acceleration_deg_s2": number(
            track.hour_angle_acceleration_deg_s2[i]
        ),
        "dec_acceleration_deg_s2": number(track.dec_acceleration_deg_s2[i]),
        "field_rotation_deg_s": number(turning),
        "exposure_fixed_s": _dialled(scene, "fixed", i),
        "exposure_stars_s": _dialled(scene, "stars", i),
        "exposure_follow_s": _dialled(scene, "follow", i),
        "electrons_px": number(flow * exposure, 3),
        "can_follow": follow,
        "usable": bool(scene.usable[i]),
    }


def _dialled(scene: Scene, way: str, i: int) -> float | None:
    return number(dialled_s(float(scene.exposures_s[way][i])), 8)
