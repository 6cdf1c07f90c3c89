"""The adviser: one briefing in, one advice out."""

from __future__ import annotations

from dataclasses import replace
from math import isnan, nan
from typing import TYPE_CHECKING, Any

from passes.model import Advice, Event, Note, Passage, Pointing
from passes_plugins.imaging import along, details, trail_words, words
from passes_plugins.imaging.bench import bench_of
from passes_plugins.imaging.case import Case, nearest_of
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.long_rig import long_case
from passes_plugins.imaging.riding import Lead, ridden
from passes_plugins.imaging.scene import Scene, scene_of
from passes_plugins.imaging.transit import disc_of
from passes_plugins.imaging.transiting import transit_case
from passes_plugins.imaging.wide import trail_of

if TYPE_CHECKING:
    from passes.contributions import Briefing

#: A Sun with its upper limb on the horizon stands this low (USNO's definition).
SUN_RISEN_DEG = -50.0 / 60.0


def advise(briefing: Briefing, lead: Lead | None = None) -> Advice:
    """Settings for one subject and one rig, the reasons, and the cautions.

    With ``lead`` the rig sits on another one's mount and looks where that takes it; a
    wide lens, whose trail wants a mount that stands still, keeps its own.
    """
    choices = Choices.of(briefing.settings)
    case = _case(briefing, choices, None)
    if lead is not None and not case.bench.wide:
        case = _case(ridden(briefing, lead), choices, lead)
    disc = disc_of(briefing.subject)
    if disc is not None:
        return _advice(*transit_case(case, disc))
    if not case.scene.usable.any():
        return _nothing(case)
    return _advice(*(_wide_case(case) if case.bench.wide else long_case(case)))


def _case(briefing: Briefing, choices: Choices, lead: Lead | None) -> Case:
    """The case before anything is settled."""
    bench = bench_of(briefing.rig, choices)
    scene = _away_from_sun(scene_of(briefing, bench, choices), choices)
    return Case(briefing, choices, bench, scene, lead)


def subject_id(subject: Any) -> str:
    """What the advice is about."""
    if isinstance(subject, Passage | Event):
        return subject.id
    return f"{subject.catalog_number}-crossing"


def _away_from_sun(scene: Scene, choices: Choices) -> Scene:
    """The same scene without what lies too near to a risen Sun."""
    track = scene.track
    risen = track.sun_altitude_deg > SUN_RISEN_DEG
    near = risen & (track.sun_separation_deg < choices.sun_keep_deg)
    return replace(scene, usable=scene.usable & ~near)


def _nothing(case: Case) -> Advice:
    """Why there is nothing to shoot, in one note."""
    return Advice(
        rig=case.bench.rig.name,
        subject=subject_id(case.briefing.subject),
        adviser="imaging",
        image_scale_arcsec_px=case.bench.scale_arcsec,
        notes=(words.why_nothing(case), *words.sun_cautions(case)),
    )


def _wide_case(case: Case) -> tuple[Case, list[Note]]:
    """The trail over a landscape; as a long rig's where no trail is seen."""
    trail = trail_of(case.scene, case.bench, case.choices)
    if trail is None:
        return long_case(case)
    time_s, framing = case.scene.time_s, trail.framing
    lead = case.choices.lead_s + case.bound_s
    case = replace(
        case,
        trail=trail,
        best=nearest_of(case.scene, framing.entry, framing.exit),
        start_s=float(time_s[framing.entry] - lead),
        stop_s=float(time_s[framing.exit] + lead),
        aim=framing.pointing,
    )
    return case, trail_words.wide_notes(case)


# --- the answer --------------------------------------------------------------


def _advice(case: Case, notes: list[Note]) -> Advice:
    dialled = case.trail or case.shot
    known = dialled is not None and not isnan(case.bench.rig.aperture_mm)
    return Advice(
        rig=case.bench.rig.name,
        subject=subject_id(case.briefing.subject),
        adviser="imaging",
        image_scale_arcsec_px=case.bench.scale_arcsec,
        exposure_s=dialled.exposure_s if dialled else nan,
        frame_rate_hz=case.recording.frame_rate_hz if case.recording else nan,
        region_px=case.bench.region_px,
        gain=dialled.gain.name if dialled and known else "",
        start=case.time(case.start_s),
        stop=case.time(case.stop_s),
        pointing=None if case.aim is None else pointing_at(case, case.aim),
        limit=dialled.limit if dialled else "",
        notes=tuple(notes),
        table=tuple(along.rows(case)),
        settings=details.settings(case),
    )


def pointing_at(case: Case, i: int) -> Pointing:
    """Where the object stands at one sample."""
    track = case.scene.track
    return Pointing(
        time=case.time(float(case.scene.time_s[i])),
        azimuth_deg=float(track.azimuth_deg[i]),
        altitude_deg=float(track.altitude_deg[i]),
        refracted_altitude_deg=float(track.refracted_altitude_deg[i]),
        ra_icrs_deg=float(track.ra_icrs_deg[i]),
        dec_icrs_deg=float(track.dec_icrs_deg[i]),
        ra_of_date_deg=float(track.ra_of_date_deg[i]),
        dec_of_date_deg=float(track.dec_of_date_deg[i]),
    )
