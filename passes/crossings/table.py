"""Crossings as columns: what search B finds, before anyone looks at one of them."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.elements import Catalogue, Skipped
from passes.model import LineOfSight, Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """One moment a crossing, ``(n,)`` each: seconds from the start, and ICRS."""

    time_s: Floats
    ra_deg: Floats
    dec_deg: Floats

    def take(self, which: ArrayLike) -> Places:
        """Some of these places (indices or a mask), in that order."""
        some = np.asarray(which)
        return Places(**{f.name: getattr(self, f.name)[some] for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrossingTable:
    """Every crossing found, as columns ``(n,)``, in order of entry.

    ``row`` points into ``catalogue``.  ``closest_deg`` is the separation from the
    field's centre at the closest approach; the columns after it hold for that moment:
    ``radius_deg`` of the disc (nan for rectangles), angular rate and position angle of
    the motion among the stars (north through east), geometric range, altitude and
    azimuth, place and velocity in TEME ``(n, 3)``.  ``flags`` are bits of
    :class:`passes.model.Flags`; ``skipped`` names the objects left out.
    """

    catalogue: Catalogue
    site: Site
    line_of_sight: LineOfSight
    start: datetime
    end: datetime
    row: Ints
    entry: Places
    exit: Places
    closest: Places
    closest_deg: Floats
    radius_deg: Floats
    angular_rate_deg_s: Floats
    position_angle_deg: Floats
    range_km: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    position_km: Floats
    velocity_km_s: Floats
    flags: Ints
    skipped: tuple[Skipped, ...] = field(default=())

    def __len__(self) -> int:
        return len(self.row)

    def take(self, which: ArrayLike) -> CrossingTable:
        """The table of some crossings (indices or a mask), in that order."""
        some = np.arange(len(self))[np.asarray(which)]
        taken: dict[str, Any] = {}
        for name in _COLUMNS:
            column = getattr(self, name)
            whole = isinstance(column, Places)
            taken[name] = column.take(some) if whole else column[some]
        return replace(self, **taken)


#: The fields of a table that have one entry a crossing.
_COLUMNS = tuple(
    name
    for name, annotation in CrossingTable.__annotations__.items()
    if annotation in ("Floats", "Ints", "Places")
)
