"""The ground under a line of sight: places, edges, and the lit part of a chord."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skyfield.api import wgs84

from passes import strip, vectors
from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM

latitudes = st.floats(-np.pi / 2, np.pi / 2)
longitudes = st.floats(-np.pi, np.pi)


@given(latitudes, longitudes, st.floats(-0.5, 9.0))
def test_a_place_comes_back_from_its_latitude_longitude_and_height(lat, lon, height):
    place = strip.from_geodetic(lat, lon, height)
    back = strip.from_geodetic(*strip.geodetic(place))
    assert float(vectors.norm(back - place)) < 1e-8
    assert float(strip.geodetic(place)[0]) == pytest.approx(lat, abs=1e-11)
    assert float(strip.geodetic(place)[2]) == pytest.approx(height, abs=1e-8)


def test_places_are_where_skyfield_puts_them():
    for lat, lon, height in ((41.0, -2.4, 1150.0), (-89.5, 170.0, 2800.0)):
        theirs = wgs84.latlon(lat, lon, elevation_m=height).itrs_xyz.km
        mine = strip.from_geodetic(np.radians(lat), np.radians(lon), height / 1000.0)
        assert float(vectors.norm(mine - theirs)) < 1e-6


@given(latitudes, longitudes, st.floats(0.2, 1.5), st.floats(0.0, 6.28))
def test_the_ground_lies_on_the_line_and_at_its_height(lat, lon, altitude, azimuth):
    place = strip.from_geodetic(lat, lon, 1.0)
    up = strip.up_at(place)
    side = vectors.unit(np.cross(up, [0.3, -0.5, 0.8]))
    other = np.cross(up, side)
    level = np.cos(azimuth) * side + np.sin(azimuth) * other
    aim = np.cos(altitude) * level + np.sin(altitude) * up
    found = strip.ground_km(place + 700.0 * aim, place + 4e5 * aim, 1.0)
    assert float(vectors.norm(found - place)) < 1e-6


def test_a_line_that_misses_the_earth_has_no_ground():
    aside = np.array([7000.0, 0.0, 0.0])
    body = np.array([7000.0, 4e5, 0.0])
    away = np.array([-4e5, 0.0, 0.0])
    found = strip.ground_km(np.stack([aside, aside]), np.stack([body, away]))
    assert np.isnan(found).all()


def test_the_equator_and_the_pole_by_hand():
    far = np.array([[1e8, 0.0, 0.0], [0.0, 0.0, 1e8]])
    found = strip.ground_km(far / 1e4, far)
    assert found[0, 0] == pytest.approx(EARTH_RADIUS_KM, abs=1e-9)
    polar = EARTH_RADIUS_KM * (1.0 - EARTH_FLATTENING)
    assert found[1, 2] == pytest.approx(polar, abs=1e-9)


def test_the_limb_stands_at_the_angular_radius():
    body, place = np.array([384_400.0, 0.0, 0.0]), np.array([6378.0, 0.0, 0.0])
    limb = strip.limb_km(body, 1737.4, place, np.array([0.0, 1.0, 0.0]))
    angle = vectors.separation_rad(limb - place, body - place)
    expected = np.arcsin(1737.4 / (384_400.0 - 6378.0))
    assert float(angle) == pytest.approx(float(expected), abs=1e-12)


@pytest.mark.parametrize("phase_deg", [0.0, 30.0, 90.0, 130.0, 180.0])
def test_a_chord_along_the_bright_limb_is_lit_as_the_disc_is(phase_deg):
    """Along the line to the Sun it is lit as the whole disc is (Meeus, chapter 48)."""
    phase, limb = np.radians(phase_deg), np.radians(250.0)
    east, north = float(np.sin(limb)), float(np.cos(limb))
    share = strip.lit_share((-east, -north), (east, north), float(limb), float(phase))
    assert share == pytest.approx((1.0 + np.cos(phase)) / 2.0, abs=1e-3)


def test_a_chord_across_a_half_disc_is_lit_on_its_side():
    west = float(np.radians(270.0))
    quarter = np.pi / 2
    lit = strip.lit_share((-0.5, -0.8), (-0.5, 0.8), west, quarter)
    dark = strip.lit_share((0.5, -0.8), (0.5, 0.8), west, quarter)
    assert (lit, dark) == (1.0, 0.0)


def test_left_of_the_motion_is_left_for_someone_upright():
    """Looking south, what goes west goes to the right; on its left is up."""
    south, west, up = np.eye(3)  # a right-handed set: south × west = up
    assert strip.across(south, west) == pytest.approx(up)
