"""Passes as columns while they are being found: bounds, joins, moments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from passes.model import Flags

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """Between which times each zone ``(z,)`` counts, and why not beyond (flag bits)."""

    open_s: Floats
    close_s: Floats
    open_flag: Ints
    close_flag: Ints

    @classmethod
    def of_window(cls, zones: int, span_s: float) -> Bounds:
        """Zones that end with the window."""
        return cls(
            np.zeros(zones),
            np.full(zones, span_s),
            np.full(zones, int(Flags.UP_AT_START)),
            np.full(zones, int(Flags.UP_AT_END)),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Passes as columns ``(n,)``; moments ``(n, 4)``: time, altitude, azimuth, range.

    Seconds from the window's start, degrees, km; nan where there is no such moment.
    ``further`` ``(k, 4)`` are more culminations of passes ``further_of`` ``(k,)``.
    """

    row: Ints
    begin_s: Floats
    finish_s: Floats
    flags: Ints
    rise: Floats
    top: Floats
    set: Floats
    further: Floats
    further_of: Ints

    def without(self, rows: Ints) -> Found:
        """These passes but for those of some rows."""
        if not rows.size:
            return self
        keep = ~np.isin(self.row, rows)
        place = np.cumsum(keep) - 1
        stays = keep[self.further_of]
        columns = {f.name: getattr(self, f.name) for f in fields(self)}
        further, further_of = columns.pop("further"), columns.pop("further_of")
        return Found(
            **{name: column[keep] for name, column in columns.items()},
            further=further[stays],
            further_of=place[further_of[stays]],
        )

    @classmethod
    def joined(cls, parts: Sequence[Found]) -> Found:
        """All these passes, in order of row and time."""
        before = np.cumsum([0, *(part.row.size for part in parts)])
        columns = {
            f.name: np.concatenate([getattr(part, f.name) for part in parts])
            for f in fields(cls)
        }
        shift = np.repeat(before[:-1], [part.further_of.size for part in parts])
        order = np.lexsort((columns["begin_s"], columns["row"]))
        place = np.empty(order.size, dtype=np.int64)
        place[order] = np.arange(order.size)
        further_of = place[columns.pop("further_of") + shift]
        further = columns.pop("further")
        again = np.lexsort((further[:, 0], further_of))
        return cls(
            **{name: column[order] for name, column in columns.items()},
            further=further[again],
            further_of=further_of[again],
        )


def nothing() -> Found:
    """No passes."""
    none, no_moments = np.empty(0, dtype=np.int64), np.empty((0, 4))
    return Found(
        none, np.empty(0), np.empty(0), none, *(no_moments,) * 4, further_of=none
    )


def moments(time_s: Floats, seen: Floats) -> Floats:
    """Time, altitude, azimuth and range of what is seen ``(3, k)``, ``(k, 4)``."""
    east, north, up = seen
    out_km = np.sqrt(east * east + north * north)
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0
    return np.stack(
        [
            time_s,
            np.degrees(np.arctan2(up, out_km)),
            np.where(azimuth >= 360.0, 0.0, azimuth),
            np.sqrt(out_km * out_km + up * up),
        ],
        axis=1,
    )
