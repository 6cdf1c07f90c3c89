"""Azimuth, altitude and RA/Dec of a track against astropy's chain of frames.

Only the SGP4 states are shared (the sgp4 package gives both sides the same TEME
positions).  Sidereal angle, polar motion, horizon, aberration and the way to ICRS are
astropy's and ERFA's own.  Earth orientation is the table IERS-B that is bundled with
astropy; nothing is downloaded.  Refraction is off (pressure 0).
"""

from datetime import timedelta

import numpy as np
import pytest
from numpy.testing import assert_allclose
from one_satellite import START, catalogue, moments

from passes import vectors
from passes.model import Site
from passes.track import sample_track

astropy = pytest.importorskip("astropy", reason="needs the reference library astropy")

from astropy import units as u  # noqa: E402
from astropy.coordinates import (  # noqa: E402
    ICRS,
    ITRS,
    TEME,
    AltAz,
    CartesianRepresentation,
    EarthLocation,
    HADec,
    SkyCoord,
)
from astropy.time import Time  # noqa: E402
from astropy.utils import iers  # noqa: E402

SITE = Site(name="invented", latitude_deg=47.3, longitude_deg=8.1, height_m=650.0)
HERE = EarthLocation.from_geodetic(
    SITE.longitude_deg * u.deg, SITE.latitude_deg * u.deg, SITE.height_m * u.m
)
TIME_S = np.linspace(0.0, 20_000.0, 41)
LIGHT_KM_S = 299792.458

#: Range with the pole at rest: what UT1 leaves, 2 cm.
STILL_KM = 3e-5
#: Skyfield's and IERS-B's UT1 on the day; 1e-5 s found.  It moves a site by 2 cm.
UT1_S = 5e-5
#: Polar motion, which we leave out: under 0.6″, that is 19 m on the ground.
POLAR_KM = 0.019


@pytest.fixture
def offline():
    """The bundled table of Earth orientation, and no way to ask for another."""
    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        iers.earth_orientation_table.set(iers.IERS_B.open()),
    ):
        yield


@pytest.fixture
def still_pole(offline):
    """The same table with the pole at rest, as we have it."""
    table = iers.IERS_B.open().copy()
    for column in ("PM_x", "PM_y"):
        table[column] = 0.0 * table[column].unit
    with iers.earth_orientation_table.set(table):
        yield


def _times():
    return Time(START.replace(tzinfo=None), scale="utc") + TIME_S * u.s


def _states(row, late_s=0.0):
    """TEME positions ``(n, 3)`` km from the sgp4 package at times less ``late_s``."""
    times = _times()
    days = times.jd2 - np.asarray(late_s) / 86400.0
    error, position, _ = catalogue().satrec(row).sgp4_array(times.jd1, days)
    assert not error.any()
    return position


def _line(position_km):
    """Topocentric line of sight, Earth-fixed, by astropy's documented recipe."""
    times = _times()
    place = CartesianRepresentation(position_km.T * u.km)
    fixed = TEME(place, obstime=times).transform_to(ITRS(obstime=times))
    line = fixed.cartesian.without_differentials() - HERE.get_itrs(times).cartesian
    return ITRS(line, obstime=times, location=HERE)


def _seconds_of_arc(one, other):
    return np.degrees(vectors.separation_rad(one, other)) * 3600.0


def _directions(longitude_deg, latitude_deg):
    return vectors.direction(np.radians(longitude_deg), np.radians(latitude_deg))


def _in_the_mounts_axes(row, range_km):
    """Seconds of arc between the two, in the horizon's and the equator's axes."""
    track = sample_track(catalogue(), row, SITE, START, TIME_S)
    line = _line(_states(row))
    level = line.transform_to(AltAz(obstime=_times(), location=HERE))
    hour = line.transform_to(HADec(obstime=_times(), location=HERE))
    ours = _directions(track.azimuth_deg, track.altitude_deg)
    theirs = _directions(level.az.deg, level.alt.deg)
    assert_allclose(track.range_km, level.distance.km, rtol=0, atol=range_km)
    hours = _directions(track.hour_angle_deg, _dec_deg(track))
    theirs_too = _directions(hour.ha.deg, hour.dec.deg)
    apart = _seconds_of_arc(ours, theirs), _seconds_of_arc(hours, theirs_too)
    return track, apart


