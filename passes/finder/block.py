"""The search through one block of rows: screen, curves, events, passes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from passes.finder.events import events
from passes.finder.follow import followed
from passes.finder.found import Bounds, Found
from passes.finder.frame import Frame
from passes.finder.mean import outlook
from passes.finder.nodes import Curves, curves_through
from passes.finder.pairing import paired
from passes.finder.polish import miss_km, polished
from passes.finder.screen import Orbits, Zones, whole, zones
from passes.model import Flags
from passes.orbits import ERROR_WORDS, NO_EPHEMERIS, Propagator
from passes.orbits.stretches import Stretch, stretches

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Turning points this close to the limit (as a sine; some metres) are looked at again
#: with FINER times as many ticks; and what is then too close to call.
_DOUBT, _LAST_DOUBT, FINER = 1e-6, 1e-10, 4
#: Nodes handled at once when objects are followed step by step.
_NODES = 100_000
_UNCLEAR = "its rises and sets could not be told apart"
_TIME = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """What a block gave: passes, and rows left out wholly or in part, with reasons."""

    found: Found
    refused: list[tuple[int, str]] = field(default_factory=list)


class Searcher:
    """Searches blocks of rows of one catalogue in one frame."""

    def __init__(self, propagator: Propagator, frame: Frame) -> None:
        self.propagator, self.frame = propagator, frame

    def search(self, rows: Ints) -> Part:
        """Every pass of some rows."""
        given = self.propagator.given(rows)
        by_sgp4 = rows[~given]
        seen = outlook(self.propagator, by_sgp4, self.frame.span_s)
        steady = np.flatnonzero(seen.steady)
        found, lost = self._screened(by_sgp4[steady], seen.orbits.take(steady))
        awkward = [rows[given], by_sgp4[~seen.steady], lost]
        parts = [found]
        refused: list[tuple[int, str]] = []
        self._follow(np.concatenate(awkward), parts, refused)
        joined = Found.joined(parts) if len(parts) > 1 else found
        sinking = np.isin(joined.row, by_sgp4[seen.decaying])
        flags = joined.flags | np.where(sinking, int(Flags.DECAYING), 0)
        return Part(replace(joined, flags=flags), refused)

    # --- objects that the screen can be trusted with ---------------------------

    def _screened(self, rows: Ints, orbits: Orbits) -> tuple[Found, Ints]:
        """Passes of steady rows, and the rows that must be followed after all."""
        first, again, refused = self._through(
            rows, orbits, zones(orbits, self.frame), _DOUBT
        )
        lost = rows[refused]
        if not again.size:
            return first, lost
        clocks = orbits.clocks.take(again)
        closer = replace(
            orbits.take(again), clocks=replace(clocks, step_rad=clocks.step_rad / FINER)
        )
        second, odd, refused = self._through(
            rows[again], closer, whole(closer, self.frame), _LAST_DOUBT
        )
        lost = np.concatenate([lost, rows[again][odd], rows[again][refused]])
        return Found.joined([first, second]), lost

    def _through(
        self, rows: Ints, orbits: Orbits, through: Zones, doubt: float
    ) -> tuple[Found, Ints, Ints]:
        """Passes within zones; objects to look at again; objects that SGP4 refused."""
        frame = self.frame
        curves, bad = curves_through(
            self.propagator, rows, orbits.clocks, through, frame
        )
        if bad.any():
            kept = ~bad[through.of]
            rest = Zones(through.of[kept], through.first[kept], through.last[kept])
            found, again, _ = self._through(rows, orbits, rest, doubt)
            return found, again, np.flatnonzero(bad)
        bounds = Bounds.of_window(through.of.size, frame.span_s)
        miss = miss_km(orbits.axis_km, orbits.clocks)
        found, again = self._passes(rows, curves, bounds, miss, doubt)
        return found, again, np.flatnonzero(bad)

    def _passes(
        self, rows: Ints, curves: Curves, bounds: Bounds, miss: Floats, doubt: float
    ) -> tuple[Found, Ints]:
        """Passes on curves, but for those of objects that need a closer look."""
        frame = self.frame
        samples = curves.heights(frame.limit_sine)
        happens = events(curves, samples, frame.limit_sine, doubt)
        crossed = polished(self.propagator, rows, curves, happens, frame, miss)
        found, odd = paired(
            rows, curves, samples, happens, crossed, bounds, frame.limit_sine
        )
        unsure = happens.doubtful if doubt > _LAST_DOUBT else odd[:0]
        again = np.unique(np.concatenate([odd, crossed.doubtful, unsure]))
        return found.without(rows[again]), again

    # --- objects that must be followed -----------------------------------------

    def _follow(
        self, rows: Ints, parts: list[Found], refused: list[tuple[int, str]]
    ) -> None:
        """Follow rows step by step, adding to passes and to reasons."""
        batch: list[Stretch] = []
        held = 0.0
        for row in rows.tolist():
            some, code = stretches(self.propagator, row, self.frame.span_s)
            if code:
                refused.append((row, _reason(code, some, self.frame.start)))
            batch += some
            held += sum((part.end_s - part.begin_s) / part.step_s for part in some)
            if held > _NODES:
                parts.append(self._followed(batch, refused))
                batch, held = [], 0.0
        if batch:
            parts.append(self._followed(batch, refused))

    def _followed(self, batch: list[Stretch], refused: list[tuple[int, str]]) -> Found:
        curves, bounds = followed(self.propagator, batch, self.frame)
        rows = np.array([part.row for part in batch])
        found, odd = self._passes(rows, curves, bounds, np.zeros(rows.size), 0.0)
        refused += [(row, _UNCLEAR) for row in np.unique(rows[odd]).tolist()]
        return found


def _reason(code: int, some: list[Stretch], start: datetime) -> str:
    """Why a row is left out, wholly or outside some stretches."""
    words = ERROR_WORDS.get(code, f"error {code}")
    if code != NO_EPHEMERIS:
        words = f"SGP4 cannot place it: {words}"
    if not some:
        return words
    first = start + timedelta(seconds=some[0].begin_s)
    last = start + timedelta(seconds=some[-1].end_s)
    parts = "" if len(some) == 1 else f" in {len(some)} parts"
    return f"followed{parts} from {first:{_TIME}} to {last:{_TIME}} only; {words}"
