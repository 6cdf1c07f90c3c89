"""A long rig: follow if the mount can, else wait; the places to wait at in any case."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import numpy as np

from passes.model import Note
from passes_plugins.imaging import words
from passes_plugins.imaging.case import Case, nearest_of, shot_at
from passes_plugins.imaging.following import Following, blind_of, following_of
from passes_plugins.imaging.ground import Ground, ground_of
from passes_plugins.imaging.recording import recording_of
from passes_plugins.imaging.remedies import options
from passes_plugins.imaging.riding import aside_arcmin
from passes_plugins.imaging.waiting import (
    Place,
    Waiting,
    place_at,
    places_of,
    waiting_of,
)

#: A shorter stretch is over before a mount has settled on it, s (common practice).
_SETTLING_S = 10.0


def long_case(case: Case) -> tuple[Case, list[Note]]:
    """The case with pointing, shutter and recording filled in, and what to say."""
    following = following_of(case.scene, case.bench)
    ground = ground_of(case.scene.track, case.briefing.site)
    case = replace(case, way=_way(case, following), following=following)
    case = replace(case, places=_places(case, ground))
    case = _follow(case, ground) if case.way == "follow" else _wait(case)
    case = replace(case, options=options(case))
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
    if case.lead is not None and (able or case.lead.way != "follow"):
        return case.lead.way
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


def _aside(case: Case) -> tuple[float, float]:
    lead = None if case.lead is None else case.lead.rig
    return aside_arcmin(case.bench.rig, lead)


def _places(case: Case, ground: Ground) -> tuple[Place, ...]:
    """Where to wait: the best places, or where the leading rig does."""
    way = "stars" if _stars(case) else "fixed"
    if case.lead is None or case.lead.time is None or case.way == "follow":
        return places_of(_waiting(case, ground, way, (0.0, 0.0)))
    there = (case.lead.time - case.scene.track.start).total_seconds()
    i = int(np.abs(case.scene.time_s - there).argmin())
    return (place_at(_waiting(case, ground, case.way, _aside(case)), i),)


def _waiting(
    case: Case, ground: Ground, way: str, aside: tuple[float, float]
) -> Waiting:
    return waiting_of(case.scene, ground, case.bench, case.choices, way, aside)


def _follow(case: Case, ground: Ground) -> Case:
    assert case.following is not None
    assert case.following.stretch is not None
    first, last = case.following.stretch
    best = nearest_of(case.scene, first, last)
    shot = shot_at(case, best, "follow")
    time_s, lead = case.scene.time_s, case.choices.lead_s
    start, stop = time_s[first] - case.bound_s, time_s[last] + case.bound_s
    return replace(
        case,
        best=best,
        shot=shot,
        blind=blind_of(
            case.scene, ground, case.bench, case.choices, best, _aside(case)
        ),
        recording=recording_of(case.bench, shot.exposure_s, stop - start),
        start_s=float(start - lead),
        stop_s=float(stop + lead),
        aim=first,
    )


def _wait(case: Case) -> Case:
    """At the best place; recording from before the earliest to after the latest."""
    if not case.places:
        index = np.flatnonzero(case.scene.usable)
        best = nearest_of(case.scene, int(index[0]), int(index[-1]))
        return replace(case, best=best, shot=shot_at(case, best, case.way), aim=best)
    place = case.places[0]
    around = case.bound_s + place.in_field_s / 2.0 + case.choices.lead_s / 2.0
    moment = float(case.scene.time_s[place.index])
    return replace(
        case,
        best=place.index,
        shot=place.shot,
        recording=recording_of(case.bench, place.shot.exposure_s, 2.0 * around),
        start_s=moment - around,
        stop_s=moment + around,
        aim=place.index,
    )
