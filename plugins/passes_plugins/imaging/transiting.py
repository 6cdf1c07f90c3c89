"""Advice for a transit: the disc's brightness, the object's speed, a short burst."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import numpy as np

from passes.model import Event, Note
from passes_plugins.imaging import transit_words
from passes_plugins.imaging.case import Case
from passes_plugins.imaging.light import subject_light
from passes_plugins.imaging.recording import recording_of
from passes_plugins.imaging.remedies import options
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.transit import Disc

#: A burst reaches so far beyond the bound on either side, s (common practice).
_MARGIN_S = 5.0


def transit_case(case: Case, disc: Disc) -> tuple[Case, list[Note]]:
    """The case with shutter, gain and burst filled in, and what to say."""
    subject = case.briefing.subject
    assert isinstance(subject, Event)
    begin = case.scene.track.start
    best_s = (subject.best - begin).total_seconds()
    i = int(np.abs(case.scene.time_s - best_s).argmin())
    shot = _shot(case, disc, i)
    bound = subject.timing_bound_s
    around = (case.bound_s if isnan(bound) else bound) + _MARGIN_S
    start = (subject.start - begin).total_seconds() - around
    stop = (subject.end - begin).total_seconds() + around
    case = replace(
        case,
        way="fixed",
        best=i,
        shot=shot,
        recording=recording_of(case.bench, shot.exposure_s, stop - start),
        start_s=start,
        stop_s=stop,
        aim=i,
    )
    case = replace(case, options=options(case))
    return case, transit_words.transit_notes(case, disc)


def _shot(case: Case, disc: Disc, i: int) -> Shot:
    """By the same rule as any other, of the disc's light; a disc has no glints."""
    choices, bench = replace(case.choices, keep_glints=False), case.bench
    return shoot(
        bench, choices, subject_light(case.scene, bench, choices, "fixed", i, disc)
    )
