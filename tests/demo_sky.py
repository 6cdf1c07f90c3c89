"""The demo's sky by skyfield alone: its sites over the night, its station near a body.

Nothing of the project's engine is used, so that the scenario is held from outside.
"""

import tomllib
from datetime import UTC, datetime
from importlib.resources import files

import numpy as np
from skyfield.api import wgs84
from skyfield.framelib import itrs

DEMO = files("passes") / "data" / "demo"
EQUATOR_KM, FLATTENING = 6378.137, 1 / 298.257223563
#: Grid of a site's night.
STEP_S = 10.0


def table(name):
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


def records(text):
    """Name and both lines of each set."""
    lines = text.splitlines()
    return list(zip(lines[::3], lines[1::3], lines[2::3], strict=True))


def utc(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


class Place:
    """One of the scenario's sites over the demo night, in steps."""

    def __init__(self, name, ts, ephemeris):
        site = table("sites.toml")["sites"][name]
        self.site = wgs84.latlon(
            site["latitude_deg"], site["longitude_deg"], elevation_m=site["height_m"]
        )
        self.corners = np.array(site["horizon"] or [[0.0, 0.0]])
        self.ephemeris = ephemeris
        self.times = ts.utc(2029, 3, 17, 17, 0, np.arange(0.0, 12.5 * 3600.0, STEP_S))
        here = ephemeris["earth"] + self.site
        sun = here.at(self.times).observe(ephemeris["sun"]).apparent()
        self.sun_deg = sun.altaz()[0].degrees

    def edge_deg(self, azimuth_deg):
        """Altitude of the horizon, linear between corners, closed over north."""
        return np.interp(azimuth_deg, *self.corners.T, period=360.0)

    def passes(self, satellite):
        """Each pass above 10°: altitude, azimuth, lit, Sun, seconds; arrays (n,).

        The last array counts from the start of the night.
        """
        altitude, azimuth, _ = (satellite - self.site).at(self.times).altaz()
        up = np.flatnonzero(altitude.degrees > 10.0)
        lit = satellite.at(self.times).is_sunlit(self.ephemeris)
        for run in np.split(up, np.flatnonzero(np.diff(up) > 1) + 1):
            yield (
                altitude.degrees[run],
                azimuth.degrees[run],
                lit[run],
                self.sun_deg[run],
                run * STEP_S,
            )

    def seen(self, one):
        """Where a pass is lit, in twilight or night, and above the horizon."""
        altitude, azimuth, lit, sun, _ = one
        return lit & (sun < -6.0) & (altitude > self.edge_deg(azimuth))

    def visible(self, satellite):
        """The passes of which something is seen, with where it is."""
        for one in self.passes(satellite):
            if self.seen(one).any():
                yield one, self.seen(one)


class Minute:
    """The station before a body, a minute either side of a promised transit."""

    def __init__(self, body, when, ts, ephemeris, site, station):
        self.t = ts.from_datetime(utc(when)) + np.arange(-60.0, 60.0, 0.5) / 86400.0
        earth = ephemeris["earth"]
        here = (earth + site).at(self.t)
        self.disc = here.observe(ephemeris[body])
        self.station = here.observe(earth + station)
        self.altitude_deg = self.disc.apparent().altaz()[0].degrees
        self.place_km = station.at(self.t).frame_xyz(itrs).km.T
        self.body_km = earth.at(self.t).observe(ephemeris[body]).frame_xyz(itrs).km.T
        self.site_km = np.asarray(site.itrs_xyz.km)

    def miss_km(self):
        """How near the line from body through station strikes the ground to the site.

        Ellipsoid at the site's height; straight pieces between half seconds.
        """
        high = np.linalg.norm(self.site_km) - EQUATOR_KM * (
            1 - FLATTENING * (self.site_km[2] / np.linalg.norm(self.site_km)) ** 2
        )
        axes = np.array([EQUATOR_KM, EQUATOR_KM, EQUATOR_KM * (1 - FLATTENING)]) + high
        ray = self.place_km - self.body_km
        ray /= np.linalg.norm(ray, axis=1, keepdims=True)
        p, u = self.place_km / axes, ray / axes
        a, b, c = (u * u).sum(1), (p * u).sum(1), (p * p).sum(1) - 1.0
        hits = b * b > a * c
        along = (-b[hits] - np.sqrt((b * b - a * c)[hits])) / a[hits]
        assert (along > 0.0).all()  # behind the station, not on its way to it
        start = self.place_km[hits] + along[:, None] * ray[hits] - self.site_km
        step = np.diff(start, axis=0)
        part = np.clip(-(start[:-1] * step).sum(1) / (step * step).sum(1), 0.0, 1.0)
        return np.linalg.norm(start[:-1] + part[:, None] * step, axis=1).min()
