"""Where a line of sight points at any time, and how far its field reaches."""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import sky, vectors
from passes.errors import InputError, UnknownName
from passes.model import LineOfSight, Site

Floats = NDArray[np.float64]

#: Fields are smaller than half the sky.
_WIDEST_DEG = 89.0


class Aim:
    """A line of sight over a site, in seconds from an aware start.

    A fixed field has one direction; a path is carried along great circles between its
    places, evenly in the chord; a body is where the ephemeris has it, as seen from the
    site.  ``begin_s`` and ``end_s`` bound the part of the window for which it is known.
    Raises InputError for a field or a path that makes no sense, UnknownName for a body
    nobody knows.
    """

    def __init__(
        self, line: LineOfSight, site: Site, start: datetime, span_s: float
    ) -> None:
        self.line, self.site, self.start = line, site, start
        self.begin_s, self.end_s = 0.0, span_s
        self.rectangle = line.width_deg > 0.0 and line.height_deg > 0.0
        self.tangents = (
            np.tan(np.radians(line.width_deg) / 2.0),
            np.tan(np.radians(line.height_deg) / 2.0),
        )
        self._check_size()
        self._times: Floats | None = None
        if line.body and line.body not in sky.BODIES:
            raise UnknownName("body", line.body, sky.BODIES)
        if not line.body:
            self._places = self._given_places()
            if line.time_s is not None and len(line.time_s) > 1:
                self._follow(line, start)

    def _check_size(self) -> None:
        line = self.line
        if self.rectangle:
            sizes = [line.width_deg / 2.0, line.height_deg / 2.0]
        elif np.isnan(line.radius_deg) and line.body:
            return
        else:
            sizes = [line.radius_deg]
        if not all(0.0 < size <= _WIDEST_DEG for size in sizes):
            raise InputError(
                "a field needs a radius, or a width and a height, above 0° and less "
                f"than half the sky (it has {line.radius_deg:g}°, "
                f"{line.width_deg:g} × {line.height_deg:g}°)"
            )

    def _given_places(self) -> Floats:
        line = self.line
        ra, dec = line.ra_deg, line.dec_deg
        if ra is None or dec is None or not len(ra) or len(ra) != len(dec):
            raise InputError("a line of sight needs a right ascension and declination")
        if not (np.isfinite(ra).all() and (np.abs(dec) <= 90.0).all()):
            raise InputError("a line of sight needs declinations from −90° to 90°")
        return vectors.direction(np.radians(ra), np.radians(dec))

    def _follow(self, line: LineOfSight, start: datetime) -> None:
        """Take on a path: its times, and the part of the window that it covers."""
        if line.start is None:
            raise InputError("a path needs the time from which its seconds count")
        assert line.time_s is not None
        if not (np.diff(line.time_s) > 0.0).all():
            raise InputError("the times of a path must rise")
        if len(line.time_s) != len(self._places):
            raise InputError("a path needs one place for each of its times")
        times = np.asarray(line.time_s) + (line.start - start).total_seconds()
        self._times = times
        self.begin_s = max(self.begin_s, float(times[0]))
        self.end_s = min(self.end_s, float(times[-1]))
        if not self.begin_s < self.end_s:
            raise InputError("the path of the line of sight lies outside the window")

    # --- where it points ---------------------------------------------------------

    @property
    def fixed(self) -> bool:
        """Whether it stays where it is among the stars."""
        return not self.line.body and self._times is None

    def look(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Directions ``(k, 3)``, ICRS, and the radius of the disc, ``(k,)`` radians.

        For a rectangle it is the radius of the circle around it.
        """
        if self.line.body:
            body, site, start = self.line.body, self.site, self.start
            direction, far_km, radius_km = sky.body_icrs(body, site, start, time_s)
            if np.isnan(self.line.radius_deg) and not self.rectangle:
                return direction, np.arcsin(radius_km / far_km)
        elif self._times is None:
            direction = np.broadcast_to(self._places[0], (*time_s.shape, 3))
        else:
            direction = self._along(self._times, time_s)
        return direction, np.full(time_s.shape, self._radius())

    def _radius(self) -> float:
        if self.rectangle:
            return float(np.arctan(np.hypot(*self.tangents)))
        return float(np.radians(self.line.radius_deg))

    def _along(self, times: Floats, time_s: Floats) -> Floats:
        after = np.clip(np.searchsorted(times, time_s), 1, times.size - 1)
        share = (time_s - times[after - 1]) / (times[after] - times[after - 1])
        share = np.clip(share, 0.0, 1.0)[:, np.newaxis]
        chord = self._places[after - 1] * (1.0 - share) + self._places[after] * share
        return vectors.unit(chord)

    def corners_s(self) -> Floats:
        """Times at which a path changes its course, within the window."""
        if self._times is None:
            return np.empty(0)
        within = (self._times > self.begin_s) & (self._times < self.end_s)
        return self._times[within]

    def axes(self, direction: Floats) -> tuple[Floats, Floats]:
        """Right and up of the frame at directions ``(k, 3)``; unit vectors.

        Up lies at the position angle; a sky with north up has west on the right.
        """
        lon, lat, _ = vectors.spherical(direction)
        north, east = compass(lon, lat)
        angle = np.radians(self.line.position_angle_deg)
        c, s = np.cos(angle), np.sin(angle)
        return north * s - east * c, north * c + east * s


def compass(lon_rad: Floats, lat_rad: Floats) -> tuple[Floats, Floats]:
    """North and east on the star field at places ``(k,)``; unit vectors ``(k, 3)``."""
    cl, sl = np.cos(lon_rad), np.sin(lon_rad)
    cb, sb = np.cos(lat_rad), np.sin(lat_rad)
    north = np.stack([-sb * cl, -sb * sl, cb], axis=-1)
    east = np.stack([-sl, cl, np.zeros_like(cl)], axis=-1)
    return north, east
