"""Where an object crosses when it is late: the same path in space, a later sky."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from passes.crossings.search import search_crossings
from passes.crossings.table import CrossingTable
from passes.elements import Catalogue
from passes.errors import UnknownName
from passes.model import Crossing, LineOfSight, Site

#: Looked at around the expected time, beside the lateness itself, seconds.
_AROUND_S = 60.0


def shift(
    crossing: Crossing,
    catalogue: Catalogue,
    site: Site,
    line_of_sight: LineOfSight,
    late_s: float,
    *,
    within_deg: float = np.nan,
) -> CrossingTable:
    """The same crossing by an object that is late by so many seconds (or early, < 0).

    A late object flies the same path in space, later, while the Earth and with it the
    site have turned: another part of the field is crossed, or none.  So everything is
    computed anew, for elements whose epoch is that much later.  The lateness adds to
    what the catalogue holds already.  The table has the one crossing nearest to the
    expected time, or nothing; ``within_deg`` asks for a disc of that radius around the
    line of sight instead of the field, so that a miss can be told too.  UnknownName
    where the catalogue does not hold the object.
    """
    row = np.flatnonzero(catalogue.catalog_number == crossing.catalog_number)
    if not row.size:
        raise UnknownName("object", str(crossing.catalog_number))
    one = catalogue.take(row[:1])
    held_s = np.zeros(1) if one.late_s is None else one.late_s
    late = replace(one, late_s=held_s + late_s)
    if np.isfinite(within_deg):
        line_of_sight = replace(
            line_of_sight,
            radius_deg=within_deg,
            width_deg=np.nan,
            height_deg=np.nan,
        )
    around = timedelta(seconds=_AROUND_S + abs(late_s))
    expected = crossing.closest.time + timedelta(seconds=late_s)
    begin = crossing.entry.time + timedelta(seconds=late_s) - around
    end = crossing.exit.time + timedelta(seconds=late_s) + around
    table = search_crossings(late, site, line_of_sight, begin, end)
    away_s = np.abs(table.closest.time_s - (expected - begin).total_seconds())
    return table.take(np.argsort(away_s, kind="stable")[:1])
