"""Search B: every object of a catalogue that enters a field, and when."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from passes.crossings.aim import Aim
from passes.crossings.choose import Chooser, batches_of
from passes.crossings.curves import Curves, Zones, curves_along, curves_through
from passes.crossings.events import closest_s, stays
from passes.crossings.grid import Grid
from passes.crossings.measure import Found, measured, tabled
from passes.crossings.table import CrossingTable
from passes.elements import Catalogue, ElementSet, Skipped, as_catalogue
from passes.errors import InputError
from passes.model import Flags, LineOfSight, Site
from passes.orbits import NO_EPHEMERIS, Propagator
from passes.orbits.secular import DEEP_PERIOD_MIN, true_motion
from passes.orbits.stretches import Stretch, refusal, stretches

Ints = NDArray[np.int64]

#: Rows searched together; rows screened together (fewer in windows of more than two
#: days), so that memory stays flat; nodes of rows followed one by one.
_TOGETHER, _ROWS, _NODES = 16_384, 2048, 60_000
_LONG_S = 2 * 86_400.0
_LONGEST_S = 100 * 86_400.0


def search_crossings(
    catalogue: Catalogue | Iterable[ElementSet],
    site: Site,
    line_of_sight: LineOfSight,
    start: datetime,
    end: datetime,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> CrossingTable:
    """Every stay of every object in a field, with no light looked at.

    Places are astrometric ICRS, light time and the Earth's motion in, as skyfield's
    ``(earth + site).at(t).observe(earth + satellite)``; entry and exit are within a
    millisecond of the roots found with it.  The field is a disc, a rectangle in the
    tangent plane, or a body's own disc.  Only what is above the geometric horizon
    counts: an object that comes up inside the field enters it there, and a flag says
    so, as flags say where the window (or SGP4's refusal) cuts a crossing.  A path is
    searched as far as it and the window overlap.  Objects that SGP4 refuses, at once or
    part-way, stand in ``skipped``.

    ``progress`` is told the objects done and to do.  Raises InputError for a window or
    a field that makes no sense, UnknownName for a body nobody knows.
    """
    whole = as_catalogue(catalogue)
    start, end = _window(start, end)
    span_s = (end - start).total_seconds()
    aim = Aim(line_of_sight, site, start, span_s)
    searcher = Searcher(whole, aim, site, start, span_s)
    tell = progress or (lambda done, total: None)
    tell(0, len(whole))
    for low in range(0, len(whole), _TOGETHER):
        high = min(low + _TOGETHER, len(whole))
        searcher.search(np.arange(low, high))
        tell(high, len(whole))
    skipped = tuple(
        Skipped(
            catalog_number=int(whole.catalog_number[row]),
            name=whole.name[row],
            reason=reason,
        )
        for row, reason in sorted(searcher.refused)
    )
    return tabled(searcher.found, whole, site, line_of_sight, (start, end), skipped)


def _window(start: datetime, end: datetime) -> tuple[datetime, datetime]:
    for name, time in (("start", start), ("end", end)):
        if time.tzinfo is None:
            raise InputError(f"the {name} {time.isoformat()} has no zone; add Z")
    if not 0.0 < (end - start).total_seconds() <= _LONGEST_S:
        raise InputError(
            f"the window {start.isoformat()} to {end.isoformat()} must last more than "
            f"nothing and at most {_LONGEST_S / 86_400:g} days"
        )
    return start.astimezone(UTC), end.astimezone(UTC)


class Searcher:
    """Searches rows of one catalogue; what it finds and what SGP4 refused add up."""

    def __init__(
        self,
        catalogue: Catalogue,
        aim: Aim,
        site: Site,
        start: datetime,
        span_s: float,
    ) -> None:
        self.aim, self.site, self.start, self.span_s = aim, site, start, span_s
        self.catalogue = catalogue
        self.window = (aim.begin_s, aim.end_s)
        # so few places are wanted that heyoka would not pay; and answers must not
        # depend on how many are wanted at once
        self.propagator = Propagator(catalogue, start, fast=False)
        self.grid = Grid.of(aim, site, start, span_s)
        self.chooser = Chooser(self.propagator, self.grid)
        self.found: list[Found] = []
        self.refused: list[tuple[int, str]] = []

    def search(self, rows: Ints) -> None:
        """Search some rows."""
        given = self.propagator.given(rows)
        by_sgp4 = rows[~given]
        size = max(int(_ROWS * min(_LONG_S / self.span_s, 1.0)), 1)
        parts = [
            self.chooser.zones(by_sgp4[low : low + size])
            for low in range(0, by_sgp4.size, size)
        ]
        none = np.empty(0, dtype=np.int64)
        zones = Zones(*np.concatenate([[none] * 3, *(p.zones for p in parts)], axis=1))
        awkward, sinking = (
            np.concatenate([none, *(getattr(p, name) for p in parts)])
            for name in ("awkward", "sinking")
        )
        at = len(self.found)
        lost = self._through(zones)
        chosen, refused = self.chooser.by_propagating(np.concatenate([awkward, lost]))
        refused = np.concatenate([refused, self._through(chosen)])
        fallen = self._along(np.unique(np.concatenate([rows[given], refused])))
        sinking = np.concatenate([sinking, fallen])
        for i in range(at, len(self.found)):
            sinks = np.isin(self.found[i].row, sinking)
            self.found[i].flags[sinks] |= int(Flags.DECAYING)

    def _through(self, zones: Zones) -> Ints:
        """Search zones; gives back the rows to be looked at in another way."""
        lost: list[Ints] = []
        for some in batches_of(zones):
            curves, refused = curves_through(
                self.propagator, some, self.grid, self.window
            )
            unsure = self._on(curves, refused)
            lost += [refused, unsure]
        gone = np.unique(np.concatenate([np.empty(0, dtype=np.int64), *lost]))
        if gone.size:  # what other zones gave of these rows is found again
            self.found = [one.without(gone) for one in self.found]
        return gone

    def _on(self, curves: Curves, refused: Ints) -> Ints:
        """Find stays on curves; gives back rows seen to begin inside the field."""
        pruned = curves.pruned(self.aim, ~np.isin(curves.row, refused))
        if not pruned.row.size:
            return refused[:0]
        found, unsure = stays(pruned, self.aim)
        closest = closest_s(pruned, self.aim, found)
        self.found.append(measured(self.propagator, pruned, self.aim, found, closest))
        return pruned.row[unsure]

    def _along(self, rows: Ints) -> Ints:
        """Follow rows step by step through the stretches in which they have places.

        Gives back those near the Earth that come down: SGP4 refuses them part-way.
        """
        batch: list[Stretch] = []
        held, fallen = 0.0, []
        for row in rows.tolist():
            some, code = stretches(self.propagator, row, self.span_s)
            if code:
                self.refused.append((row, refusal(code, some, self.start)))
            if code not in (0, NO_EPHEMERIS) and some and self._near_earth(row):
                fallen.append(row)
            batch += some
            held += sum((part.end_s - part.begin_s) / part.step_s for part in some)
            if held > _NODES:
                self._followed(batch)
                batch, held = [], 0.0
        self._followed(batch)
        return np.array(fallen, dtype=np.int64)

    def _near_earth(self, row: int) -> bool:
        motion = true_motion(self.catalogue, np.array([row]))
        return bool(motion[0] > 2.0 * np.pi / DEEP_PERIOD_MIN)

    def _followed(self, batch: Sequence[Stretch]) -> None:
        if batch:
            curves = curves_along(
                self.propagator, list(batch), self.site, self.start, self.window
            )
            self._on(curves, np.empty(0, dtype=np.int64))
