"""Crossings found by looking everywhere, with skyfield alone.

Steps of a second, then of 0.02 s wherever the object is within three degrees of the
field's edge, then halving between two looks: nothing of the project's own is used, so
that the search can be held against it.
"""

from dataclasses import dataclass
from math import nan

import numpy as np
from one_satellite import moments, planets, timescale
from skyfield.api import EarthSatellite, wgs84

#: Coarse and fine steps, seconds, and how far from the field the fine ones begin.
COARSE_S, FINE_S, AROUND_DEG = 1.0, 0.02, 3.0
ROOT_S = 1e-6


@dataclass
class Stay:
    """One stay in the field: seconds from the start, and whether an edge cut it."""

    begin_s: float
    end_s: float
    cut: bool


class Sky:
    """A site and a field as skyfield has them: a disc, a rectangle, or a body's disc.

    ``size`` is the radius of a disc in degrees, of a body in km, or the width, height
    and position angle of a rectangle in degrees.
    """

    def __init__(self, site, start, *, ra_deg=nan, dec_deg=nan, size, body=""):
        self.earth = planets()["earth"]
        self.place = wgs84.latlon(
            site.latitude_deg, site.longitude_deg, elevation_m=site.height_m
        )
        self.here, self.start = self.earth + self.place, start
        self.size, self.body = size, body
        self._coarse = {}
        ra, dec = np.radians([ra_deg, dec_deg])
        self.toward = np.array(
            [np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)]
        )
        self.east = np.array([-np.sin(ra), np.cos(ra), 0.0])
        self.north = np.cross(self.toward, self.east)

    def coarse(self, span_s):
        """Coarse times, as seconds and skyfield's, and the aim at them; kept."""
        if span_s not in self._coarse:
            time_s = np.arange(0.0, span_s + COARSE_S / 2, COARSE_S)
            t = moments(self.start, time_s)
            self._coarse[span_s] = time_s, t, self.aim(t)
        return self._coarse[span_s]

    def aim(self, t):
        """Direction of the field's centre (3, k), and the outer radius in degrees."""
        if self.body:
            seen = self.here.at(t).observe(planets()[self.body])
            far = seen.distance().km
            return seen.position.km / far, np.degrees(np.arcsin(self.size / far))
        size = self.size
        if not isinstance(size, float):
            half = np.tan(np.radians(size[:2]) / 2.0)
            size = np.degrees(np.arctan(np.hypot(*half)))
        return self.toward[:, None], np.full(np.shape(t.tt), size)

    def seen(self, satellite, time_s):
        """Astrometric vectors (3, k), km."""
        t = moments(self.start, np.atleast_1d(time_s))
        return self.here.at(t).observe(self.earth + satellite).position.km, t

    def outside(self, satellite, time_s):
        """Below zero in the field, (k,): degrees, or tangents for rectangles."""
        seen, t = self.seen(satellite, time_s)
        if isinstance(self.size, float) or self.body:
            toward, radius = self.aim(t)
            return angle_deg(seen, toward) - radius
        ahead = self.toward @ seen
        xi, eta = self.east @ seen / ahead, self.north @ seen / ahead
        width, height, angle = np.radians(self.size)
        up = xi * np.sin(angle) + eta * np.cos(angle)
        across = xi * np.cos(angle) - eta * np.sin(angle)
        away = np.maximum(
            np.abs(up) - np.tan(height / 2), np.abs(across) - np.tan(width / 2)
        )
        return np.where(ahead > 0.0, away, 1.0)

    def altitude_deg(self, satellite, time_s):
        """Geometric altitude, (k,)."""
        t = moments(self.start, np.atleast_1d(time_s))
        return (satellite - self.place).at(t).altaz()[0].degrees

    def inside(self, satellite, time_s):
        """Below zero in the field and above the horizon, (k,)."""
        return np.maximum(
            self.outside(satellite, time_s), -self.altitude_deg(satellite, time_s)
        )


def angle_deg(a, b):
    """Angles between vectors (3, k) and (3, k) or (3, 1)."""
    cross = np.linalg.norm(np.cross(a.T, np.broadcast_to(b, a.shape).T), axis=1)
    return np.degrees(np.arctan2(cross, (a * b).sum(axis=0)))


def stays(sky, satellite, span_s):
    """Every stay of one satellite in the field within the window."""
    coarse, t, (toward, radius) = sky.coarse(span_s)
    geometric = (satellite - sky.place).at(t)
    away = angle_deg(geometric.position.km, toward)
    near = away < radius + AROUND_DEG
    near &= geometric.altaz()[0].degrees > -AROUND_DEG
    found = []
    index = np.flatnonzero(near)
    for run in np.split(index, np.flatnonzero(np.diff(index) > 1) + 1):
        if run.size:
            begin = max(coarse[run[0]] - COARSE_S, 0.0)
            end = min(coarse[run[-1]] + COARSE_S, span_s)
            found += _within(sky, satellite, begin, end, span_s)
    return found


def _within(sky, satellite, begin, end, span_s):
    fine = np.linspace(begin, end, max(round((end - begin) / FINE_S), 1) + 1)
    values = np.concatenate(
        [sky.inside(satellite, fine[i : i + 20000]) for i in range(0, fine.size, 20000)]
    )
    inside = values < 0.0
    edges = np.flatnonzero(inside[1:] != inside[:-1])
    roots = [root(sky, satellite, fine[i], fine[i + 1]) for i in edges]
    marks = [begin] * bool(inside[0]) + roots + [end] * bool(inside[-1])
    return [
        Stay(a, b, a <= 0.0 or b >= span_s)
        for a, b in zip(marks[0::2], marks[1::2], strict=True)
    ]


def root(sky, satellite, low, high):
    """The change between two times by halving."""
    first = sky.inside(satellite, low)[0] < 0.0
    while high - low > ROOT_S:
        middle = 0.5 * (low + high)
        if (sky.inside(satellite, middle)[0] < 0.0) == first:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


__all__ = ["EarthSatellite", "Sky", "Stay", "stays", "timescale"]
