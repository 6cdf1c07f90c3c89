"""The camera clock's offset, from streaks whose makers are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, nan

import numpy as np

from passes_plugins.streaks.candidates import Candidate, Identification

#: No streak tells the time better than this, s.
_LEAST_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockOffset:
    """How far the camera's clock was ahead, with one sigma; from so many streaks.

    Where no streak fixes a moment, ``low_s`` and ``high_s`` are all that is known.
    """

    offset_s: float
    sigma_s: float
    low_s: float
    high_s: float
    streaks: int


def clock_offset(found: Sequence[Identification]) -> ClockOffset | None:
    """From two or more streaks that are named; None from fewer."""
    named = [one.named for one in found if one.named is not None]
    if len(named) < 2:
        return None
    spans = [one.timing.span_s for one in named if not one.timing.fixed]
    offset_s, sigma_s = _weighed([one for one in named if one.timing.fixed])
    return ClockOffset(
        offset_s=offset_s,
        sigma_s=sigma_s,
        low_s=max((low for low, _ in spans), default=-inf),
        high_s=min((high for _, high in spans), default=inf),
        streaks=len(named),
    )


def _weighed(timed: Sequence[Candidate]) -> tuple[float, float]:
    """Mean of what streaks that fix a moment say, and its sigma; nan from none."""
    if not timed:
        return nan, nan
    late = np.array([one.timing.late_s for one in timed])
    known = np.nan_to_num([one.crossing.timing_sigma_s for one in timed])
    weight = np.maximum(known, _LEAST_S) ** -2.0
    mean = float(np.average(late, weights=weight))
    sigma = float(weight.sum() ** -0.5)
    if len(timed) > 1:  # as far apart as they are, if that is more than sigmas say
        spread = float(np.sum(weight * (late - mean) ** 2) / (len(timed) - 1))
        sigma *= max(spread, 1.0) ** 0.5
    return mean, sigma
