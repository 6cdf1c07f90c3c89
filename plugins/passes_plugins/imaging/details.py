"""The advice's figures as JSON has them, and its rows along the pass."""

from __future__ import annotations

from math import isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import optics, sensor
from passes_plugins.imaging import details_places
from passes_plugins.imaging.shot import Shot
from passes_plugins.imaging.transit import disc_of
from passes_plugins.imaging.values import angle, iso, number

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.following import Blind
    from passes_plugins.imaging.scene import Dimensions


def settings(case: Case) -> dict[str, Any]:
    """Every figure behind the advice, in parts."""
    parts: dict[str, Any] = {
        "way": "trail" if case.trail else case.way,
        "rides_with": case.lead.rig.name if case.lead else None,
        "mode": case.bench.mode.name if case.bench.mode else None,
        "filter": case.bench.filter.name or None,
        "optics": _optics(case),
        "object": _object(case),
        "assumed": [
            {"what": a.what, "value": a.value, "effect": a.effect}
            for a in (*case.bench.assumed, *case.scene.assumed)
        ],
        "waiting": [details_places.place(case, place) for place in case.places],
    }
    if case.shot is not None:
        parts |= _exposure(case, case.shot)
    if case.following is not None:
        parts["following"] = _following(case)
    if case.recording is not None:
        parts["recording"] = _recording(case)
    if case.trail is not None:
        parts["trail"] = details_places.trail(case, case.trail)
    return parts


def _exposure(case: Case, shot: Shot) -> dict[str, Any]:
    """The settings, what stacks, and what else could be set."""
    disc = disc_of(case.briefing.subject)
    return {
        "shot": _shot(shot)
        | {
            "glint_mag": None if disc else case.choices.glint_mag,
            "skew_px": number(skew_px(case), 3),
        },
        "stack": _stack(case),
        "options": [
            {"kind": o.kind, "what": o.what, **_shot(o.shot)} for o in case.options
        ],
    }


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
        "size_px": number(scene.size_px[i], 3),
        **_dimensions(scene.dimensions),
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


def _dimensions(size: Dimensions) -> dict[str, Any]:
    return {
        "length_m": number(size.length_m),
        "width_m": number(size.width_m),
        "filled_fraction": number(size.filled),
        "size_source": size.source or None,
    }


def skew_px(case: Case) -> float:
    """How far a rolling shutter leans the object; nan where there is none."""
    mode, shot = case.bench.mode, case.shot
    if shot is None or mode is None or mode.shutter != "rolling":
        return nan
    rate = float(case.scene.rates_arcsec_s[shot.way][case.best])
    speed = rate / case.bench.scale_arcsec
    return float(sensor.skew_px(mode.line_time_us, rows_px(case), speed))


def rows_px(case: Case) -> float:
    """Rows that the object spans, if its length stood upright."""
    size = float(case.scene.size_px[case.best])
    return min(size, float(case.bench.region_px[1])) if isfinite(size) else nan


def _shot(shot: Shot) -> dict[str, Any]:
    return {
        "exposure_s": number(shot.exposure_s, 8),
        "limit": shot.limit,
        "motion_limit_s": number(shot.motion_s, 3),
        "light_limit_s": number(shot.light_s, 3),
        "seeing_limit_s": number(shot.seeing_s, 3),
        "seeing_holds_s": number(shot.holds_s, 3),
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
            number((reach & usable).sum() / max(usable.sum(), 1), 3)
            for reach in found.reach
        ],
        "from": at(found.stretch[0]) if found.stretch else None,
        "to": at(found.stretch[1]) if found.stretch else None,
        "fastest_at": at(found.pole),
        "fastest_deg_s": number(found.worst_deg_s, 3),
        "hardest_deg_s2": number(found.worst_deg_s2, 3),
        "pier": found.pier or None,
        **_blind(case.blind),
    }


def _blind(blind: Blind | None) -> dict[str, Any]:
    """Unknown where nothing is followed."""
    chance, here, miss, aside = (
        (nan, nan, nan, nan)
        if blind is None
        else (blind.chance, blind.synced_here, blind.miss_arcmin, blind.aside_arcmin)
    )
    return {
        "blind_chance": number(chance, 2),
        "blind_chance_synced_here": number(here, 2),
        "blind_miss_arcmin": number(miss, 3),
        "aside_arcmin": number(aside, 3),
    }
