"""What an operator's ephemeris changes about how far times can be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import growth
from passes.constants import SECONDS_PER_DAY
from passes.elements import Catalogue
from passes.forecast.changeover import Joined
from passes.forecast.errors_in_time import Uncertainty
from passes.model import Flags, Growth, Span, Track

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: How the error of an operator's own prediction grows from the day it is made, its
#: manoeuvres included: a tenth of a second, and 0.15 s more each day, for the air is
#: foreseen no better by anybody (assumption; operators rarely publish a figure).
LAW = Growth(
    basis="ephemeris",
    sigma0_s=0.1,
    sigma1_s=0.15,
    bound0_s=0.2,
    bound1_s=0.3,
    power=1.0,
    cross0_km=0.1,
    cross1_km=0.1,
)
#: Caveats about elements that do not hold where none were used.
_OF_ELEMENTS = Flags.STALE_ELEMENTS | Flags.CLASS_SIGMA | Flags.MANOEUVRES


@dataclass(frozen=True, slots=True, eq=False)
class Overlay:
    """Stretches of time of some rows, ``(k,)``: what was published of them.

    ``covered`` from end to end; ``changed`` where the source changes inside;
    ``age_days`` since the ephemeris was made, nan where none covers.
    """

    covered: Bools
    changed: Bools
    age_days: Floats

    def ages(self, age_days: Floats) -> Floats:
        """Ages of what places rest on."""
        return np.where(self.covered, self.age_days, age_days)

    def errors(self, by_elements: Uncertainty) -> Uncertainty:
        """Errors, the operator's where it covers all."""
        sigma, bound, cross = growth.errors(LAW, self.age_days)
        return Uncertainty(
            np.where(self.covered, sigma, by_elements.timing_sigma_s),
            np.where(self.covered, bound, by_elements.timing_bound_s),
            np.where(self.covered, cross, by_elements.cross_track_sigma_km),
        )

    def flags(self, bits: Ints) -> Ints:
        """Flags, with the change-over and without what concerns elements alone."""
        bits = np.where(self.covered, bits & ~int(_OF_ELEMENTS), bits)
        return np.where(self.changed, bits | int(Flags.CHANGE_OVER), bits)


def overlay(
    catalogue: Catalogue, row: Ints, start: datetime, begin_s: Floats, end_s: Floats
) -> Overlay | None:
    """What was published for stretches of rows ``(k,)``; None where nothing was."""
    held = catalogue.ephemerides
    if not held:
        return None
    covered, changed = np.zeros((2, row.size), dtype=np.bool_)
    age_days = np.full(row.size, np.nan)
    for one, source in held.items():
        here = np.flatnonzero(row == one)
        if not here.size or not isinstance(source, Joined):
            continue
        begin, end = begin_s[here], end_s[here]
        changed[here] = source.changed(start, begin, end)
        covered[here], made_s = source.covered(start, begin, end)
        age_days[here] = ((begin + end) / 2.0 - made_s) / SECONDS_PER_DAY
    return Overlay(covered, changed, np.where(covered, age_days, np.nan))


def growth_by_operator(catalogue: Catalogue, window: Span) -> Growth | None:
    """How the first row's error grows, where an ephemeris serves the whole window."""
    length = np.array([(window.end - window.start).total_seconds()])
    row = np.zeros(1, dtype=np.int64)
    found = overlay(catalogue, row, window.start, np.zeros(1), length)
    return LAW if found is not None and found.covered[0] else None


def told(track: Track, catalogue: Catalogue) -> Track:
    """The track of the only object of a catalogue, with what its operator changes."""
    ends = track.time_s[[0]], track.time_s[[-1]]
    found = overlay(catalogue, np.zeros(1, dtype=np.int64), track.start, *ends)
    if found is None:
        return track
    bits = sum(int(flag) for flag in Flags if flag.names[0] in track.flags)
    flags = Flags(int(found.flags(np.array([bits], dtype=np.int64))[0])).names
    if not found.covered[0]:
        return replace(track, flags=flags)
    age_days = float(found.age_days[0])
    sigma_s, bound_s, cross_km = growth.errors(LAW, age_days)
    return replace(
        track,
        timing_sigma_s=float(sigma_s),
        timing_bound_s=float(bound_s),
        cross_track_sigma_km=float(cross_km),
        element_age_days=age_days,
        flags=flags,
    )