def _dec_deg(track):
    """Geometric declination from altitude, azimuth and latitude (spherical law)."""
    latitude = np.radians(SITE.latitude_deg)
    altitude, azimuth = np.radians([track.altitude_deg, track.azimuth_deg])
    sine = np.sin(latitude) * np.sin(altitude)
    sine = sine + np.cos(latitude) * np.cos(altitude) * np.cos(azimuth)
    return np.degrees(np.arcsin(sine))


@pytest.mark.usefixtures("still_pole")
@pytest.mark.parametrize("row", range(5))
def test_azimuth_altitude_and_hour_angle_with_the_pole_at_rest(row):
    track, apart = _in_the_mounts_axes(row, STILL_KM)
    # The Earth's turning in the difference of UT1, 0.46 km/s, seen from the range.
    allowed = np.degrees(0.47 * UT1_S / track.range_km + 7.3e-5 * UT1_S) * 3600.0
    for seconds in apart:
        assert (seconds < allowed + 0.001).all()


@pytest.mark.usefixtures("offline")
@pytest.mark.parametrize("row", range(5))
def test_azimuth_and_altitude_with_the_wandering_pole_differ_by_metres(row):
    track, apart = _in_the_mounts_axes(row, POLAR_KM)
    allowed = np.degrees(POLAR_KM / track.range_km) * 3600.0 + 0.6
    for seconds in apart:
        assert (seconds < allowed).all()
    assert max(apart[0].max(), apart[1].max()) > 0.05


@pytest.mark.usefixtures("still_pole")
def test_the_two_tables_of_earth_orientation_agree():
    theirs = _times().delta_ut1_utc
    ours = moments(START, TIME_S).dut1
    assert_allclose(ours, theirs, rtol=0, atol=UT1_S)


@pytest.mark.usefixtures("still_pole")
@pytest.mark.parametrize("row", range(5))
def test_star_field_place_is_that_of_a_star_seen_in_the_same_direction(row):
    """What a plate solution gives: the ICRS place of stars around the object.

    The direction from which the light arrives (object where the light left it, plus the
    site's own diurnal aberration) is handed to astropy as an observed direction without
    distance, and astropy finds the catalogue place of a star seen there.
    """
    track = sample_track(catalogue(), row, SITE, START, TIME_S)
    light_s = track.range_km / LIGHT_KM_S
    for _ in range(3):
        line = _line(_states(row, light_s)).cartesian.xyz.to_value(u.km).T
        light_s = vectors.norm(line) / LIGHT_KM_S
    x, y, _ = HERE.get_itrs(_times()).cartesian.xyz.to_value(u.km)
    site_km_s = 7.292115e-5 * np.stack([-y, x, 0.0 * x], axis=-1)
    arriving = vectors.unit(line) + site_km_s / LIGHT_KM_S
    arriving = CartesianRepresentation(vectors.unit(arriving).T)
    frame = AltAz(obstime=_times(), location=HERE, pressure=0.0 * u.hPa)
    seen = ITRS(arriving, obstime=_times(), location=HERE).transform_to(frame)
    star = SkyCoord(az=seen.az, alt=seen.alt, frame=frame).transform_to(ICRS())
    apart = _seconds_of_arc(
        _directions(track.ra_icrs_deg, track.dec_icrs_deg),
        _directions(star.ra.deg, star.dec.deg),
    )
    # UT1 as above; light bent by the Sun 0.01″ (over 45° away); parallax 0.
    allowed = np.degrees(0.47 * UT1_S / track.range_km + 7.3e-5 * UT1_S) * 3600.0
    away = track.sun_separation_deg > 45.0
    assert away.sum() > 20
    assert (apart < allowed + 0.015)[away].all()
    # Ignoring the Earth's motion in the light time would be 20″ off: the test can tell.
    assert allowed.max() < 1.0


@pytest.mark.usefixtures("still_pole")
def test_of_date_is_the_equinox_of_date():
    """Against ERFA's bias-precession-nutation, IAU 2006/2000A."""
    import erfa

    track = sample_track(catalogue(), 0, SITE, START, TIME_S)
    tt = _times().tt
    matrices = erfa.pnm06a(tt.jd1, tt.jd2)
    want = vectors.apply(matrices, _directions(track.ra_icrs_deg, track.dec_icrs_deg))
    got = _directions(track.ra_of_date_deg, track.dec_of_date_deg)
    assert_allclose(_seconds_of_arc(got, want), 0.0, rtol=0, atol=0.001)


def test_the_day_lies_within_the_bundled_table():
    table = iers.IERS_B.open()
    last = Time(table["MJD"][-1].value, format="mjd").to_datetime(timezone=START.tzinfo)
    assert START + timedelta(days=1) < last
