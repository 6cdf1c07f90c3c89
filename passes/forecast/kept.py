"""Element sets from the archive, as a request needs them."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from passes import orbits
from passes.archive import Archive
from passes.elements import Catalogue, Skipped
from passes.errors import NothingToSearch
from passes.forecast.request import Request
from passes.model import Span

#: Pairs of successive sets that are held against each other at most.
MOST_PAIRS = 60_000
#: They are taken from so many days before a night, and after it.
_BEFORE, _AFTER = timedelta(days=28), timedelta(days=7)
#: Only what comes this low can have decayed since its epoch, km.
_LOW_KM = 300.0
#: Radius, km, and gravitational parameter, km³/s² (WGS 72, as SGP4 has them).
_EARTH_KM, _MU = 6378.135, 398600.8
#: SGP4's error codes of what comes down: eccentricity, mean elements, place (AIAA
#: 2006-6753).
_DECAYED = (1, 5, 6)


class KeptSets:
    """The archive of a request, read once a night."""

    def __init__(self, request: Request) -> None:
        self._archive = Archive(request.archive)
        self._last: tuple[datetime, Catalogue] | None = None

    def nearest(self, middle: datetime) -> Catalogue:
        """Each object's set nearest to a time; NothingToSearch where there is none."""
        if self._last is None or self._last[0] != middle:
            found = self._archive.nearest(middle)
            if not len(found):
                raise NothingToSearch(
                    "the archive holds no element sets: passes elements add FILE, or "
                    "passes elements fetch (or --elements FILE, or --demo)"
                )
            self._last = (middle, found)
        return self._last[1]

    def history(self, number: int) -> Catalogue:
        """Every set of one object, by epoch."""
        return self._archive.history(number)

    def pairs(self) -> tuple[Catalogue, Catalogue]:
        """Successive sets of the same objects, older and newer, row by row.

        From around the night last asked for, where one was.
        """
        if self._last is None:
            return self._archive.pairs(most=MOST_PAIRS)
        middle = self._last[0]
        return self._archive.pairs(
            since=middle - _BEFORE, until=middle + _AFTER, most=MOST_PAIRS
        )


def decayed(catalogue: Catalogue, window: Span) -> tuple[np.ndarray, list[Skipped]]:
    """Rows whose elements put them inside the Earth when the window begins.

    Which rows ``(n,)`` are still up, and the others with why.
    """
    motion_rad_s = catalogue.mean_motion_rad_min / 60.0
    axis_km = np.cbrt(_MU / motion_rad_s**2)
    perigee_km = axis_km * (1.0 - catalogue.eccentricity) - _EARTH_KM
    before = catalogue.epoch_s(window.start) < 0.0
    low = np.flatnonzero((perigee_km < _LOW_KM) & before)
    up = np.ones(len(catalogue), dtype=np.bool_)
    propagator = orbits.Propagator(catalogue, window.start, fast=False)
    for row in low.tolist():
        code = int(propagator.positions(row, np.zeros(1))[1][0])
        up[row] = code not in _DECAYED
    return up, [
        Skipped(
            catalog_number=int(catalogue.catalog_number[row]),
            name=catalogue.name[row],
            reason="it has decayed before the window, by its elements",
        )
        for row in np.flatnonzero(~up).tolist()
    ]
