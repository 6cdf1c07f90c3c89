"""Why these settings: trails of wide lenses."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes.model import Note
from passes_plugins.imaging.case import time_of
from passes_plugins.imaging.cautions import cautions, checklist, missing, note
from passes_plugins.imaging.shutter_words import count
from passes_plugins.imaging.words import target

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.wide import Look, Trail


def wide_notes(case: Case) -> list[Note]:
    """Everything worth saying about a trail over a landscape."""
    trail = case.trail
    assert trail is not None
    notes = [*target(case), _path(case, trail), _stars(trail)]
    if isfinite(case.bench.rig.aperture_mm):
        notes += list(_light(case, trail))
    return [*notes, *missing(case), *checklist(case), *cautions(case)]


def _path(case: Case, trail: Trail) -> Note:
    framing = trail.framing
    return note(
        "why",
        f"It enters the frame at {time_of(case, framing.entry)} and leaves it at "
        f"{time_of(case, framing.exit)}: a trail of {framing.length_deg:.0f}° or "
        f"{trail.length_px:,.0f} px; the gap between two exposures is "
        f"{trail.gap_px:.0f} px ({trail.gap_s:.2f} s). Long-exposure noise reduction "
        "off, or every second exposure is lost.",
    )


def _stars(trail: Trail) -> Note:
    limits = trail.stars
    text = f"{limits.rule_500_s:.0f} s by the rule of 500"
    if not isnan(limits.npf_s):
        text = (
            f"{limits.npf_s:.1f} s (full formula; short {limits.npf_simple_s:.1f} s, "
            f"rule of 500 {limits.rule_500_s:.0f} s)"
        )
    return note("why", f"Stars stay points up to {text}; longer ones trail too.")


def _light(case: Case, trail: Trail) -> Iterator[Note]:
    look = trail.look
    brightest = float(case.scene.track.magnitude[trail.framing.nearest])
    contrast = 10.0 ** (-0.4 * (look.trail_mag_arcsec2 - look.sky_mag_arcsec2))
    yield note(
        "why",
        f"The sky fills a third of the well in {trail.sky_third_s:.3g} s; in one "
        f"exposure it leaves {count(look.sky_e)} e⁻ a pixel, the trail "
        f"{count(look.trail_e)}: {count(contrast)} times the sky.",
    )
    yield from _overfilled(case, look)
    hidden = brightest > look.limiting_mag
    yield note(
        "why",
        f"A point moving so fast is seen down to magnitude {look.limiting_mag:.1f}"
        + (": this one is fainter, and no trail will show." if hidden else "."),
        "warning" if hidden else "info",
        limiting_magnitude=look.limiting_mag,
    )


def _overfilled(case: Case, look: Look) -> Iterator[Note]:
    """From which stop on the trail keeps its colour."""
    if look.trail_fill <= 1.0:
        return
    stop = case.bench.rig.f_number * float(np.sqrt(look.trail_fill / 0.7))
    yield note(
        "why",
        f"The trail fills the well {count(look.trail_fill)} times over at its "
        f"brightest: white, its colour lost; f/{stop:.1f} would keep it.",
        well_filled=look.trail_fill,
    )
