"""What an exposure is worth by the second at which it opens, crossings considered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import trail
from passes.model import Crossing, Sub
from passes_plugins.streaks.assessing import Assessment, Judged
from passes_plugins.streaks.belonging import (
    jitter_s,
    met,
    sideways_chance,
    time_sigma_s,
)
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.looks import Found, Paths, Stays
from passes_plugins.streaks.marks import Verdict, sizes_of, trails_of, verdicts_of

Floats = NDArray[np.float64]

#: What is kept of an exposure by its verdict (common practice, no source): rejection
#: costs a few pixels, a faint residue little, a spoiled sub is thrown away.
WEIGHTS: dict[str | None, float] = {
    None: 1.0,
    "clean": 1.0,
    "unknown": 1.0,
    "faint": 0.98,
    "removable": 0.99,
    "spoiled": 0.0,
}
#: Chances further out than so many sigma are none.
_REACH = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Threats:
    """Lit crossings of one frame as columns ``(m,)``, seconds from a common start.

    ``verdicts`` are what each would make of an exposure of one kind.
    """

    crossings: tuple[Crossing, ...]
    entry_s: Floats
    exit_s: Floats
    sigma_s: Floats
    sideways: Floats
    verdicts: tuple[Verdict | None, ...]


def threats(
    assessment: Assessment, found: Found, frame: Frame, subs: Sequence[Sub]
) -> Threats:
    """What the crossings of a look would do to exposures like ``subs`` (of one kind).

    The light of each crossing is that of the sub nearest in time, the whole stay being
    exposed as far as the exposure is long enough.
    """
    origin = assessment.judged[0].sub.start
    if not found.every:
        empty = np.zeros(0)
        return Threats((), empty, empty, empty, empty, ())
    paths = Paths(found.every)
    stays, some = met(found, paths, frame, assessment.site)
    shift = (paths.origin - origin).total_seconds()
    return Threats(
        crossings=tuple(some),
        entry_s=stays.entry_s + shift,
        exit_s=stays.exit_s + shift,
        sigma_s=time_sigma_s(some, frame),
        sideways=sideways_chance(some, frame, assessment.site, stays.beside),
        verdicts=_verdicts(assessment, some, stays, stays.entry_s + shift, frame, subs),
    )


def _verdicts(
    assessment: Assessment,
    crossings: Sequence[Crossing],
    stays: Stays,
    entry_s: Floats,
    frame: Frame,
    subs: Sequence[Sub],
) -> tuple[Verdict | None, ...]:
    exposures = assessment.exposures
    if not crossings or exposures is None:
        return ()
    origin = assessment.judged[0].sub.start
    row_of = {one.sub.index: row for row, one in enumerate(assessment.judged)}
    rows = np.array([row_of[sub.index] for sub in subs])
    opens = np.array([(sub.start - origin).total_seconds() for sub in subs])
    near = np.abs(opens[np.newaxis, :] - entry_s[:, np.newaxis]).argmin(axis=1)
    row = rows[near]
    dwell = np.minimum(stays.exit_s - stays.entry_s, exposures.exposure_s[row])
    sizes = np.nan_to_num(sizes_of(crossings, assessment.choices))
    light = trails_of(row, crossings, dwell, exposures, sizes, frame.size_px)
    return tuple(
        verdicts_of(
            light.signal_to_noise,
            light.saturated,
            light.percent,
            exposures.like[row],
            np.array([one.sunlit for one in crossings], dtype=bool),
            assessment.choices,
        )
    )


def expected_weight(threats: Threats, sub: Sub, opens_s: Floats) -> Floats:
    """The weight to be expected of an exposure like ``sub``, ``(t,)``.

    ``opens_s`` is an even grid in order of time.  Crossings come independently; where
    several touch, the worst decides.
    """
    weights = np.array([WEIGHTS[word] for word in threats.verdicts])
    untouched = np.zeros(opens_s.size)  # log of the chance that nothing so bad comes
    expected, before = np.zeros(opens_s.size), np.ones(opens_s.size)
    for level in sorted(set(weights[weights < 1.0].tolist())):
        for i in np.flatnonzero(weights == level).tolist():
            _add(untouched, threats, i, sub, opens_s)
        after = np.exp(untouched)
        expected += level * (before - after)
        before = after
    return np.asarray(expected + before)


def _add(
    untouched: Floats, threats: Threats, i: int, sub: Sub, opens_s: Floats
) -> None:
    """Add one crossing to the log of the chance of being left alone."""
    spread = max(float(np.hypot(threats.sigma_s[i], jitter_s(sub))), 1e-3)
    entry, leave = float(threats.entry_s[i]), float(threats.exit_s[i])
    low = np.searchsorted(opens_s, entry - sub.exposure_s - _REACH * spread)
    high = np.searchsorted(opens_s, leave + _REACH * spread)
    opens = opens_s[low:high]
    chance = threats.sideways[i] * trail.within(
        (opens - leave) / spread, (opens + sub.exposure_s - entry) / spread
    )
    untouched[low:high] += np.log1p(-np.clip(chance, 0.0, 1.0 - 1e-12))


def weight_of(judged: Judged) -> float:
    """The weight to be expected of a sub as judged; the worst of its marks decides."""
    marks = [(WEIGHTS[mark.verdict], mark.chance) for mark in judged.marks]
    expected, untouched = 0.0, 1.0
    for weight, chance in sorted(marks):
        expected += weight * untouched * chance
        untouched *= 1.0 - chance
    return expected + untouched
