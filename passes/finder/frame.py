"""The site as the search sees it: a window of time, a turning Earth, a limit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from math import atan2, cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from passes import sky
from passes.model import Site

Floats = NDArray[np.float64]

#: The turn of the Earth is tabled this often, and so far beyond the window.
_TABLE_STEP_S, _BEYOND_S = 64.0, 3 * 3600.0


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """The angle from the equinox to a site's meridian, tabled through a window.

    The table saves a sine and a cosine of every time: from the nearest entry the
    Earth turns by less than 0.0024 rad, for which four terms of each are exact.
    """

    first_s: float
    cosine: Floats
    sine: Floats
    rate_rad_s: Floats

    @classmethod
    def of(cls, start: datetime, span_s: float, longitude_rad: float) -> Turns:
        """The table of a window; a turn between two entries is taken as even."""
        count = int((span_s + 2 * _BEYOND_S) / _TABLE_STEP_S) + 2
        time = -_BEYOND_S + _TABLE_STEP_S * np.arange(count)
        angle = sky.gmst_rad(start, time) + longitude_rad
        turned = np.diff(angle) % (2 * np.pi)
        rate = np.append(turned, turned[-1]) / _TABLE_STEP_S
        return cls(-_BEYOND_S, np.cos(angle), np.sin(angle), rate)

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Cosine and sine of the angle at times ``(n,)`` within the table."""
        place = (time_s - self.first_s) / _TABLE_STEP_S + 0.5
        index = np.clip(place.astype(np.int64), 0, self.cosine.size - 1)
        entry_s = self.first_s + _TABLE_STEP_S * index
        turn = self.rate_rad_s[index] * (time_s - entry_s)
        square = turn * turn
        sine = turn * (1.0 - square / 6.0 * (1.0 - square / 20.0))
        cosine = 1.0 - square / 2.0 * (1.0 - square / 12.0)
        c, s = self.cosine[index], self.sine[index]
        return c * cosine - s * sine, s * cosine + c * sine


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A site, a window of ``span_s`` seconds from ``start``, and a limit of altitude.

    The Earth-fixed frame is TEME turned by the sidereal angle of 1982; altitude is
    geometric, above the plane square to the geodetic vertical, and counted without
    light time, as in skyfield's ``(satellite - site).at(t).altaz()``.
    """

    start: datetime
    span_s: float
    limit_rad: float
    latitude_rad: float
    #: Distance from the Earth's axis, and height over the equator's plane, km.
    out_km: float
    over_km: float
    turns: Turns

    @classmethod
    def of(cls, site: Site, start: datetime, end: datetime, limit_deg: float) -> Frame:
        """The frame of a site and a window."""
        x, y, z = sky.site_km(site).tolist()
        span_s = (end - start).total_seconds()
        longitude_rad = radians(site.longitude_deg)
        return cls(
            start=start,
            span_s=span_s,
            limit_rad=radians(limit_deg),
            latitude_rad=radians(site.latitude_deg),
            out_km=x * cos(longitude_rad) + y * sin(longitude_rad),
            over_km=z,
            turns=Turns.of(start, span_s, longitude_rad),
        )

    @property
    def base_km(self) -> float:
        """The site's distance from the Earth's centre along its own vertical."""
        c, s = cos(self.latitude_rad), sin(self.latitude_rad)
        return self.out_km * c + self.over_km * s

    @property
    def limit_sine(self) -> float:
        """Sine of the limit: what the sine of an altitude is compared with."""
        return sin(self.limit_rad)

    def turn_at_start(self) -> float:
        """Angle from the equinox to the site's meridian at the window's start."""
        c, s = self.turns.at(np.zeros(1))
        return atan2(s[0], c[0])

    def look(self, position_km: Floats, time_s: Floats) -> Floats:
        """East, north and up of TEME positions ``(n, 3)`` from the site, ``(3, n)``."""
        c, s = self.turns.at(time_s)
        x, y = position_km[:, 0], position_km[:, 1]
        seen = np.empty((3, time_s.size))
        seen[0] = c * y - s * x
        out = c * x + s * y - self.out_km
        over = position_km[:, 2] - self.over_km
        p, q = cos(self.latitude_rad), sin(self.latitude_rad)
        seen[1] = p * over - q * out
        seen[2] = p * out + q * over
        return seen
