"""Why these settings: transits of the Moon and the Sun."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

from passes.model import Note
from passes_plugins.imaging.cautions import cautions, checklist, missing, note
from passes_plugins.imaging.shutter_words import binding
from passes_plugins.imaging.words import recording, target

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.transit import Disc


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
    rate = "lunar" if disc.body == "moon" else "solar"
    text = f"Track at the {rate} rate"
    if disc.fits(min(case.bench.width_deg, case.bench.height_deg)):
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
