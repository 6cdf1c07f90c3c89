"""The sky's brightness and the eye: order, limits, addition of light."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import skylight

angles = st.floats(0.0, np.pi)
altitudes = st.floats(0.0, np.pi / 2)
suns = st.floats(-np.pi / 2, np.pi / 2)
MIDNIGHT = -np.pi / 2


@given(suns, suns)
def test_a_lower_sun_never_makes_a_brighter_sky(a: float, b: float) -> None:
    low, high = sorted((a, b))
    sky = skylight.twilight_mag_arcsec2([low, high])
    assert sky[0] >= sky[1] - 1e-9


def test_twilight_has_no_step_anywhere() -> None:
    sun = np.radians(np.arange(-30.0, 90.0, 0.001))
    assert np.abs(np.diff(skylight.twilight_mag_arcsec2(sun))).max() < 0.01


def test_light_and_magnitudes_undo_each_other() -> None:
    mag = np.linspace(3.0, 24.0, 50)
    back = skylight.mag_arcsec2(skylight.nanolamberts(mag))
    np.testing.assert_allclose(back, mag, atol=1e-12)
    assert np.isposinf(skylight.mag_arcsec2(0.0))


@given(altitudes, angles, angles)
def test_a_moon_below_the_horizon_gives_no_light(
    altitude: float, phase: float, apart: float
) -> None:
    dark = skylight.moonlight_nanolamberts(altitude, -0.01, phase, apart, 0.2)
    assert float(dark) == 0.0


@given(altitudes, st.floats(0.01, np.pi / 2), angles, st.floats(0.05, 0.4))
def test_a_fuller_moon_never_darkens_the_sky(
    altitude: float, moon: float, apart: float, k: float
) -> None:
    phases = np.linspace(0.0, np.pi, 20)
    sky = skylight.moonlight_nanolamberts(altitude, moon, phases, apart, k)
    assert (np.diff(sky) <= 1e-9).all()


def test_nearer_to_the_moon_is_brighter_down_to_its_edge() -> None:
    apart = np.radians(np.arange(0.3, 60.0, 0.1))
    sky = skylight.moonlight_nanolamberts(1.0, 1.0, 0.0, apart, 0.2)
    assert (np.diff(sky) < 0.0).all()
    # where the two laws of aerosol scattering meet there is no jump
    assert (np.diff(np.log(sky)) > -0.7).all()


@given(suns, altitudes, st.floats(-1.0, 1.5), angles, angles)
def test_more_light_never_lets_the_eye_see_fainter(
    sun: float, altitude: float, moon: float, phase: float, apart: float
) -> None:
    dark = skylight.naked_eye_limit(MIDNIGHT, altitude, -0.5, phase, apart, 21.7, 0.2)
    lit = skylight.naked_eye_limit(sun, altitude, moon, phase, apart, 21.7, 0.2)
    town = skylight.naked_eye_limit(sun, altitude, moon, phase, apart, 18.0, 0.2)
    assert float(town) <= float(lit) + 1e-12 <= float(dark) + 2e-12


def test_the_parts_of_the_sky_add_as_light() -> None:
    # Two equal lights are 0.7526 mag brighter than one.
    twilight = skylight.twilight_mag_arcsec2(np.radians(-12.0))
    both = skylight.sky_brightness(
        np.radians(-12.0), np.pi / 2, -0.5, 0.0, 1.0, twilight, 0.2
    )
    assert float(both) == pytest.approx(float(twilight) - 0.7526, abs=1e-4)


def test_the_dark_sky_brightens_towards_the_horizon() -> None:
    light = skylight.dark_sky_nanolamberts(np.radians([90.0, 60.0, 30.0]), 21.7, 0.2)
    assert light[0] == pytest.approx(float(skylight.nanolamberts(21.7)))
    assert (np.diff(light) > 0.0).all()


@given(st.floats(2.0, 23.0), st.floats(2.0, 23.0))
def test_a_darker_sky_never_hides_more(a: float, b: float) -> None:
    bright, dark = sorted((a, b))
    limit = skylight.naked_eye_limit_mag([bright, dark])
    assert limit[0] <= limit[1] + 1e-12


def test_the_eye_has_no_step_where_its_laws_meet() -> None:
    sky = np.arange(3.0, 22.0, 0.001)
    assert np.abs(np.diff(skylight.naked_eye_limit_mag(sky))).max() < 0.01


def test_by_day_the_eye_finds_only_what_outshines_venus() -> None:
    # Common practice, no source: Venus (−4.5) is hard by day, a −8 flash easy.
    noon = float(skylight.naked_eye_limit(0.8, 1.0, -0.5, 0.0, 1.0, 21.7, 0.2))
    assert -8.0 < noon < -4.5


def test_unknown_stays_unknown() -> None:
    limit = skylight.naked_eye_limit(
        [-0.5, np.nan, -0.5],
        [np.nan, 1.0, 1.0],
        -0.5,
        0.0,
        1.0,
        [21.7, 21.7, np.nan],
        0.2,
    )
    assert np.isnan(limit).all()


@given(st.lists(st.tuples(suns, altitudes, angles), min_size=1, max_size=8))
def test_array_call_equals_scalar_calls(
    cases: list[tuple[float, float, float]],
) -> None:
    def limit(sun, altitude, apart):  # type: ignore[no-untyped-def]
        return skylight.naked_eye_limit(sun, altitude, 0.4, 0.9, apart, 21.5, 0.25)

    together = limit(*np.array(cases).T)
    np.testing.assert_allclose(
        together, [float(limit(*case)) for case in cases], rtol=1e-12
    )
