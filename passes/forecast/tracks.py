"""The track of one subject with its brightness filled in."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from passes import atmosphere, photometry, track
from passes.contributions import Illumination, Subject
from passes.elements import Catalogue
from passes.forecast.brightness import facts_of
from passes.forecast.sampled import Model, sky_of
from passes.model import Crossing, Flags, Growth, Passage, Site, Span, Track

Floats = NDArray[np.float64]

#: A crossing lasts seconds: this much before and after is sampled with it.
_AROUND_S = 30.0


def times_of(subject: Subject) -> Span:
    """The stretch of time that a subject's track covers, from a whole second."""
    span = _stretch(subject)
    return Span(start=span.start.replace(microsecond=0), end=span.end)


def _stretch(subject: Subject) -> Span:
    if isinstance(subject, Passage):
        return Span(start=subject.start, end=subject.end)
    around = timedelta(seconds=_AROUND_S)
    if isinstance(subject, Crossing):
        return Span(start=subject.entry.time - around, end=subject.exit.time + around)
    if subject.end - subject.start < 2 * around:
        return Span(start=subject.start - around, end=subject.end + around)
    return Span(start=subject.start, end=subject.end)


def lit_track(
    catalogue: Catalogue,
    site: Site,
    start: datetime,
    time_s: Floats,
    model: Model,
    growth: Growth,
) -> Track:
    """Track of the only object of a catalogue at times from ``start``, lit."""
    bare = track.sample_track(catalogue, 0, site, start, time_s, growth=growth)
    facts = facts_of(catalogue)
    brightness = model(
        Illumination(
            facts=facts,
            object_index=np.zeros(len(time_s), dtype=np.int64),
            range_km=bare.range_km,
            phase_angle_rad=np.radians(bare.phase_angle_deg),
            altitude_rad=np.radians(bare.altitude_deg),
        )
    )
    lit = np.where(bare.lit_fraction > 0.0, bare.lit_fraction, np.nan)
    above = photometry.dim_by_fraction(brightness.magnitude, lit)
    path = atmosphere.airmass(np.radians(np.maximum(bare.altitude_deg, 0.0)))
    caveats = {
        Flags.CLASS_MAGNITUDE: brightness.class_average[0],
        Flags.MODEL_FAILED: model.failed,
    }
    extra = [name for flag, on in caveats.items() if on for name in flag.names]
    return replace(
        bare,
        object_class=facts[0].object_class,
        magnitude_above_atmosphere=above,
        magnitude=above + sky_of(site)[1] * path,
        magnitude_sigma=brightness.sigma,
        magnitude_basis=brightness.basis[0],
        flags=(*bare.flags, *extra),
    )
