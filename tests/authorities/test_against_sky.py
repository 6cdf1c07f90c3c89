"""Sun, Moon and planets against skyfield's own places and published ones."""

from datetime import UTC, datetime

import numpy as np
import pytest
from tolerances import ARCSEC, BODY_RAD, SUN_MOON_RAD

from passes import sky
from passes.model import Site
from passes.sky._door import ephemeris, timescale
from passes.vectors import apply, norm, separation_rad

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
SPAN_S = np.random.default_rng(8).uniform(0.0, 15 * 86400.0, 300)
STARTS = [
    datetime(1969, 7, 20, 12, tzinfo=UTC),
    datetime(2025, 9, 14, 17, 3, 5, tzinfo=UTC),
    datetime(2047, 2, 3, 1, tzinfo=UTC),
]
each_start = pytest.mark.parametrize("start", STARTS, ids=lambda start: f"{start:%Y}")


def times(start: datetime):  # type: ignore[no-untyped-def]
    seconds = start.hour * 3600 + start.minute * 60 + start.second + SPAN_S
    day, second = np.divmod(seconds, 86400.0)
    return timescale().utc(start.year, start.month, start.day + day, 0, 0, second)


def observer():  # type: ignore[no-untyped-def]
    from skyfield.api import wgs84

    return ephemeris()["earth"] + wgs84.latlon(37.1, -3.4, 1900.0)


@each_start
@pytest.mark.parametrize("name", ["sun", "moon"])
def test_geocentric_places_are_skyfields_apparent_ones(
    start: datetime, name: str
) -> None:
    from skyfield.sgp4lib import TEME

    time = times(start)
    theirs = ephemeris()["earth"].at(time).observe(ephemeris()[name]).apparent()
    theirs_km = apply(np.moveaxis(TEME.rotation_at(time), -1, 0), theirs.position.km.T)
    ours = {"sun": sky.sun_teme_km, "moon": sky.moon_teme_km}[name](start, SPAN_S)
    assert separation_rad(ours, theirs_km).max() < 1e-8 < SUN_MOON_RAD
    # skyfield's distance holds the Earth's motion during the light's flight
    np.testing.assert_allclose(norm(ours), norm(theirs_km), rtol=2e-4)


@each_start
@pytest.mark.parametrize("body", sky.BODIES)
def test_bodies_are_where_skyfield_observes_them(start: datetime, body: str) -> None:
    name = body if body not in ("jupiter", "saturn") else f"{body} barycenter"
    theirs = observer().at(times(start)).observe(ephemeris()[name])
    direction, distance_km, radius_km = sky.body_icrs(body, SITE, start, SPAN_S)
    apart = separation_rad(direction, theirs.position.km.T)
    assert apart.max() < 0.01 * BODY_RAD
    np.testing.assert_allclose(norm(direction), 1.0, rtol=1e-14)
    np.testing.assert_allclose(distance_km, theirs.distance().km, rtol=1e-8)
    assert radius_km > 1000.0


@each_start
def test_altitudes_and_azimuths_are_skyfields(start: datetime) -> None:
    time = times(start)
    place = observer().at(time)
    altitude, _, _ = place.observe(ephemeris()["sun"]).apparent().altaz()
    ours = sky.sun_altitude_deg(SITE, start, SPAN_S)
    # we leave out the diurnal aberration, up to 0.32″
    np.testing.assert_allclose(ours, altitude.degrees, atol=0.4 / 3600.0)
    altitude, azimuth, _ = place.observe(ephemeris()["moon"]).apparent().altaz()
    moon, bearing = sky.moon_altaz(SITE, start, SPAN_S)
    np.testing.assert_allclose(moon, altitude.degrees, atol=0.4 / 3600.0)
    turned = (bearing - azimuth.degrees + 180.0) % 360.0 - 180.0
    across = turned * np.cos(np.radians(moon))
    np.testing.assert_allclose(across, 0.0, atol=0.4 / 3600.0)


