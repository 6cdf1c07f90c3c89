"""Waiting places and trails as JSON has them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from passes_plugins.imaging.values import angle, iso, number

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.stars import Star
    from passes_plugins.imaging.waiting import Place
    from passes_plugins.imaging.wide import Trail


def place(case: Case, found: Place) -> dict[str, Any]:
    """One place to wait at."""
    track, i = case.scene.track, found.index
    return {
        "time": iso(case.time(float(case.scene.time_s[i]))),
        "mount": found.way,
        "azimuth_deg": angle(track.azimuth_deg[i]),
        "refracted_altitude_deg": angle(track.refracted_altitude_deg[i]),
        "ra_of_date_deg": angle(track.ra_of_date_deg[i]),
        "dec_of_date_deg": angle(track.dec_of_date_deg[i]),
        "exposure_s": number(found.shot.exposure_s, 8),
        "limit": found.shot.limit,
        "gain": found.shot.gain.name or None,
        "electrons_px": number(found.shot.level_e, 3),
        "snr_px": number(found.shot.snr, 3),
        **_caught(found),
        "star": _star(found.star),
    }


def _caught(found: Place) -> dict[str, Any]:
    """How long it is in the field, how likely, and how to turn the camera."""
    return {
        "in_field_s": number(found.in_field_s, 3),
        "frames": number(found.frames, 3),
        "chance": round(found.chance, 3),
        "up_deg": number(found.up_deg),
        "up_from": found.up_from,
        "best_up_deg": number(found.best_up_deg),
        "best_chance": round(found.best_chance, 3),
    }


def _star(star: Star) -> dict[str, Any]:
    return {
        "name": star.name,
        "magnitude": number(star.magnitude),
        "ra_icrs_deg": angle(star.ra_deg),
        "dec_icrs_deg": angle(star.dec_deg),
        "separation_deg": number(star.separation_deg),
        "position_angle_deg": number(star.position_angle_deg),
    }


def trail(case: Case, found: Trail) -> dict[str, Any]:
    """The trail in a wide lens."""
    time_s, framing = case.scene.time_s, found.framing
    return {
        "entry": iso(case.time(float(time_s[framing.entry]))),
        "exit": iso(case.time(float(time_s[framing.exit]))),
        "upright": framing.upright,
        "length_deg": number(framing.length_deg),
        "length_px": number(found.length_px),
        "count": found.count,
        "gap_s": number(found.gap_s, 3),
        "gap_px": number(found.gap_px, 3),
        "sky_third_s": number(found.sky_third_s, 3),
        "npf_s": number(found.stars.npf_s, 3),
        "npf_simple_s": number(found.stars.npf_simple_s, 3),
        "rule_500_s": number(found.stars.rule_500_s, 3),
        **_look(found),
    }


def _look(found: Trail) -> dict[str, Any]:
    look = found.look
    return {
        "trail_electrons_px": number(look.trail_e, 3),
        "trail_well_filled": number(look.trail_fill, 3),
        "sky_electrons_px": number(look.sky_e, 3),
        "limiting_magnitude": number(look.limiting_mag, 3),
        "trail_mag_arcsec2": number(look.trail_mag_arcsec2, 3),
        "sky_mag_arcsec2": number(look.sky_mag_arcsec2, 3),
    }
