"""What every object needs of a site and its line of sight, on one grid of times."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import sky, vectors
from passes.crossings.aim import Aim
from passes.model import Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Seconds between two nodes, and how many of their intervals make a slab, and a slab
#: for objects that are propagated through all of them.
STEP_S, SLAB, LONG_SLAB = 30.0, 10, 20
#: Nodes before the window's first interval and after its last.
PAD = 6


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Site, frames and line of sight at ``time_s = STEP_S · (i − PAD)``, ``(n, ...)``.

    ``site_km`` and ``up`` are in TEME, ``to_icrs`` turns TEME to ICRS,
    ``earth_km_s`` is the Earth's velocity about the barycentre (ICRS); ``aim`` is the
    direction in ICRS, ``reach_rad`` the radius of the field.  ``sway_rad`` says for
    each interval how far the line of sight strays from the middle of its ends.
    """

    time_s: Floats
    site_km: Floats
    up: Floats
    to_icrs: Floats
    earth_km_s: Floats
    aim: Floats
    reach_rad: Floats
    sway_rad: Floats

    @property
    def intervals(self) -> int:
        """How many intervals the window has, whole slabs of them."""
        return len(self.time_s) - 1 - 2 * PAD

    @classmethod
    def of(cls, aim: Aim, site: Site, start: datetime, span_s: float) -> Grid:
        """The grid of one window."""
        count = int(np.ceil(span_s / (STEP_S * LONG_SLAB))) * LONG_SLAB
        time_s: Floats = STEP_S * np.arange(-PAD, count + PAD + 1, dtype=np.float64)
        up = sky.site_axes(site)[2]
        turn = sky.gmst_rad(start, time_s)
        direction, reach = aim.look(time_s)
        return cls(
            time_s,
            sky.site_teme_km(site, start, time_s),
            vectors.rotate_z(np.broadcast_to(up, (time_s.size, 3)), turn),
            sky.teme_to_icrs(start, time_s),
            sky.earth_velocity_km_s(start, time_s),
            np.ascontiguousarray(direction),
            reach,
            _sway(aim, direction),
        )

    def aim_teme(self, index: Ints) -> Floats:
        """The line of sight at nodes, in TEME, ``(k, 3)``."""
        inverse = np.swapaxes(self.to_icrs[index], -1, -2)
        return vectors.apply(inverse, self.aim[index])


def _sway(aim: Aim, direction: Floats) -> Floats:
    """How far a line of sight strays from the middle of each interval's ends."""
    if aim.fixed:
        return np.zeros(len(direction) - 1)
    middle = vectors.unit(direction[:-1] + direction[1:])
    sway = 1.01 * vectors.separation_rad(middle, direction[1:])
    corners = aim.corners_s()
    if corners.size:
        which = np.floor(corners / STEP_S).astype(np.int64) + PAD
        there, _ = aim.look(corners)
        strays = vectors.separation_rad(there, middle[which])
        np.maximum.at(sway, which, strays)
    return sway
