"""Passes as columns: what search A finds, before anyone looks at one of them."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

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

    @classmethod
    def of(cls, moments: Floats) -> Points:
        """Points from columns ``(n, 4)``: time, altitude, azimuth, range."""
        return cls(
            **{
                f.name: np.ascontiguousarray(moments[:, i])
                for i, f in enumerate(fields(cls))
            }
        )

    def take(self, which: ArrayLike) -> Points:
        """Some of these points (indices or a mask), in that order."""
        some = np.asarray(which)
        return Points(**{f.name: getattr(self, f.name)[some] for f in fields(self)})


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

    def take(self, which: ArrayLike) -> PassTable:
        """The table of some passes (indices or a mask), in that order."""
        some = np.arange(len(self))[np.asarray(which)]
        place = np.full(len(self), -1)
        place[some] = np.arange(some.size)
        of = place[self.further_of]
        order = np.flatnonzero(of >= 0)
        order = order[np.argsort(of[order], kind="stable")]
        arrays = ("row", "begin_s", "finish_s", "flags")
        points = ("rise", "culmination", "set")
        return replace(
            self,
            **{name: getattr(self, name)[some] for name in arrays},
            **{name: getattr(self, name).take(some) for name in points},
            further=self.further.take(order),
            further_of=of[order],
        )
