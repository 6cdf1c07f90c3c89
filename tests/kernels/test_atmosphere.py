"""The air: order, inverses, limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import atmosphere

altitudes = st.floats(-0.08, np.pi / 2)
pressures = st.floats(300.0, 1060.0)
temperatures = st.floats(-50.0, 50.0)


@given(st.floats(-1.5, np.pi / 2), st.floats(-1.5, np.pi / 2))
def test_lower_is_never_through_less_air(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert float(atmosphere.airmass(low)) >= float(atmosphere.airmass(high))


def test_the_horizon_is_the_thickest() -> None:
    assert float(atmosphere.airmass(-0.5)) == float(atmosphere.airmass(0.0))


@given(altitudes, pressures, temperatures)
def test_seen_and_true_altitude_undo_each_other(
    altitude: float, pressure: float, temperature: float
) -> None:
    air = (pressure, temperature)
    seen = atmosphere.apparent_altitude_rad(altitude, *air)
    assert float(seen) >= altitude
    back = atmosphere.true_altitude_rad(seen, *air)
    assert float(back) == pytest.approx(altitude, abs=1e-12)
    lift = float(atmosphere.refraction_rad(altitude, *air))
    assert lift == pytest.approx(float(seen) - altitude, abs=1e-15)


@given(altitudes, altitudes, pressures)
def test_refraction_never_swaps_two_objects(
    a: float, b: float, pressure: float
) -> None:
    low, high = sorted((a, b))
    seen = atmosphere.apparent_altitude_rad([low, high], pressure, 0.0)
    assert seen[0] <= seen[1] + 1e-15


def test_no_air_no_refraction_and_none_at_the_zenith() -> None:
    assert float(atmosphere.refraction_rad(0.0, 0.0, 10.0)) == 0.0
    assert float(atmosphere.refraction_rad(np.pi / 2)) == 0.0


def test_far_below_the_horizon_refraction_stays_finite() -> None:
    lift = atmosphere.refraction_rad(np.radians([-90.0, -20.0, -3.0]))
    assert np.ptp(lift) == pytest.approx(0.0, abs=1e-15)
    assert 0.0 < np.degrees(lift[0]) < 1.0


@given(st.floats(-400.0, 9000.0), st.floats(-400.0, 9000.0))
def test_higher_places_have_thinner_and_clearer_air(a: float, b: float) -> None:
    low, high = sorted((a, b))
    pressure = atmosphere.standard_pressure_hpa([low, high])
    extinction = atmosphere.extinction_mag([low, high])
    assert pressure[0] >= pressure[1]
    assert extinction[0] >= extinction[1] > 0.016


@given(st.floats(0.2, 1.5), st.floats(350.0, 950.0), st.floats(350.0, 950.0))
def test_blue_is_lifted_more_than_red(altitude: float, a: float, b: float) -> None:
    blue, red = sorted((a, b))
    assert float(atmosphere.dispersion_arcsec(altitude, blue, red)) >= 0.0
    there = float(atmosphere.dispersion_arcsec(altitude, red, blue))
    back = float(atmosphere.dispersion_arcsec(altitude, blue, red))
    assert there == pytest.approx(-back, abs=1e-12)


@given(st.lists(altitudes, min_size=1, max_size=9))
def test_array_call_equals_scalar_calls(values: list[float]) -> None:
    for function in (
        atmosphere.airmass,
        atmosphere.refraction_rad,
        atmosphere.refraction_at_apparent_rad,
    ):
        together = function(np.array(values))
        alone = [float(function(value)) for value in values]
        np.testing.assert_allclose(together, alone, rtol=1e-12, atol=1e-15)
