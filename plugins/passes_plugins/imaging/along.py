"""The advice's rows along the pass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import motion
from passes_plugins.imaging.dial import dialled_s
from passes_plugins.imaging.values import angle, iso, number

if TYPE_CHECKING:
    from passes.model import Track
    from passes_plugins.imaging.case import Case


def rows(case: Case) -> Iterator[dict[str, Any]]:
    """A row every so many seconds while it is up."""
    scene, track = case.scene, case.scene.track
    time_s = scene.time_s
    up = np.flatnonzero(np.asarray(track.altitude_deg) > 0.0)
    if not up.size:
        return
    wanted = np.arange(time_s[up[0]], time_s[up[-1]] + 1e-6, case.choices.every_s)
    index = np.unique(np.clip(np.searchsorted(time_s, wanted - 1e-6), 0, up[-1]))
    turning = motion.field_rotation_rate(
        track.azimuth_rate_deg_s,
        np.radians(track.altitude_deg),
        track.hour_angle_rate_deg_s,
        np.radians(track.dec_of_date_deg),
    )
    for i in map(int, index):
        yield {
            "time": iso(case.time(float(time_s[i]))),
            **_place(track, i),
            **_look(case, i),
            **_motion(track, i),
            "field_rotation_deg_s": number(turning[i]),
            **_exposures(case, i),
        }


def _place(track: Track, i: int) -> dict[str, Any]:
    return {
        "azimuth_deg": angle(track.azimuth_deg[i]),
        "refracted_altitude_deg": angle(track.refracted_altitude_deg[i]),
        "range_km": number(track.range_km[i]),
    }


def _look(case: Case, i: int) -> dict[str, Any]:
    """What it looks like: size, phase, blur, light."""
    scene, track, bench = case.scene, case.scene.track, case.bench
    blur = np.hypot(scene.seeing_arcsec[i], np.nan_to_num(bench.diffraction_arcsec))
    return {
        "size_arcsec": number(scene.size_arcsec[i], 3),
        "size_px": number(scene.size_arcsec[i] / bench.scale_arcsec, 3),
        "phase_angle_deg": number(track.phase_angle_deg[i], 3),
        "seen_blur_arcsec": number(blur, 3),
        "dispersion_arcsec": number(scene.dispersion_arcsec[i], 3),
        "magnitude": number(track.magnitude[i], 3),
        "sky_mag_arcsec2": number(scene.sky_mag[i], 3),
        "angular_rate_deg_s": number(track.angular_rate_deg_s[i]),
    }


def _motion(track: Track, i: int) -> dict[str, Any]:
    """Rates and accelerations of the axes of either kind of mount."""
    found = {}
    for pair in (("azimuth", "altitude"), ("hour_angle", "dec")):
        for what in ("rate_deg_s", "acceleration_deg_s2"):
            for axis in pair:
                name = f"{axis}_{what}"
                found[name] = number(getattr(track, name)[i])
    return found


def _exposures(case: Case, i: int) -> dict[str, Any]:
    """The longest shutters, and what the advised one gives here."""
    scene, found = case.scene, case.following
    exposure = case.shot.exposure_s if case.shot else float("nan")
    flow = float(scene.signal_e_s[i] + scene.sky_e_s[i])
    follow = found is not None and bool(found.reach[0][i] and found.reach[1][i])
    longest = {
        f"exposure_{way}_s": number(dialled_s(float(scene.exposures_s[way][i])), 8)
        for way in ("fixed", "stars", "follow")
    }
    return {
        **longest,
        "electrons_px": number(flow * exposure, 3),
        "can_follow": follow,
        "usable": bool(scene.usable[i]),
    }
