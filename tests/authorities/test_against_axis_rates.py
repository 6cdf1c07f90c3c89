"""Places and axis speeds of a track against skyfield and its differences.

Skyfield is an independent implementation of the frames; its ``altaz()`` and ``hadec()``
are differenced here, so that nothing of ours takes part in what the speeds are held to.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from one_satellite import START, catalogue, moments, planets, seen_by_skyfield
from skyfield.api import wgs84

from passes.model import Site
from passes.track import sample_track

#: Angles: our sidereal angle is a straight line between hours, 1e-11 rad, seen from
#: 400 km instead of 7000 km; skyfield rounds its own times to 1e-10 s.
ANGLE_DEG = 1e-7
#: The frame matrices on the star field are interpolated, 1e-9 rad.
STAR_FIELD_DEG = 3e-7
#: Rates: SGP4 rounds positions to 1e-9 km, which differences divide by their step.
RATE, ACCELERATION = 3e-7, 3e-6
#: The Earth turns at a constant rate, 1e-12 rad/s off the wandering true one.
SPIN_DEG_S = 6e-11

SITE = Site(name="invented", latitude_deg=47.3, longitude_deg=8.1, height_m=650.0)
SOUTH = Site(name="invented", latitude_deg=-33.9, longitude_deg=18.4, height_m=20.0)
ROWS = range(5)


def apart(one, other):
    """Difference of angles in degrees, -180 to 180."""
    return (np.asarray(one) - np.asarray(other) + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("site", [SITE, SOUTH], ids=["north", "south"])
@pytest.mark.parametrize("row", ROWS)
def test_places_in_the_mounts_axes_equal_skyfields(row, site):
    """``(satellite - site).at(t).altaz()`` and ``.hadec()``."""
    time_s = np.linspace(0.0, 20_000.0, 41)
    track = sample_track(catalogue(), row, site, START, time_s)
    satellite, place = seen_by_skyfield(catalogue(), row, site)
    topocentric = (satellite - place).at(moments(START, time_s))
    altitude, azimuth, distance = topocentric.altaz()
    hour_angle, dec, _ = topocentric.hadec()
    across = np.cos(altitude.radians)
    assert_allclose(track.altitude_deg, altitude.degrees, rtol=0, atol=ANGLE_DEG)
    off = apart(track.azimuth_deg, azimuth.degrees) * across
    assert_allclose(off, 0.0, rtol=0, atol=ANGLE_DEG)
    assert_allclose(track.range_km, distance.km, rtol=0, atol=1e-6)
    off = apart(track.hour_angle_deg, 15.0 * hour_angle.hours) * np.cos(dec.radians)
    assert_allclose(off, 0.0, rtol=0, atol=ANGLE_DEG)


@pytest.mark.parametrize("row", ROWS)
def test_places_on_the_star_field_equal_skyfields(row):
    """``(earth + site).at(t).observe(earth + satellite)``, astrometric.

    Of date: the same position in skyfield's true equator and equinox of date.
    """
    time_s = np.linspace(0.0, 20_000.0, 41)
    track = sample_track(catalogue(), row, SITE, START, time_s)
    satellite, place = seen_by_skyfield(catalogue(), row, SITE)
    t, earth = moments(START, time_s), planets()["earth"]
    seen = (earth + place).at(t).observe(earth + satellite)
    for got_ra, got_dec, epoch in (
        (track.ra_icrs_deg, track.dec_icrs_deg, None),
        (track.ra_of_date_deg, track.dec_of_date_deg, "date"),
    ):
        ra, dec, _ = seen.radec(epoch=epoch)
        assert_allclose(got_dec, dec.degrees, rtol=0, atol=STAR_FIELD_DEG)
        off = apart(got_ra, 15.0 * ra.hours) * np.cos(dec.radians)
        assert_allclose(off, 0.0, rtol=0, atol=STAR_FIELD_DEG)


@pytest.mark.parametrize("row", ROWS)
def test_light_and_surroundings_equal_skyfields(row):
    """Phase angle, sunlight, separations and the Sun's altitude, DE421 by skyfield."""
    time_s = np.linspace(0.0, 20_000.0, 41)
    track = sample_track(catalogue(), row, SITE, START, time_s)
    satellite, place = seen_by_skyfield(catalogue(), row, SITE)
    t, eph = moments(START, time_s), planets()
    here = (eph["earth"] + place).at(t)
    topocentric = (satellite - place).at(t)
    sun, moon = (here.observe(eph[name]).apparent() for name in ("sun", "moon"))
    two_arcseconds = 2.0 / 3600.0
    for got, want in (
        (track.sun_separation_deg, topocentric.separation_from(sun).degrees),
        (track.moon_separation_deg, topocentric.separation_from(moon).degrees),
        (track.sun_altitude_deg, sun.altaz()[0].degrees),
    ):
        assert_allclose(got, want, rtol=0, atol=two_arcseconds)
    # Sun - object - observer, from vectors of skyfield alone; 20″ of aberration.
    away = sun.position.km - topocentric.position.km
    cosine = -(away * topocentric.position.km).sum(0)
    cosine = cosine / np.linalg.norm(away, axis=0) / topocentric.distance().km
    want = np.degrees(np.arccos(cosine))
    assert_allclose(track.phase_angle_deg, want, rtol=0, atol=0.003)
    # Skyfield's Earth is a sphere without penumbra: compare away from the edges.
    lit = satellite.at(t).is_sunlit(eph)
    clear_cut = (track.lit_fraction == 0.0) | (track.lit_fraction == 1.0)
    assert clear_cut.sum() > 30
    assert (lit[clear_cut] == (track.lit_fraction[clear_cut] == 1.0)).all()


