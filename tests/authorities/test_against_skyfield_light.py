"""The light on passes of real objects, held against skyfield on the same elements.

Reference library: skyfield 1.55 with JPL DE421 (positions, Sun, Moon); its shadow
test takes the Earth as a sphere and the Sun as a point, so edges are held to a few
seconds only; the shadow kernel's own tests hold them to published worked examples.
"""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from one_satellite import planets
from skyfield.api import EarthSatellite, load, wgs84

from passes.api import Site, find_passes, read_elements

START = datetime(2025, 9, 14, 18, 0, tzinfo=UTC)
SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)


@pytest.fixture(scope="module")
def found(real_data):
    """Passes of every 120th real object in five hours, and skyfield's satellites."""
    catalogue = read_elements(real_data / "active_2025-09-13.tle.gz")[::120]
    passages = find_passes(catalogue, SITE, START, START + timedelta(hours=5))
    timescale = load.timescale(builtin=True)
    satellites = {}
    for row in range(len(catalogue)):
        satellite = EarthSatellite.from_satrec(catalogue.satrec(row), timescale)
        satellites[int(catalogue.catalog_number[row])] = satellite
    return list(passages), satellites, timescale


@pytest.fixture(scope="module")
def ground():
    return wgs84.latlon(SITE.latitude_deg, SITE.longitude_deg, SITE.height_m)


def angle_deg(a, b):
    cosine = (a * b).sum() / np.linalg.norm(a) / np.linalg.norm(b)
    return np.degrees(np.arccos(cosine))


def test_there_is_enough_to_hold(found):
    passages, _, _ = found
    assert len(passages) > 80
    assert sum(one.brightest is not None for one in passages) > 30


def test_phase_and_rate_at_the_brightest_moment(found, ground):
    passages, satellites, timescale = found
    sun, earth = planets()["sun"], planets()["earth"]
    checked = 0
    for one in passages:
        if one.brightest is None:
            continue
        when = one.brightest.time
        t = timescale.from_datetime(when)
        satellite = satellites[one.catalog_number]
        place, eye = satellite.at(t).position.km, ground.at(t).position.km
        towards_sun = (sun - earth).at(t).position.km - place
        phase = angle_deg(towards_sun, eye - place)
        assert abs(phase - one.brightest.phase_angle_deg) < 0.01
        span = [when - timedelta(seconds=0.5), when + timedelta(seconds=0.5)]
        a, b = ((satellite - ground).at(timescale.from_datetime(x)) for x in span)
        swept = angle_deg(a.position.km, b.position.km)
        assert abs(swept - one.brightest.angular_rate_deg_s) < 2e-4 + 1e-3 * swept
        checked += 1
    assert checked > 30


def test_sunlit_spans_agree_with_a_spherical_shadow_to_seconds(found):
    passages, satellites, timescale = found
    outside, looked = 0, 0
    for one in passages:
        seconds = np.arange(0.0, (one.end - one.start).total_seconds(), 10.0)
        times = [one.start + timedelta(seconds=float(s)) for s in seconds]
        t = timescale.from_datetimes(times)
        theirs = satellites[one.catalog_number].at(t).is_sunlit(planets())
        for when, lit in zip(times, np.atleast_1d(theirs), strict=True):
            near = timedelta(seconds=15.0)
            ours = {
                any(s.start <= x <= s.end for s in one.sunlit)
                for x in (when - near, when, when + near)
            }
            outside += bool(lit) not in ours
            looked += 1
    assert looked > 3000
    # what is left lies in long grazing shadows of high orbits
    assert outside <= 0.005 * looked


def test_sun_and_moon_at_the_moment_a_pass_stands_for(found, ground):
    passages, satellites, timescale = found
    earth = planets()["earth"]
    for one in passages[::3]:
        when = one.brightest or one.culmination
        if when is None:
            continue
        t = timescale.from_datetime(when.time)
        here = earth + ground
        sun = here.at(t).observe(planets()["sun"]).apparent()
        assert abs(sun.altaz()[0].degrees - one.sun_altitude_deg) < 0.01
        moon = here.at(t).observe(planets()["moon"]).apparent()
        line = (satellites[one.catalog_number] - ground).at(t)
        apart = angle_deg(moon.position.km, line.position.km)
        assert abs(apart - one.moon_separation_deg) < 0.02
