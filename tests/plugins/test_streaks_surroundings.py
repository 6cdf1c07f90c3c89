"""The sky behind a field, its transit, and the Earth's shadow on it."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from one_satellite import moments, planets
from skyfield.api import Star, wgs84

pytest.importorskip("passes_plugins.streaks")
from passes import sky, vectors
from passes.model import Site, Span
from passes_plugins.streaks.surroundings import shadowed, surroundings

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
EQUATOR = Site(latitude_deg=0.0, longitude_deg=0.0)
START = datetime(2025, 9, 13, 19, 30, tzinfo=UTC)


def by_skyfield(ra_deg, dec_deg, time_s):
    """Altitude and azimuth of a star by skyfield, degrees."""
    place = wgs84.latlon(SITE.latitude_deg, SITE.longitude_deg, elevation_m=1900.0)
    star = Star(ra_hours=ra_deg / 15.0, dec_degrees=dec_deg)
    seen = (planets()["earth"] + place).at(moments(START, time_s)).observe(star)
    altitude, azimuth, _ = seen.apparent().altaz()
    return altitude.degrees, azimuth.degrees


@pytest.mark.parametrize(("ra_deg", "dec_deg"), [(314.7, 44.3), (80.0, -5.0)])
def test_where_a_field_stands(ra_deg, dec_deg):
    """Held against skyfield; aberration (20″) is left out here."""
    time_s = np.arange(0.0, 30000.0, 3000.0)
    found = surroundings(SITE, START, time_s, ra_deg, dec_deg)
    altitude, azimuth = by_skyfield(ra_deg, dec_deg, time_s)
    assert np.allclose(np.degrees(found.altitude_rad), altitude, atol=0.01)
    turn = (np.degrees(found.azimuth_rad) - azimuth + 180.0) % 360.0 - 180.0
    assert np.allclose(turn * np.cos(found.altitude_rad), 0.0, atol=0.01)


def test_the_transit_is_due_south():
    when = sky.next_transit(SITE, 314.7, 20.0, START)
    assert START < when < START + timedelta(days=1)
    _, azimuth = by_skyfield(314.7, 20.0, (when - START).total_seconds())
    assert azimuth == pytest.approx(180.0, abs=0.1)


def test_twilight_brightens_the_sky():
    time_s = np.array([-2400.0, 3600.0])  # the Sun 6° and 25° down
    found = surroundings(SITE, START, time_s, 314.7, 44.3)
    assert found.sky_mag_arcsec2[0] < found.sky_mag_arcsec2[1] - 3.0


@pytest.mark.parametrize(
    ("height_km", "depression_deg"), [(400.0, 19.78), (550.0, 22.98), (1200.0, 32.69)]
)
def test_the_zenith_goes_dark_at_the_published_depression(height_km, depression_deg):
    """arccos[R/(R + h)] (spherical geometry, arithmetic); the umbra lags by minutes."""
    start = datetime(2025, 3, 20, 18, 0, tzinfo=UTC)
    time_s = np.arange(0.0, 4 * 3600.0, 10.0)
    sun = -sky.sun_altitude_deg(EQUATOR, start, time_s)
    at_s = float(np.interp(depression_deg, sun, time_s))
    up = vectors.unit(sky.site_teme_km(EQUATOR, start, np.array([at_s])))
    icrs = vectors.apply(sky.teme_to_icrs(start, np.array([at_s])), up)
    lon, lat, _ = vectors.spherical(icrs[0])
    span = Span(start=start, end=start + timedelta(hours=6))
    dark = shadowed(EQUATOR, np.degrees(lon), np.degrees(lat), span, height_km)
    begins_s = (dark[0].start - start).total_seconds()
    # the Sun's half disc (0.27°) stays in sight longer: about a minute at 0.25°/min
    assert -60.0 < begins_s - at_s < 240.0


def test_a_polar_field_in_summer_stays_lit():
    north = Site(latitude_deg=65.0, longitude_deg=20.0)
    start = datetime(2025, 6, 21, 21, 0, tzinfo=UTC)
    span = Span(start=start, end=start + timedelta(hours=3))
    assert shadowed(north, 0.0, 89.0, span, 1400.0) == []
