"""The camera clock's offset, from streaks whose makers are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from passes_plugins.streaks.identifying import Identification


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
    low = max((one.late_span_s[0] for one in named if not one.timed), default=-inf)
    high = min((one.late_span_s[1] for one in named if not one.timed), default=inf)
    timed = [one for one in named if one.timed]
    if not timed:
        return ClockOffset(
            offset_s=float("nan"),
            sigma_s=float("nan"),
            low_s=low,
            high_s=high,
            streaks=len(named),
        )
    late = np.array([one.late_s for one in timed])
    weight = np.array(
        [max(float(np.nan_to_num(o.crossing.timing_sigma_s)), 0.05) for o in timed]
    )
    weight = weight**-2.0
    mean = float(np.average(late, weights=weight))
    sigma = float(weight.sum() ** -0.5)
    if (
        len(timed) > 1
    ):  # as far apart as they are, if that is more than their sigmas say
        spread = float(np.sum(weight * (late - mean) ** 2) / (len(timed) - 1))
        sigma *= max(spread, 1.0) ** 0.5
    return ClockOffset(
        offset_s=mean, sigma_s=sigma, low_s=low, high_s=high, streaks=len(named)
    )
