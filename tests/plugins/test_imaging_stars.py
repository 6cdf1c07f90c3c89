"""The bright stars, and the way from one to a place."""

import numpy as np
import pytest

pytest.importorskip("passes_plugins.imaging")
from passes import vectors
from passes_plugins.imaging.stars import bright_stars, nearest_star

#: Both rest on Hipparcos, by different reductions and moved to 2000 differently.
WITHIN_ARCSEC = 1.0


def apart_arcsec(ra_deg, dec_deg, other_ra_deg, other_dec_deg):
    one = vectors.direction(np.radians(ra_deg), np.radians(dec_deg))
    other = vectors.direction(np.radians(other_ra_deg), np.radians(other_dec_deg))
    return float(np.degrees(vectors.separation_rad(one, other)) * 3600)


def test_positions_agree_with_an_independent_library():
    """PyEphem's star table (Hipparcos): every star that both have."""
    ephem = pytest.importorskip("ephem", reason="needs the reference library ephem")
    from ephem.stars import stars

    checked = 0
    for star in bright_stars():
        if star.name not in stars or star.name == "Gienah":  # theirs is in Corvus
            continue
        theirs = ephem.star(star.name)
        theirs.compute("2000/1/1 12:00", epoch="2000")
        place = np.degrees([float(theirs.a_ra), float(theirs.a_dec)])
        assert apart_arcsec(star.ra_deg, star.dec_deg, *place) < WITHIN_ARCSEC, star
        # Variable and double stars differ by how they are averaged.
        assert star.magnitude == pytest.approx(theirs.mag, abs=0.3), star
        checked += 1
    assert checked >= 90


def test_every_row_is_a_bright_star_and_none_stands_twice():
    table = bright_stars()
    assert len(table) >= 150
    assert all(0 <= s.ra_deg < 360 and -90 <= s.dec_deg <= 90 for s in table)
    assert all(-2 < s.magnitude < 4 for s in table)
    assert len({s.name for s in table}) == len(table)
    for i, one in enumerate(table):
        for other in table[i + 1 :]:
            place = (other.ra_deg, other.dec_deg)
            assert apart_arcsec(one.ra_deg, one.dec_deg, *place) > 600, (one, other)


@pytest.mark.parametrize(
    ("ra_deg", "dec_deg", "name", "separation_deg", "angle_deg"),
    [
        # A degree north, east, south of Vega (279.2348, 38.7837): by hand.
        (279.2348, 39.7837, "Vega", 1.0, 0.0),
        (279.2348 + 1.2828, 38.7837, "Vega", 1.0, 90.0),
        (279.2348, 37.7837, "Vega", 1.0, 180.0),
        # Across the pole from Polaris.
        (217.95, 89.7, "Polaris", 1.036, 0.0),
    ],
)
def test_the_way_from_the_nearest_star(
    ra_deg, dec_deg, name, separation_deg, angle_deg
):
    star = nearest_star(ra_deg, dec_deg)
    assert star.name == name
    assert star.separation_deg == pytest.approx(separation_deg, abs=2e-3)
    turned = (star.position_angle_deg - angle_deg + 180.0) % 360.0 - 180.0
    assert abs(turned) < 1.0