@each_start
def test_the_earths_velocity_is_skyfields(start: datetime) -> None:
    theirs = ephemeris()["earth"].at(times(start)).velocity.km_per_s.T
    ours = sky.earth_velocity_km_s(start, SPAN_S)
    np.testing.assert_allclose(ours, theirs, atol=5e-6)


def test_discs_have_the_sizes_of_the_almanac() -> None:
    # Semi-diameters from memory: Sun 15′59.63″ at 1 au (695 997 km in the older
    # almanacs), Moon 0.2725076 Earth radii.
    _, distance, radius = sky.body_icrs("sun", SITE, STARTS[1], 0.0)
    at_one_au = np.degrees(np.arcsin(radius / 149597870.7)) * 3600.0
    assert at_one_au == pytest.approx(959.63, abs=0.05)
    assert 0.98 < float(distance) / 149597870.7 < 1.02
    _, _, radius = sky.body_icrs("moon", SITE, STARTS[1], 0.0)
    assert radius / 6378.14 == pytest.approx(0.2725, abs=2e-4)


def test_the_sun_of_meeus_25b() -> None:
    # Astronomical Algorithms, example 25.b, 1992-10-13 0h TD: apparent longitude
    # 199°54′21.548″ (true equinox); ours from TEME by the equation of the equinoxes.
    time = timescale().tt(1992, 10, 13)
    start = time.utc_datetime()
    of_date = apply(
        sky.true_of_date_from_icrs(start, 0.0) @ sky.teme_to_icrs(start, 0.0),
        sky.sun_teme_km(start, 0.0),
    )
    tilt = float(time._mean_obliquity_radians + time._nutation_angles_radians[1])
    x, y, z = of_date
    longitude = np.degrees(np.arctan2(y * np.cos(tilt) + z * np.sin(tilt), x)) % 360.0
    assert longitude == pytest.approx(199 + 54 / 60 + 21.548 / 3600, abs=0.1 / 3600)


def test_the_moon_of_meeus_47a() -> None:
    # Astronomical Algorithms, example 47.a, 1992-04-12 0h TD: apparent right ascension
    # 134.688469°, declination 13.768367°, distance 368409.7 km (abridged theory: 10″).
    start = timescale().tt(1992, 4, 12).utc_datetime()
    vector = apply(
        sky.true_of_date_from_icrs(start, 0.0) @ sky.teme_to_icrs(start, 0.0),
        sky.moon_teme_km(start, 0.0),
    )
    lon, lat = np.radians([134.688469, 13.768367])
    book = [np.cos(lon) * np.cos(lat), np.sin(lon) * np.cos(lat), np.sin(lat)]
    assert float(separation_rad(vector, book)) < 10.0 * ARCSEC
    assert float(norm(vector)) == pytest.approx(368409.7, abs=10.0)


def test_venus_of_meeus_13b() -> None:
    # Astronomical Algorithms, example 13.b, 1987-04-10 19h21m UT at the US Naval
    # Observatory: azimuth 68.0337° from south, altitude 15.1249° (no parallax there).
    site = Site(latitude_deg=38.92139, longitude_deg=-77.06556)
    start = datetime(1987, 4, 10, 19, 21, tzinfo=UTC)
    direction, _, _ = sky.body_icrs("venus", site, start, 0.0)
    teme = apply(sky.teme_to_icrs(start, 0.0).swapaxes(-1, -2), direction)
    from passes.vectors import rotate_z

    local = apply(sky.site_axes(site), rotate_z(teme, -sky.gmst_rad(start, 0.0)))
    altitude = float(np.degrees(np.arcsin(local[2])))
    azimuth = float(np.degrees(np.arctan2(local[0], local[1]))) % 360.0
    # astrometric against apparent: 20″ of aberration and 3″ of parallax
    assert altitude == pytest.approx(15.1249, abs=30.0 / 3600.0)
    assert azimuth == pytest.approx(68.0337 + 180.0, abs=30.0 / 3600.0)
