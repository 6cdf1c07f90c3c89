"""Why these settings: trails of wide lenses, and transits."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes.model import Note
from passes_plugins.imaging.cautions import cautions, checklist, missing, note
from passes_plugins.imaging.shutter_words import binding, count
from passes_plugins.imaging.words import recording, target, time_of

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case
    from passes_plugins.imaging.transit import Disc
    from passes_plugins.imaging.wide import Trail


def wide_notes(case: Case) -> list[Note]:
    """Everything worth saying about a trail over a landscape."""
    trail, bench = case.trail, case.bench
    assert trail is not None
    known = isfinite(bench.rig.aperture_mm)
    notes = [
        *target(case),
        note(
            "why",
            f"It enters the frame at {time_of(case, trail.entry)} and leaves it at "
            f"{time_of(case, trail.exit)}: a trail of {trail.length_deg:.0f}° or "
            f"{trail.length_px:,.0f} px; "
            f"{trail.count} exposures; the gap between two of them is "
            f"{trail.gap_px:.0f} px ({trail.gap_s:.2f} s). Switch long-exposure noise "
            "reduction off, or every second exposure is lost.",
        ),
        note(
            "why", f"Stars stay points up to {_points(trail)}; longer ones trail too."
        ),
    ]
    if known:
        notes += list(_wide_light(case))
    return [*notes, *missing(case), *checklist(case), *cautions(case)]


def _points(trail: Trail) -> str:
    if isnan(trail.npf_s):
        return f"{trail.rule_500_s:.0f} s by the rule of 500"
    return (
        f"{trail.npf_s:.1f} s (full formula; short {trail.npf_simple_s:.1f} s, rule of "
        f"500 {trail.rule_500_s:.0f} s)"
    )


def _wide_light(case: Case) -> Iterator[Note]:
    trail = case.trail
    assert trail is not None
    contrast = 10.0 ** (-0.4 * (trail.trail_mag_arcsec2 - trail.sky_frame_mag_arcsec2))
    yield note(
        "why",
        f"The sky fills a third of the well in {trail.sky_third_s:.3g} s; in one "
        f"exposure it leaves {count(trail.sky_e)} e⁻ a pixel, the trail "
        f"{count(trail.trail_e)}, whatever the exposure: {count(contrast)} times "
        "the sky.",
    )
    if trail.trail_fill > 1.0:
        stop = case.bench.rig.f_number * float(np.sqrt(trail.trail_fill / 0.7))
        yield note(
            "why",
            f"The trail fills the well {count(trail.trail_fill)} times over at its "
            f"brightest: white, its colour lost; f/{stop:.1f} would keep it.",
            well_filled=trail.trail_fill,
        )
    yield note(
        "why",
        f"A point moving so fast is seen down to magnitude {trail.limiting_mag:.1f}.",
        limiting_magnitude=trail.limiting_mag,
    )


def transit_notes(case: Case, disc: Disc) -> list[Note]:
    """Everything worth saying about a transit."""
    return [
        *_solar(disc),
        *target(case),
        note(
            "why",
            f"The disc sets the exposure ({disc.mag_arcsec2:.1f} mag/arcsec²"
            + (", behind a filter of density 5)" if disc.body == "sun" else ")")
            + f"; in front of it for {disc.duration_s:.2f} s.",
        ),
        *binding(case),
        *_aim(case, disc),
        *recording(case),
        *_burst(case, disc),
        *missing(case),
        *checklist(case),
        *cautions(case),
    ]


def _solar(disc: Disc) -> Iterator[Note]:
    if disc.body == "sun":
        yield note(
            "caution",
            "Sun: a certified full-aperture solar filter on every instrument and "
            "finder, before it points there; never look or point unfiltered; cover "
            "while slewing.",
            "warning",
        )


def _aim(case: Case, disc: Disc) -> Iterator[Note]:
    from passes_plugins.imaging.transiting import fits

    rate = "lunar" if disc.body == "moon" else "solar"
    text = f"Track at the {rate} rate"
    if fits(case, disc):
        text += "; the whole disc is on the chip: centre it"
    elif isfinite(disc.offset_radii):
        off = abs(disc.offset_radii) * disc.diameter_arcsec / 120.0
        text += f"; the disc does not fit: aim {off:.1f}′ from its centre"
        if isfinite(disc.towards_deg):
            text += f" towards position angle {disc.towards_deg:.0f}°"
        text += ", where the chord is"
    else:
        text += "; the disc does not fit the chip: aim at the chord's middle"
    yield note("why", f"{text}.")


def _burst(case: Case, disc: Disc) -> Iterator[Note]:
    found = case.recording
    if found is None or isnan(found.frame_rate_hz):
        return
    yield note(
        "why",
        f"{found.frame_rate_hz * disc.duration_s:.0f} of the frames have the object in "
        "front of the disc.",
        frames=found.frame_rate_hz * disc.duration_s,
    )
