"""Passes as columns: what search A finds, before anyone looks at one of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes.elements import Catalogue, Skipped
from passes.model import Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """One moment a passage; ``(n,)`` each, nan where there is none.

    Seconds from the window's start, geometric altitude, azimuth, range.
    """

    time_s: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    range_km: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassTable:
    """Every pass found, as columns ``(n,)``, in order of object and time.

    ``row`` points into ``catalogue``.  ``begin_s`` and ``finish_s`` bound the stay
    above the limit, clipped to the window.  ``culmination`` is the highest interior
    maximum; further maxima stand in ``further`` ``(k,)`` with the passage each
    belongs to in ``further_of`` ``(k,)``.  ``flags`` are bits of
    :class:`passes.model.Flags`.
    """

    catalogue: Catalogue
    site: Site
    start: datetime
    end: datetime
    min_altitude_deg: float
    row: Ints
    begin_s: Floats
    finish_s: Floats
    rise: Points
    culmination: Points
    set: Points
    further: Points
    further_of: Ints
    flags: Ints
    skipped: tuple[Skipped, ...] = field(default=())

    def __len__(self) -> int:
        return len(self.row)
