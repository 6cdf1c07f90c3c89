"""The advice's figures as JSON has them, and its rows along the pass."""

from __future__ import annotations

from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import optics, sensor
from passes_plugins.imaging.shot import Shot

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case
    from passes_plugins.imaging.waiting import Place
    from passes_plugins.imaging.wide import Trail


def number(value: Any, digits: int = 4) -> float | None:
    """A number to some significant digits; None where it is unknown."""
    value = float(value)
    if not isfinite(value):
        return None
    return float(f"{value:.{digits}g}")


def angle(value: Any) -> float | None:
    """Degrees to a third of an arcsecond."""
    return round(float(value), 4) if isfinite(value) else None


def iso(time: datetime | None) -> str | None:
    """A time as files hold it."""
    if time is None:
        return None
    return time.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def settings(case: Case) -> dict[str, Any]:
    """Every figure behind the advice, in parts."""
    parts: dict[str, Any] = {
        "way": "trail" if case.trail else case.way,
        "mode": case.bench.mode.name if case.bench.mode else None,
        "filter": case.bench.filter.name or None,
        "optics": _optics(case),
        "object": _object(case),
        "assumed": [
            {"what": a.what, "value": a.value, "effect": a.effect}
            for a in (*case.bench.assumed, *case.scene.assumed)
        ],
        "waiting": [_place(case, place) for place in case.places],
    }
    if case.shot is not None:
        parts["shot"] = _shot(case.shot)
        parts["stack"] = _stack(case)
    if case.following is not None:
        parts["following"] = _following(case)
    if case.recording is not None:
        parts["recording"] = _recording(case)
    if case.trail is not None:
        parts["trail"] = _trail(case, case.trail)
    return parts


def _optics(case: Case) -> dict[str, Any]:
    bench, i = case.bench, case.best
    critical = optics.critical_f_number(bench.rig.pixel_um, bench.filter.centre_nm)
    return {
        "width_deg": number(bench.width_deg),
        "height_deg": number(bench.height_deg),
        "f_number": number(bench.rig.f_number),
        "critical_f_number": number(critical),
        "diffraction_arcsec": number(bench.diffraction_arcsec, 3),
        "seeing_arcsec": number(case.scene.seeing_arcsec[i], 3),
        "dispersion_arcsec": number(case.scene.dispersion_arcsec[i], 3),
        "allowed_blur_arcsec": number(bench.allowed_arcsec, 3),
        "focus_on_stars_blur_arcsec": number(
            optics.near_focus_blur_arcsec(
                bench.rig.aperture_mm, case.scene.track.range_km[i]
            ),
            3,
        ),
    }


def _object(case: Case) -> dict[str, Any]:
    scene, track, i = case.scene, case.scene.track, case.best
    return {
        "time": iso(case.time(float(scene.time_s[i]))),
        "size_arcsec": number(scene.size_arcsec[i], 3),
        "size_px": number(scene.size_px(case.bench)[i], 3),
        "size_source": scene.size_source or None,
        "range_km": number(track.range_km[i]),
        "altitude_deg": angle(track.altitude_deg[i]),
        "angular_rate_deg_s": number(track.angular_rate_deg_s[i]),
        "phase_angle_deg": number(track.phase_angle_deg[i], 3),
        "magnitude": number(track.magnitude[i], 3),
        "magnitude_sigma": number(track.magnitude_sigma[i], 2),
        "magnitude_basis": track.magnitude_basis or None,
        "sky_mag_arcsec2": number(scene.sky_mag[i], 3),
        "timing_sigma_s": number(track.timing_sigma_s, 3),
        "timing_bound_s": number(track.timing_bound_s, 3),
        "cross_track_sigma_km": number(track.cross_track_sigma_km, 3),
    }


def _shot(shot: Shot) -> dict[str, Any]:
    return {
        "exposure_s": number(shot.exposure_s, 8),
        "limit": shot.limit,
        "motion_limit_s": number(shot.motion_s, 3),
        "light_limit_s": number(shot.light_s, 3),
        "gain": shot.gain.name or None,
        "electrons_px": number(shot.level_e, 3),
        "well_filled": number(shot.fill, 3),
        "headroom_mag": number(shot.headroom_mag, 3),
        "snr_px": number(shot.snr, 3),
    }


def aspect_s(case: Case) -> float:
    """Time within which frames stack: half a resolution element of turning."""
    i = case.best
    element = np.fmax(case.bench.diffraction_arcsec, 2.0 * case.bench.scale_arcsec)
    turning = np.radians(case.scene.track.angular_rate_deg_s[i])
    return float(sensor.aspect_time_s(element, case.scene.size_arcsec[i], turning))


