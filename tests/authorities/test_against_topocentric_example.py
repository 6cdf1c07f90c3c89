"""The worked topocentric example of skyfield's documentation, digit by digit.

Source: skyfield documentation, "Earth Satellites" (element set, site, moment and
printed answers; also the ranges minute by minute).
"""

from datetime import UTC, datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose
from one_satellite import catalogue_of_lines

from passes import sky, vectors
from passes.model import Site
from passes.orbits import Propagator
from passes.track import sample_track
from passes.track.geometry import of_date, see, trace

LINES = (
    "1 25544U 98067A   14020.93268519  .00009878  00000-0  18200-3 0  5082",
    "2 25544  51.6498 109.4756 0003572  55.9686 274.8005 15.49815350868473",
)
SITE = Site(name="example", latitude_deg=40.8939, longitude_deg=-83.8917, height_m=0.0)
WHEN = datetime(2014, 1, 23, 11, 18, 7, tzinfo=UTC)

#: Half of the last printed digit, and a hair for its rounding.
PRINTED_ARCSEC = 0.051 / 3600.0
PRINTED_RA = 15.0 * 0.0051 / 3600.0


def degrees(whole, minutes, seconds):
    """Degrees of an angle printed in three parts."""
    return whole + minutes / 60.0 + seconds / 3600.0


@pytest.fixture(scope="module")
def station():
    """The example's element set."""
    return catalogue_of_lines(*LINES, name="EXAMPLE")


def test_altitude_azimuth_and_range(station):
    track = sample_track(station, 0, SITE, WHEN, [0.0])
    assert_allclose(track.altitude_deg, degrees(16, 16, 32.6), atol=PRINTED_ARCSEC)
    assert_allclose(track.azimuth_deg, degrees(350, 15, 20.4), atol=PRINTED_ARCSEC)
    assert_allclose(track.range_km, 1168.7, atol=0.051)
    age_days = 23 + (11 * 3600 + 18 * 60 + 7) / 86400 - 20.93268519
    assert track.element_age_days == pytest.approx(age_days, abs=1e-9)


def test_place_and_line_of_sight_in_kilometres(station):
    path = trace(Propagator(station, WHEN), 0, np.array([0.0]))
    to_icrs = sky.teme_to_icrs(WHEN, path.time_s)
    place = vectors.apply(to_icrs, path.position_km)
    line = vectors.apply(to_icrs, path.position_km - see(path, SITE, WHEN).site_km)
    # Printed to 1e-8 km; the frame's matrix is interpolated, 1e-9 rad or 7e-6 km.
    expected = [[-3918.87650458, -1887.64838745, 5209.08801512]]
    assert_allclose(place, expected, rtol=0, atol=7e-6)
    expected = [[331.61901192, 392.18492744, 1049.7597825]]
    assert_allclose(line, expected, rtol=0, atol=1e-5)


def test_geometric_direction_in_icrs_and_of_date(station):
    """The example prints the geometric direction, without light time."""
    path = trace(Propagator(station, WHEN), 0, np.array([0.0]))
    line = path.position_km - see(path, SITE, WHEN).site_km
    direction = vectors.apply(sky.teme_to_icrs(WHEN, path.time_s), line)
    ra, dec, _ = np.degrees(vectors.spherical(direction))
    assert_allclose(ra, 15.0 * degrees(3, 19, 7.97), rtol=0, atol=PRINTED_RA)
    assert_allclose(dec, degrees(63, 55, 47.2), rtol=0, atol=PRINTED_ARCSEC)
    ra, dec, _ = np.degrees(vectors.spherical(of_date(direction, WHEN, path.time_s)))
    assert_allclose(ra, 15.0 * degrees(3, 20, 22.42), rtol=0, atol=PRINTED_RA)
    assert_allclose(dec, degrees(63, 58, 45.2), rtol=0, atol=PRINTED_ARCSEC)


def test_what_a_plate_solution_gives_lies_by_the_known_effects(station):
    """Light time and the Earth's motion in it: at most 20.5″ + 5″ + 0.3″ of aberration.

    The three speeds over that of light (common practice, no source): Earth 20.5″,
    object 5.3″, site 0.3″.
    """
    track = sample_track(station, 0, SITE, WHEN, [0.0])
    printed = vectors.direction(
        np.radians(15.0 * degrees(3, 19, 7.97)), np.radians(degrees(63, 55, 47.2))
    )
    seen = vectors.direction(
        np.radians(track.ra_icrs_deg), np.radians(track.dec_icrs_deg)
    )
    apart_arcsec = np.degrees(vectors.separation_rad(printed, seen)) * 3600.0
    assert 5.0 < apart_arcsec[0] < 26.2


def test_ranges_minute_by_minute(station):
    """11:17 to 11:22; the printed rates are SGP4's own, ours are of the positions."""
    start = WHEN.replace(minute=17, second=0)
    time_s = 60.0 * np.arange(6)
    track = sample_track(station, 0, SITE, start, time_s)
    ranges = [1434.2, 1190.5, 1064.3, 1097.3, 1277.4, 1553.6]
    assert_allclose(track.range_km, ranges, rtol=0, atol=0.051)
    ahead, behind = (
        sample_track(station, 0, SITE, start, time_s + s).range_km for s in (0.5, -0.5)
    )
    rates = [-4.74, -3.24, -0.84, 1.90, 3.95, 5.14]
    assert_allclose(ahead - behind, rates, rtol=0, atol=0.0055)
