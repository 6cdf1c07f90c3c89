"""Advice for a transit: the disc's brightness, the object's speed, a short burst."""

from __future__ import annotations

from dataclasses import replace
from math import isnan
from typing import TYPE_CHECKING

import numpy as np

from passes import sensor
from passes.model import Event, Note
from passes_plugins.imaging import trail_words
from passes_plugins.imaging.recording import recording_of
from passes_plugins.imaging.shot import shoot
from passes_plugins.imaging.transit import Disc

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case

#: A burst reaches so far beyond the bound on either side, s (common practice).
_MARGIN_S = 5.0


def transit_case(case: Case, disc: Disc) -> tuple[Case, list[Note]]:
    """The case with shutter, gain and burst filled in, and what to say."""
    subject = case.briefing.subject
    assert isinstance(subject, Event)
    scene, bench = case.scene, case.bench
    best_s = (subject.best - scene.track.start).total_seconds()
    i = int(np.abs(scene.time_s - best_s).argmin())
    light = sensor.electrons_s(
        disc.mag_arcsec2, bench.area_m2, bench.filter.width_nm, bench.efficiency
    )
    signal = float(light) * bench.scale_arcsec**2
    motion_s = float(scene.exposures_s["fixed"][i])
    # A solar filter stops the sky as well; the Moon is seen through it, by day too.
    sky = float(scene.sky_e_s[i]) if disc.body == "moon" else 0.0
    shot = shoot(bench, case.choices, "fixed", motion_s, signal, sky)
    bound = subject.timing_bound_s
    around = (case.bound_s if isnan(bound) else bound) + _MARGIN_S
    start = (subject.start - scene.track.start).total_seconds() - around
    stop = (subject.end - scene.track.start).total_seconds() + around
    case = replace(
        case,
        way="fixed",
        best=i,
        shot=shot,
        recording=recording_of(bench, shot.exposure_s, stop - start),
        start_s=start,
        stop_s=stop,
        aim=i,
    )
    return case, trail_words.transit_notes(case, disc)


def fits(case: Case, disc: Disc) -> bool:
    """Whether the whole disc is on the chip."""
    side = 3600.0 * min(case.bench.width_deg, case.bench.height_deg)
    return disc.diameter_arcsec <= side
