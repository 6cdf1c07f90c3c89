"""When places among the stars cross the meridian."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np

from passes.constants import SECONDS_PER_DAY
from passes.model import Site, Target
from passes.sky.earth import gmst_rad, teme_to_icrs
from passes.vectors import apply, direction, spherical

_STEP_S = 60.0


def next_transit(
    site: Site, ra_deg: float, dec_deg: float, after: datetime
) -> datetime | None:
    """When a place (ICRS) next crosses the meridian, upper transit.

    Within the coming day; None where it does not.  To a fraction of a second.
    """
    time_s = np.arange(0.0, SECONDS_PER_DAY + 2.0 * _STEP_S, _STEP_S)
    icrs = direction(np.radians(ra_deg), np.radians(dec_deg))
    turn = np.swapaxes(teme_to_icrs(after, time_s), -1, -2)
    lon, _, _ = spherical(apply(turn, np.broadcast_to(icrs, (len(time_s), 3))))
    hour = gmst_rad(after, time_s) + np.radians(site.longitude_deg) - lon
    hour = np.mod(hour + np.pi, 2.0 * np.pi) - np.pi
    rising = np.flatnonzero((hour[:-1] <= 0.0) & (hour[1:] > 0.0))
    if not rising.size:
        return None
    i = int(rising[0])
    part = -hour[i] / (hour[i + 1] - hour[i])
    return after + timedelta(seconds=float(time_s[i] + _STEP_S * part))


def transits_at(site: Site) -> Callable[[Target, datetime], datetime | None]:
    """The same at one site, as a function of target and time."""

    def transit(target: Target, after: datetime) -> datetime | None:
        return next_transit(site, target.ra_deg, target.dec_deg, after)

    return transit
