"""Who made a streak: every object that may have, weighed against none of them.

Each candidate's chance is Bayes' rule over what is seen of the streak.  For an object
the offset from its path, the angle to it, the time and the length are errors of the
object's own sigmas and bounds; for whatever is not catalogued (or is no satellite)
they are spread evenly over field, angles and exposure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from math import nan, radians

import numpy as np

from passes import trail
from passes.constants import ARCSEC_PER_RAD
from passes.contributions import Services
from passes.model import Crossing, LineOfSight, Site, Span
from passes_plugins.streaks.candidates import Candidate, Identification, Streak
from passes_plugins.streaks.fitting import fits, time_odds

#: Streaks of things not catalogued, for each that one lit object is expected to leave
#: (common practice, no source).
_OTHERS = 0.1
#: An object in the Earth's shadow leaves a streak only if light or time is off.
_UNLIT = 0.02
#: Searched around the streak and on either side of the exposure.
_AROUND_DEG, AROUND_S = 1.0, 120.0
#: And as far as so many sigmas of the clock.
_CLOCKS = 3.0


def identify(streak: Streak, services: Services) -> Identification:
    """Search around a streak and weigh what crosses there."""
    ra_deg, dec_deg, length_deg = streak.middle()
    line = LineOfSight.of_field(
        ra_deg, dec_deg, radius_deg=0.5 * length_deg + _AROUND_DEG
    )
    around = timedelta(seconds=max(AROUND_S, _CLOCKS * streak.clock_sigma_s))
    window = Span(start=streak.start - around, end=streak.end + around)
    crossings = list(services.crossings(line, window=window))
    return weighed(streak, crossings, services.site)


def weighed(
    streak: Streak, crossings: Sequence[Crossing], site: Site
) -> Identification:
    """The chance of each crossing, and of none, to have made a streak."""
    if not crossings:
        return Identification(streak=streak, candidates=(), none_chance=1.0)
    every = list(fits(streak, crossings, site))
    ratios = np.array([_odds(streak, one) for one in every])
    whole = ratios.sum() + _OTHERS
    found = [
        _with_chance(one, float(ratio / whole))
        for one, ratio in zip(every, ratios, strict=True)
    ]
    found.sort(key=lambda one: (-one.chance, one.sigmas))
    return Identification(
        streak=streak, candidates=tuple(found), none_chance=float(_OTHERS / whole)
    )


def _with_chance(one: Candidate, chance: float) -> Candidate:
    return replace(one, chance=chance)


def _odds(streak: Streak, one: Candidate) -> float:
    """How much likelier what is seen is from this object than from anything else."""
    offset = trail.density(one.offset_deg, one.offset_sigma_deg, one.offset_bound_deg)
    turn = trail.density(one.turn_deg, one.turn_sigma_deg, nan)
    path = float(offset) * streak.field_deg * float(turn) * 180.0
    lit = 1.0 if one.crossing.sunlit else _UNLIT
    return path * time_odds(streak, one.timing) * lit


def arcsec(angle_deg: float) -> float:
    """Degrees as arcseconds."""
    return radians(angle_deg) * ARCSEC_PER_RAD
