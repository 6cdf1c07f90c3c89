"""Samples along every pass of a table, close enough to interpolate to a metre."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.errors import InputError
from passes.finder.mean import DEEP_PERIOD_S, outlook
from passes.finder.table import PassTable
from passes.orbits import Propagator
from passes.orbits.lagrange import POINTS, between

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Samples a revolution in deep space, even in eccentric anomaly, and the longest time
#: between two, both for a step of 20 s near the Earth; another step scales them.
_DEEP_SAMPLES, _DEEP_GAP_S, _USUAL_STEP_S = 288, 300.0, 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Places along passes, in order of pass and time.

    Pass ``i`` of the table owns samples ``offsets[i]`` up to ``offsets[i + 1]``, of
    which the first and the last are its ends.  Positions ``(m, 3)`` are TEME in km,
    velocities ``(m, 3)`` in km/s, ``passage`` and ``time_s`` ``(m,)``.
    """

    offsets: Ints
    passage: Ints
    time_s: Floats
    position_km: Floats
    velocity_km_s: Floats

    def at(self, passage: ArrayLike, time_s: ArrayLike) -> Floats:
        """Positions of passes ``(k,)`` at times ``(k,)`` within each, ``(k, 3)`` km.

        Interpolated through six samples, to better than a metre; a second or two
        beyond the ends of a pass will do too.
        """
        return between(self.time_s, self.position_km, self.offsets, passage, time_s)


def sample(
    table: PassTable,
    *,
    step_s: float = 20.0,
    least: int = 9,
    fast: bool | None = None,
) -> Samples:
    """Sample every pass: at both ends, and evenly between.

    Near the Earth evenly in time, at most ``step_s`` apart.  In deep space evenly
    along the orbit, at a step longer by as much as the period is: a stay of twelve
    hours takes 150 samples, and none skips a perigee.  At least ``least`` a pass.
    ``fast`` is as for :class:`passes.orbits.Propagator`.  Raises InputError for a step
    that is not above zero, or fewer samples than interpolation needs.
    """
    if not step_s > 0.0 or least < POINTS:
        raise InputError(
            f"samples every {step_s:g} s, at least {least} a pass: want a step above 0 "
            f"and at least {POINTS} samples"
        )
    counts = np.ceil((table.finish_s - table.begin_s) / step_s)
    counts = np.maximum(counts, least - 1).astype(np.int64)
    motion = table.catalogue.mean_motion_rad_min[table.row] / 60.0
    deep = np.flatnonzero(motion < 2 * pi / DEEP_PERIOD_S)
    quiet = Propagator(table.catalogue, table.start, fast=False)
    along = _Along(quiet, table, deep, step_s)
    counts[deep] = np.where(
        along.steady, np.maximum(along.counts, least - 1), counts[deep]
    )
    offsets = np.concatenate([[0], np.cumsum(counts + 1)])
    passage = np.repeat(np.arange(counts.size), counts + 1)
    share = (np.arange(passage.size) - offsets[passage]) / counts[passage]
    time_s = table.begin_s[passage] + share * (table.finish_s - table.begin_s)[passage]
    along.bend(time_s, passage, share)
    time_s[offsets[1:] - 1] = table.finish_s
    busy = Propagator(table.catalogue, table.start, fast=fast, expected=time_s.size)
    position, velocity, _ = busy.along(table.row, offsets, time_s)
    return Samples(offsets, passage, time_s, position, velocity)


class _Along:
    """Deep-space passes of a table, measured along their orbits."""

    def __init__(
        self, propagator: Propagator, table: PassTable, deep: Ints, step_s: float
    ) -> None:
        self.deep = deep
        rows, of = np.unique(table.row[deep], return_inverse=True)
        span_s = (table.end - table.start).total_seconds()
        seen = outlook(propagator, rows, span_s)
        #: Rows that SGP4 loses, or that have an ephemeris, are sampled in time.
        self.steady = (seen.steady & ~propagator.given(rows))[of]
        self.clocks = clocks = seen.orbits.clocks.take(of)
        with np.errstate(all="ignore"):  # rows that are not steady hold anything
            self.begin = clocks.ticks(table.begin_s[deep])
            self.end = clocks.ticks(table.finish_s[deep])
            scale = step_s / _USUAL_STEP_S
            longest = (1.0 + clocks.eccentricity) / clocks.rate_rad_s
            step = np.minimum(
                2 * pi / _DEEP_SAMPLES * scale, _DEEP_GAP_S * scale / longest
            )
            turned = (self.end - self.begin) * clocks.step_rad
            counts = np.where(self.steady, np.ceil(turned / step), 1.0)
        self.counts = counts.astype(np.int64)

    def bend(self, time_s: Floats, passage: Ints, share: Floats) -> None:
        """Move the inner samples of steady passes to even places along the orbit."""
        place = np.full(int(passage[-1]) + 1 if passage.size else 0, -1)
        place[self.deep[self.steady]] = np.flatnonzero(self.steady)
        some = np.flatnonzero((place[passage] >= 0) & (share > 0.0))
        of = place[passage[some]]
        ticks = self.begin[of] + share[some] * (self.end - self.begin)[of]
        time_s[some] = self.clocks.take(of).time_s(ticks)
