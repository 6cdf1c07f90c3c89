"""The shadow kernel: order, bounds, symmetry, and the geometry of simple cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import shadow
from passes.constants import EARTH_FLATTENING, EARTH_RADIUS_KM, SUN_RADIUS_KM

SUN = np.array([149.6e6, 0.0, 0.0])
heights = st.floats(150.0, 50_000.0)
angles = st.floats(0.0, 2 * np.pi)


def point(along: float, across: float, roll: float) -> np.ndarray:
    """A place behind the Earth, ``across`` km from the shadow's axis."""
    return np.array([-along, across * np.cos(roll), across * np.sin(roll)])


def test_full_sun_umbra_and_unknown() -> None:
    places = [[7000.0, 0, 0], [-7000.0, 0, 0], [0, 0, 7000.0], [np.nan, 0, 0]]
    lit = shadow.lit_fraction(places, SUN)
    assert lit[:3].tolist() == [1.0, 0.0, 1.0]
    assert np.isnan(lit[3])


@pytest.mark.parametrize("along", [1500.0, 6800.0, 42_000.0, 380_000.0])
def test_the_edges_of_a_round_earth_lie_on_the_two_cones(along: float) -> None:
    # Similar triangles: the cones' radii at a distance behind a sphere.
    sine = (SUN_RADIUS_KM + np.array([-1, 1]) * EARTH_RADIUS_KM) / SUN[0]
    slope = sine / np.sqrt(1.0 - sine**2)
    at_centre = EARTH_RADIUS_KM / np.sqrt(1.0 - sine**2)
    umbra, penumbra = at_centre + np.array([-1, 1]) * slope * along
    for across, low, high in ((umbra, 0.0, 1e-4), (penumbra, 1.0 - 1e-4, 1.0)):
        lit = shadow.lit_fraction(
            [point(along, across - 1e-3, 0.3), point(along, across + 1e-3, 0.3)],
            SUN,
            flattening=0.0,
        )
        assert (lit >= low).all()
        assert (lit <= high).all()
        assert lit[0] < lit[1]


def test_half_the_disc_is_seen_when_its_centre_stands_on_the_limb() -> None:
    # The limb is nearly straight across half a degree: within a hundredth of half.
    height = 400.0
    dip = np.arccos(EARTH_RADIUS_KM / (EARTH_RADIUS_KM + height))
    r = EARTH_RADIUS_KM + height
    place = r * np.array([-np.sin(dip), np.cos(dip), 0.0])
    far = np.array([1e12, 0.0, 0.0])
    lit = shadow.lit_fraction(place, far, flattening=0.0, sun_radius_km=1e12 * 0.00465)
    assert abs(float(lit) - 0.5) < 0.01


def test_a_ring_of_sun_is_left_beyond_the_tip_of_the_umbra() -> None:
    # Past the tip (1.3836e6 km behind, published umbra length) the Earth's disc is the
    # smaller one and covers the square of the ratio of the radii.
    lit = float(shadow.lit_fraction([-4.0e6, 0.0, 0.0], SUN, flattening=0.0))
    ratio = np.arcsin(EARTH_RADIUS_KM / 4.0e6) / np.arcsin(
        SUN_RADIUS_KM / (SUN[0] + 4e6)
    )
    assert lit == pytest.approx(1.0 - ratio**2, rel=1e-5)
    assert float(shadow.lit_fraction([-1.35e6, 0, 0], SUN, flattening=0.0)) == 0.0


def test_the_flattened_earth_casts_a_flattened_shadow() -> None:
    # Over the pole the limb stands 21.4 km lower than over the equator.
    polar = EARTH_RADIUS_KM * EARTH_FLATTENING
    edge = point(3000.0, EARTH_RADIUS_KM - 5.0, 0.0)
    pole = point(3000.0, EARTH_RADIUS_KM - 5.0 - polar, np.pi / 2)
    lit = shadow.lit_fraction([edge, pole], SUN)
    assert 0.01 < lit[0] < 0.99
    assert lit[1] == pytest.approx(lit[0], abs=0.02)
    round_earth = shadow.lit_fraction(pole, SUN, flattening=0.0)
    assert float(round_earth) == 0.0


def test_a_place_on_or_under_the_ground_is_treated_as_on_it() -> None:
    lit = shadow.lit_fraction([[-6378.137, 0, 0], [-5000.0, 0, 0], [0, 0, 0]], SUN)
    assert lit[:2].tolist() == [0.0, 0.0]
    assert np.isfinite(lit[2])


@given(along=heights, roll=angles, seed=st.integers(0, 1000))
def test_light_only_grows_away_from_the_axis(
    along: float, roll: float, seed: int
) -> None:
    along = along + 6400.0
    across = np.sort(np.random.default_rng(seed).uniform(0.0, 7500.0, 60))
    lit = shadow.lit_fraction([point(along, a, roll) for a in across], SUN)
    assert (lit >= 0.0).all()
    assert (lit <= 1.0).all()
    assert (np.diff(lit) >= -1e-9).all()


@given(along=st.floats(1000.0, 60_000.0), across=st.floats(5500.0, 7500.0), roll=angles)
def test_the_shadow_is_the_same_north_and_south_and_from_any_longitude(
    along: float, across: float, roll: float
) -> None:
    place = point(along, across, roll)
    lit = float(shadow.lit_fraction(place, SUN))
    mirrored = float(shadow.lit_fraction(place * [1, 1, -1], SUN))
    turned = float(shadow.lit_fraction(place[[1, 0, 2]], SUN[[1, 0, 2]]))
    assert mirrored == pytest.approx(lit, abs=1e-9)
    assert turned == pytest.approx(lit, abs=1e-9)


@given(st.integers(0, 10_000), st.integers(1, 40))
def test_array_call_equals_scalar_calls(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    places = np.stack([point(7000.0, a, 1.0) for a in rng.uniform(6200, 6500, n)])
    together = shadow.lit_fraction(places, SUN)
    np.testing.assert_allclose(
        together, [float(shadow.lit_fraction(p, SUN)) for p in places], atol=1e-12
    )


def test_leading_axes_broadcast_and_pieces_change_nothing() -> None:
    rng = np.random.default_rng(5)
    places = rng.normal(size=(3, 9000, 3)) * 7000.0
    lit = shadow.lit_fraction(places, SUN)
    assert lit.shape == (3, 9000)
    np.testing.assert_array_equal(lit[1], shadow.lit_fraction(places[1], SUN))
