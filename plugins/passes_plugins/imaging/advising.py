"""The adviser: one briefing in, one advice out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import isnan, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from passes.model import Advice, Event, Note, Passage, Pointing
from passes_plugins.imaging import along, details, trail_words, words
from passes_plugins.imaging.bench import Bench, bench_of
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.following import Following, blind_chance, following_of
from passes_plugins.imaging.ground import Ground, ground_of
from passes_plugins.imaging.recording import Recording, recording_of
from passes_plugins.imaging.scene import Scene, scene_of
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.transit import disc_of
from passes_plugins.imaging.waiting import Place, places_of
from passes_plugins.imaging.wide import Trail, trail_of

if TYPE_CHECKING:
    from passes.contributions import Briefing

#: A Sun with its upper limb on the horizon stands this low (USNO's definition).
SUN_RISEN_DEG = -50.0 / 60.0
#: Where nothing is known of the lateness, this stands in for its bound, s.
_BOUND_UNKNOWN_S = 30.0
#: A shorter stretch is over before a mount has settled on it, s (common practice).
_SETTLING_S = 10.0
#: In the penumbra an object fades within seconds; its best moment lies outside.
_LIT_IN_FULL = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """Everything that the sums found for one rig and one subject."""

    briefing: Briefing
    choices: Choices
    bench: Bench
    scene: Scene
    way: str = "fixed"
    best: int = 0
    following: Following | None = None
    shot: Shot | None = None
    places: tuple[Place, ...] = ()
    trail: Trail | None = None
    recording: Recording | None = None
    blind: tuple[float, float] = (nan, nan)
    start_s: float = nan
    stop_s: float = nan
    aim: int | None = None

    def time(self, seconds: float) -> datetime | None:
        """A time of the track; None where it is unknown."""
        if isnan(seconds):
            return None
        return self.scene.track.start + timedelta(seconds=float(seconds))

    @property
    def bound_s(self) -> float:
        """The 95 % bound of the lateness, or what stands in for it."""
        bound = self.scene.track.timing_bound_s
        return _BOUND_UNKNOWN_S if isnan(bound) else bound


def advise(briefing: Briefing) -> Advice:
    """Settings for one subject and one rig, the reasons, and the cautions."""
    choices = Choices.of(briefing.settings)
    bench = bench_of(briefing.rig, choices)
    scene = _away_from_sun(scene_of(briefing, bench, choices), choices)
    case = Case(briefing, choices, bench, scene)
    disc = disc_of(briefing.subject)
    if disc is not None:
        from passes_plugins.imaging.transiting import transit_case

        return _advice(*transit_case(case, disc))
    if not scene.usable.any():
        return _nothing(case)
    if bench.wide:
        return _advice(*_wide_case(case))
    return _advice(*_long_case(case))


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


# --- a long rig --------------------------------------------------------------


def _long_case(case: Case) -> tuple[Case, list[Note]]:
    """Follow if the mount can, else wait; the places to wait at in either case."""
    scene, bench = case.scene, case.bench
    following = following_of(scene, bench)
    way = _way(case, following)
    ground = ground_of(scene.track, case.briefing.site)
    waiting_way = "stars" if _stars(case) else "fixed"
    places = places_of(scene, ground, bench, case.choices, waiting_way)
    case = replace(case, way=way, following=following, places=places)
    case = _follow(case, ground) if way == "follow" else _wait(case, ground)
    return case, words.long_notes(case)


def _stars(case: Case) -> bool:
    """Whether the mount would go with the stars while it waits."""
    if case.choices.mount:
        return case.choices.mount == "stars"
    return case.bench.rig.mount.kind == "equatorial"


def _way(case: Case, following: Following) -> str:
    """What the mount does during the exposure."""
    wanted = case.choices.mount
    able = not isnan(case.bench.rig.mount.tracking_error_arcsec)
    able = able and _lasts(case, following)
    if wanted in ("fixed", "stars"):
        return wanted
    if able and (case.bench.rig.mount.follows_satellites or wanted == "follow"):
        return "follow"
    return "stars" if _stars(case) else "fixed"


def _lasts(case: Case, following: Following) -> bool:
    """Whether the stretch to follow is longer than it takes to settle on it."""
    if following.stretch is None:
        return False
    first, last = following.stretch
    return bool(case.scene.time_s[last] - case.scene.time_s[first] >= _SETTLING_S)


def nearest_of(scene: Scene, first: int, last: int) -> int:
    """The sample between two at which the object is nearest, lit in full if ever."""
    index = np.arange(first, last + 1)
    index = index[scene.usable[first : last + 1]]
    full = index[np.nan_to_num(scene.track.lit_fraction[index]) >= _LIT_IN_FULL]
    index = full if full.size else index
    return int(index[np.nanargmin(scene.track.range_km[index])])


def shot_at(case: Case, i: int, way: str) -> Shot:
    """Shutter and gain at one sample."""
    scene = case.scene
    return shoot(
        case.bench,
        case.choices,
        way,
        float(scene.exposures_s[way][i]),
        float(scene.signal_e_s[i]),
        float(scene.sky_e_s[i]),
    )


def _follow(case: Case, ground: Ground) -> Case:
    assert case.following is not None
    assert case.following.stretch is not None
    first, last = case.following.stretch
    best = nearest_of(case.scene, first, last)
    shot = shot_at(case, best, "follow")
    time_s = case.scene.time_s
    lead = case.choices.lead_s
    start, stop = time_s[first] - case.bound_s, time_s[last] + case.bound_s
    return replace(
        case,
        best=best,
        shot=shot,
        blind=blind_chance(case.scene, ground, case.bench, case.choices, best),
        recording=recording_of(case.bench, shot.exposure_s, stop - start),
        start_s=float(start - lead),
        stop_s=float(stop + lead),
        aim=first,
    )


def _wait(case: Case, ground: Ground) -> Case:
    """At the best place; recording from before the earliest to after the latest."""
    index = np.flatnonzero(case.scene.usable)
    best = nearest_of(case.scene, int(index[0]), int(index[-1]))
    if not case.places:
        shot = shot_at(case, best, case.way)
        return replace(case, best=best, shot=shot, aim=best)
    place = case.places[0]
    around = case.bound_s + place.in_field_s / 2.0 + case.choices.lead_s / 2.0
    moment = float(case.scene.time_s[place.index])
    return replace(
        case,
        best=place.index,
        shot=place.shot,
        blind=blind_chance(case.scene, ground, case.bench, case.choices, best),
        recording=recording_of(case.bench, place.shot.exposure_s, 2.0 * around),
        start_s=moment - around,
        stop_s=moment + around,
        aim=place.index,
    )


# --- a wide lens -------------------------------------------------------------


def _wide_case(case: Case) -> tuple[Case, list[Note]]:
    trail = trail_of(case.scene, case.bench, case.choices)
    if trail is None:
        return _long_case(case)
    time_s = case.scene.time_s
    lead = case.choices.lead_s + case.bound_s
    case = replace(
        case,
        trail=trail,
        best=nearest_of(case.scene, trail.entry, trail.exit),
        start_s=float(time_s[trail.entry] - lead),
        stop_s=float(time_s[trail.exit] + lead),
        aim=trail.pointing,
    )
    return case, trail_words.wide_notes(case)


# --- the answer --------------------------------------------------------------


def _advice(case: Case, notes: list[Note]) -> Advice:
    shot, trail = case.shot, case.trail
    exposure, limit, gain = nan, "", ""
    if shot is not None:
        exposure, limit, gain = shot.exposure_s, shot.limit, shot.gain.name
    if trail is not None:
        exposure, limit, gain = trail.exposure_s, trail.limit, trail.gain.name
    rate = case.recording.frame_rate_hz if case.recording else nan
    if isnan(case.bench.rig.aperture_mm):
        gain = ""
    return Advice(
        rig=case.bench.rig.name,
        subject=subject_id(case.briefing.subject),
        adviser="imaging",
        image_scale_arcsec_px=case.bench.scale_arcsec,
        exposure_s=exposure,
        frame_rate_hz=rate,
        region_px=case.bench.region_px,
        gain=gain,
        start=case.time(case.start_s),
        stop=case.time(case.stop_s),
        pointing=None if case.aim is None else pointing_at(case, case.aim),
        limit=limit,
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