def _differences(look, time_s, step_s):
    """Speeds and accelerations of angles in degrees, by five points each.

    ``look(times)`` gives two angles ``(2, k)``; ``step_s`` ``(n,)`` may differ by time.
    """
    offset = np.arange(-2, 3)[:, np.newaxis] * step_s
    angles = look((time_s + offset).reshape(-1)).reshape(2, 5, -1)
    angles = apart(angles, angles[:, 2:3])
    first, second = (
        np.array(w)[:, np.newaxis] / 12.0
        for w in ((1, -8, 0, 8, -1), (-1, 16, -30, 16, -1))
    )
    return (first * angles).sum(1) / step_s, (second * angles).sum(1) / step_s**2


def _axes_by_skyfield(objects, row, site, start):
    """Two functions of time: (azimuth, altitude) and (hour angle, declination)."""
    satellite, place = seen_by_skyfield(objects, row, site)

    def level(time_s):
        altitude, azimuth, _ = (satellite - place).at(moments(start, time_s)).altaz()
        return np.stack([azimuth.degrees, altitude.degrees])

    def equatorial(time_s):
        hour, dec, _ = (satellite - place).at(moments(start, time_s)).hadec()
        return np.stack([15.0 * hour.hours, dec.degrees])

    return level, equatorial


def _speeds(track, kind):
    """Rates and accelerations of both axes, ``(2, n)`` each."""
    first, second = kind
    return tuple(
        np.stack([getattr(track, f"{axis}_{what}") for axis in (first, second)])
        for what in ("rate_deg_s", "acceleration_deg_s2")
    )


def _hold(track, look, kind, rate=RATE, acceleration=ACCELERATION):
    """Compare speeds, relative to how fast the axes turn at each moment.

    A step of the differences covers a hundredth of the distance to the axis's pole:
    truncation (1e-7) and rounding stay small however near that is.
    """
    near = np.cos(np.radians(look(track.time_s)[1]))
    got_rate, got_acceleration = _speeds(track, kind)
    step_s = np.degrees(near) / 100.0 / np.hypot(got_rate[0] * near, got_rate[1])
    step_s = np.minimum(step_s, 3.0)
    want_rate, want_acceleration = _differences(look, track.time_s, step_s)
    scale = np.hypot(*want_rate)
    bend = np.hypot(*want_acceleration) + scale**2
    off = np.maximum(np.abs(got_rate - want_rate) - SPIN_DEG_S, 0.0) / scale
    assert off.max() < rate
    assert (np.abs(got_acceleration - want_acceleration) / bend).max() < acceleration


LEVEL, EQUATORIAL = ("azimuth", "altitude"), ("hour_angle", "dec")