def stacked(case: Case) -> tuple[float, float]:
    """How many frames stack, and the signal-to-noise of their mean."""
    if case.shot is None or case.recording is None:
        return float("nan"), float("nan")
    frames = case.recording.frame_rate_hz * aspect_s(case)
    if not isfinite(frames):
        return float("nan"), float("nan")
    frames = max(1.0, min(float(int(frames)), _in_field(case)))
    return frames, case.shot.snr * float(np.sqrt(frames))


def _in_field(case: Case) -> float:
    """No more frames than the object is in the field for."""
    if case.way == "follow" or not case.places:
        return float("inf")
    return max(1.0, float(int(case.places[0].frames)))


def _stack(case: Case) -> dict[str, Any]:
    frames, ratio = stacked(case)
    return {
        "aspect_s": number(aspect_s(case), 3),
        "frames": number(frames),
        "snr_px": number(ratio, 3),
    }


def _recording(case: Case) -> dict[str, Any]:
    recording = case.recording
    assert recording is not None
    return {
        "frame_rate_hz": number(recording.frame_rate_hz),
        "limit": recording.limit or None,
        "limits_hz": {k: number(v) for k, v in recording.limits_hz.items()},
        "duration_s": number(recording.duration_s),
        "frames": number(recording.frame_rate_hz * recording.duration_s),
        "gigabytes": number(recording.gigabytes, 3),
        "fits_disk": recording.fits,
    }


def _following(case: Case) -> dict[str, Any]:
    found = case.following
    assert found is not None
    time_s = case.scene.time_s

    def at(i: int | None) -> str | None:
        return None if i is None else iso(case.time(float(time_s[i])))

    usable = case.scene.usable
    return {
        "axes": list(found.axes),
        "reachable": [
            float((reach & usable).sum() / max(usable.sum(), 1))
            for reach in found.reach
        ],
        "from": at(found.stretch[0]) if found.stretch else None,
        "to": at(found.stretch[1]) if found.stretch else None,
        "fastest_at": at(found.pole),
        "fastest_deg_s": number(found.worst_deg_s, 3),
        "pier": found.pier or None,
        "blind_chance": number(case.blind[0], 2),
        "blind_miss_arcmin": number(case.blind[1], 3),
    }


def _place(case: Case, place: Place) -> dict[str, Any]:
    track, i = case.scene.track, place.index
    return {
        "time": iso(case.time(float(case.scene.time_s[i]))),
        "mount": place.way,
        "azimuth_deg": angle(track.azimuth_deg[i]),
        "refracted_altitude_deg": angle(track.refracted_altitude_deg[i]),
        "ra_of_date_deg": angle(track.ra_of_date_deg[i]),
        "dec_of_date_deg": angle(track.dec_of_date_deg[i]),
        "exposure_s": number(place.shot.exposure_s, 8),
        "gain": place.shot.gain.name or None,
        "electrons_px": number(place.shot.level_e, 3),
        "snr_px": number(place.shot.snr, 3),
        "in_field_s": number(place.in_field_s, 3),
        "frames": number(place.frames, 3),
        "chance": round(place.chance, 3),
        "up_deg": number(place.up_deg),
        "up_from": place.up_from,
        "best_up_deg": number(place.best_up_deg),
        "best_chance": round(place.best_chance, 3),
        "star": {
            "name": place.star.name,
            "magnitude": number(place.star.magnitude),
            "ra_icrs_deg": angle(place.star.ra_deg),
            "dec_icrs_deg": angle(place.star.dec_deg),
            "separation_deg": number(place.star.separation_deg),
            "position_angle_deg": number(place.star.position_angle_deg),
        },
    }


def _trail(case: Case, trail: Trail) -> dict[str, Any]:
    time_s = case.scene.time_s
    return {
        "entry": iso(case.time(float(time_s[trail.entry]))),
        "exit": iso(case.time(float(time_s[trail.exit]))),
        "upright": trail.upright,
        "length_deg": number(trail.length_deg),
        "length_px": number(trail.length_px),
        "count": trail.count,
        "gap_s": number(trail.gap_s, 3),
        "gap_px": number(trail.gap_px, 3),
        "sky_third_s": number(trail.sky_third_s, 3),
        "npf_s": number(trail.npf_s, 3),
        "npf_simple_s": number(trail.npf_simple_s, 3),
        "rule_500_s": number(trail.rule_500_s, 3),
        "trail_electrons_px": number(trail.trail_e, 3),
        "trail_well_filled": number(trail.trail_fill, 3),
        "sky_electrons_px": number(trail.sky_e, 3),
        "limiting_magnitude": number(trail.limiting_mag, 3),
        "trail_mag_arcsec2": number(trail.trail_mag_arcsec2, 3),
        "sky_mag_arcsec2": number(trail.sky_frame_mag_arcsec2, 3),
    }
