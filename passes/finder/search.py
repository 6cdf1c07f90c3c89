"""Search A: every pass of every object of a catalogue over one site."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from passes.elements import Catalogue, ElementSet, Skipped, as_catalogue
from passes.errors import InputError
from passes.finder.block import Part
from passes.finder.found import Found, nothing
from passes.finder.parallel import Task, run
from passes.finder.table import PassTable, Points
from passes.model import Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Objects and seconds of window handled together, so that memory stays flat however
#: long the window; and the most objects.
_OBJECT_SECONDS, _MOST_OBJECTS = 1000 * 43_200.0, 8000
_LONGEST_S = 400 * 86_400.0
_LOWEST_DEG, _HIGHEST_DEG = -30.0, 90.0


def search_passes(
    catalogue: Catalogue | Iterable[ElementSet],
    site: Site,
    start: datetime,
    end: datetime,
    *,
    min_altitude_deg: float = 10.0,
    processes: int = 1,
    progress: Callable[[int, int], None] | None = None,
    fast: bool | None = None,
) -> PassTable:
    """Every stay of every object above a geometric altitude, with no light looked at.

    Altitude is geometric (no refraction, no light time), as skyfield's
    ``(satellite - site).at(t).altaz()``.  A rise or a set is within a millisecond of
    where SGP4 has it; a culmination within one too, near the Earth, and within a
    tenth of a second on very eccentric orbits, where it is flat.  Objects that SGP4
    refuses, at once or part-way, stand in ``skipped`` with the reason.

    ``start`` and ``end`` are aware.  ``processes`` share the work; the answer is the
    same to the last bit.  ``progress`` is told the objects done and to do.  ``fast``
    is as for :class:`passes.orbits.Propagator`; with heyoka times differ by some
    nanoseconds, and their last bits hang on how the work is shared.  Raises InputError
    for a window or a limit that makes no sense.
    """
    whole = as_catalogue(catalogue)
    start, end = _window(start, end)
    if not _LOWEST_DEG <= min_altitude_deg < _HIGHEST_DEG:
        raise InputError(
            f"a least altitude of {min_altitude_deg:g}° is impossible "
            f"({_LOWEST_DEG:g}° to below {_HIGHEST_DEG:g}°)"
        )
    if processes < 1:
        raise InputError(f"{processes} processes: at least one is needed")
    task = Task.of(whole, site, start, end, float(min_altitude_deg), fast)
    parts = run(task, _blocks(len(whole), task.span_s, processes), processes, progress)
    return _table(task, parts)


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


def _blocks(count: int, span_s: float, processes: int) -> list[Ints]:
    """Rows in blocks; several a process, so that all end at about the same time."""
    most = min(int(_OBJECT_SECONDS / span_s), _MOST_OBJECTS)
    if processes > 1:
        most = min(most, -(-count // (4 * processes)))
    size = max(most, 1)
    return [np.arange(low, min(low + size, count)) for low in range(0, count, size)]


def _table(task: Task, parts: list[Part]) -> PassTable:
    found = Found.joined([nothing(), *(part.found for part in parts)])
    refused = sorted(pair for part in parts for pair in part.refused)
    catalogue = task.catalogue
    skipped = tuple(
        Skipped(
            catalog_number=int(catalogue.catalog_number[row]),
            name=catalogue.name[row],
            reason=reason,
        )
        for row, reason in refused
    )
    return PassTable(
        catalogue=catalogue,
        site=task.site,
        start=task.start,
        end=task.end,
        min_altitude_deg=task.min_altitude_deg,
        row=found.row,
        begin_s=found.begin_s,
        finish_s=found.finish_s,
        rise=Points.of(found.rise),
        culmination=Points.of(found.top),
        set=Points.of(found.set),
        further=Points.of(found.further),
        further_of=found.further_of,
        flags=found.flags,
        skipped=skipped,
    )