@pytest.mark.parametrize("row", range(4))
def test_axis_rates_equal_differences_of_skyfields_angles(row):
    time_s = np.linspace(0.0, 20_000.0, 41)
    track = sample_track(catalogue(), row, SITE, START, time_s)
    level, equatorial = _axes_by_skyfield(catalogue(), row, SITE, START)
    _hold(track, level, LEVEL)
    _hold(track, equatorial, EQUATORIAL)


def test_a_geostationary_object_hardly_moves_over_the_ground():
    """Rates a thousandth of the sky's turning, to a millionth of that turning."""
    time_s = np.linspace(0.0, 20_000.0, 41)
    track = sample_track(catalogue(), 4, SITE, START, time_s)
    for look, kind in zip(
        _axes_by_skyfield(catalogue(), 4, SITE, START), (LEVEL, EQUATORIAL), strict=True
    ):
        want, bend = _differences(look, time_s, np.full(41, 60.0))
        got_rate, got_acceleration = _speeds(track, kind)
        assert_allclose(got_rate, want, rtol=0, atol=4e-9)
        assert_allclose(got_acceleration, bend, rtol=0, atol=4e-9)
        assert np.abs(got_rate).max() < 1e-4
    assert_allclose(track.angular_rate_deg_s, 360.9856 / 86400, rtol=0.02)


def _beneath(direction, off_m):
    """A site from which the low station passes ``off_m`` from the zenith or the pole.

    On the ground where a line through the object, along the vertical or along the
    Earth's axis, meets the ellipsoid; then moved east a little.
    """
    satellite, _ = seen_by_skyfield(catalogue(), 0, SITE)
    for middle_s in range(0, 86400, 60):
        here = satellite.at(moments(START, float(middle_s)))
        ground = wgs84.subpoint_of(here)
        latitude = ground.latitude.radians
        if not 0.75 < latitude < 0.85:
            continue
        if direction == "pole":
            from skyfield.framelib import itrs

            x, y, _ = here.frame_xyz(itrs).km
            squash = 1.0 - wgs84.inverse_flattening**-1
            z = squash * np.sqrt(wgs84.radius.km**2 - x**2 - y**2)
            latitude = np.arctan2(z / squash**2, np.hypot(x, y))
        east = np.degrees(off_m / 6.4e6 / np.cos(latitude))
        place = Site(
            latitude_deg=np.degrees(latitude),
            longitude_deg=ground.longitude.degrees + east,
        )
        return place, float(middle_s)
    raise AssertionError("the low station never came by")


@pytest.mark.parametrize("off_m", [20_000.0, 500.0, 20.0])
@pytest.mark.parametrize("through", ["zenith", "pole"])
def test_axis_rates_hold_through_the_zenith_and_by_the_pole(through, off_m):
    site, middle_s = _beneath(through, off_m)
    time_s = middle_s + np.linspace(-3.0, 3.0, 121)
    track = sample_track(catalogue(), 0, site, START, time_s)
    level, equatorial = _axes_by_skyfield(catalogue(), 0, site, START)
    look, kind = {
        "zenith": (level, LEVEL),
        "pole": (equatorial, EQUATORIAL),
    }[through]
    rate, _ = _speeds(track, kind)
    axis = rate[0]
    # The first axis swings round: the closer to its pole, the faster.
    assert np.abs(axis).max() > 3.0e4 / off_m
    # Skyfield keeps time to 1e-10 s and places to 1e-9 km: 5e-9 of 20 m, differenced.
    loose = 20.0 / off_m
    _hold(track, look, kind, RATE + 2e-6 * loose, ACCELERATION + 3e-4 * loose)
    assert np.isfinite(rate).all()
    # Never wrapped: a swing of half a circle adds up from the speeds.
    fine = sample_track(
        catalogue(), 0, site, START, middle_s + np.arange(-3.0, 3.0, 0.001)
    )
    swing = getattr(fine, f"{kind[0]}_rate_deg_s").sum() * 0.001
    ends = getattr(fine, f"{kind[0]}_deg")[[0, -1]]
    assert apart(swing, ends[1] - ends[0]) == pytest.approx(0.0, abs=1.0)
    assert abs(swing) > 30.0
