"""Moonlight, twilight and the naked-eye limit against published values."""

import numpy as np
import pytest

from passes import skylight
from passes.skylight import mag_arcsec2, moonlight_nanolamberts, nanolamberts


def rad(*degrees: float) -> list[float]:
    """Degrees as radians."""
    return [float(np.radians(d)) for d in degrees]


def test_the_worked_example_of_specsim() -> None:
    # Krisciunas & Schaefer 1991 as worked in specsim's atmosphere.py docstring: zenith
    # distance 20°, Moon 70° from the zenith, 50° apart, quarter cycle, k 0.15: 19.855.
    altitude, moon, phase, apart = rad(70, 20, 45, 50)
    sky = moonlight_nanolamberts(altitude, moon, phase, apart, 0.15)
    assert float(sky) == pytest.approx(389.516, abs=5e-4)
    assert float(mag_arcsec2(sky)) == pytest.approx(19.855, abs=5e-4)


@pytest.mark.parametrize(
    ("phase_deg", "nanolambert", "sky_mag", "brighter"),
    [
        (0, 1236.08, 18.534, -3.053),
        (30, 600.83, 19.250, -2.337),
        (60, 280.10, 19.943, -1.644),
        (90, 112.48, 20.626, -0.961),
    ],
)
def test_moonlight_over_a_dark_sky(
    phase_deg: float, nanolambert: float, sky_mag: float, brighter: float
) -> None:
    # The same formulae, computed independently: 30° from the zenith, Moon at 30°,
    # 60° apart, k 0.172, over 79.0 nL.
    altitude, moon, phase, apart = rad(60, 30, phase_deg, 60)
    sky = float(moonlight_nanolamberts(altitude, moon, phase, apart, 0.172))
    assert sky == pytest.approx(nanolambert, abs=6e-3)
    found = float(mag_arcsec2(sky + 79.0))
    assert found == pytest.approx(sky_mag, abs=6e-4)
    assert found - float(mag_arcsec2(79.0)) == pytest.approx(brighter, abs=6e-4)


def test_a_dark_zenith_in_both_units() -> None:
    # Krisciunas & Schaefer 1991 (79.0 nL from memory), conversion computed: V 21.587.
    assert float(mag_arcsec2(79.0)) == pytest.approx(21.587, abs=5e-4)


@pytest.mark.parametrize(
    ("sky", "limit"),
    [
        (17, 3.10),
        (18, 3.97),
        (19, 4.77),
        (20, 5.49),
        (21, 6.12),
        (21.5, 6.38),
        (22, 6.62),
    ],
)
def test_the_naked_eye_by_night(sky: float, limit: float) -> None:
    # Schaefer 1990, PASP 102, 212 (formula from memory); computed independently.
    found = float(skylight.naked_eye_limit_mag(sky))
    assert found == pytest.approx(limit, abs=6e-3)


@pytest.mark.parametrize(("limit", "sky"), [(5.0, 19.30), (6.0, 20.80), (6.5, 21.73)])
def test_the_naked_eye_formula_inverted(limit: float, sky: float) -> None:
    # The usual inverse, B = 21.58 − 5 log(10^(1.586 − N/5) − 1), rounded constants.
    found = float(skylight.naked_eye_limit_mag(sky))
    assert found == pytest.approx(limit, abs=0.01)


@pytest.mark.parametrize(
    ("depression_deg", "limit"), [(6, -0.4), (8, 2.1), (10, 4.0), (12, 5.3)]
)
def test_the_naked_eye_in_twilight(depression_deg: float, limit: float) -> None:
    # Patat et al. 2006, A&A 455, 385 (coefficients from memory) with the law above.
    sun, zenith = rad(-depression_deg, 90)
    found = skylight.naked_eye_limit(sun, zenith, -0.5, 0.0, 1.0, 21.7, 0.2)
    assert float(found) == pytest.approx(limit, abs=0.05)


@pytest.mark.parametrize("depression_deg", [5.001, 7.0, 9.0, 12.0, 15.0])
def test_twilight_over_its_own_dark_sky_is_the_published_fit(
    depression_deg: float,
) -> None:
    x = depression_deg - 5.0
    sunlit = nanolamberts(skylight.twilight_mag_arcsec2(np.radians(-depression_deg)))
    total = float(mag_arcsec2(sunlit + nanolamberts(skylight.DARK_ZENITH_MAG)))
    assert total == pytest.approx(11.84 + 1.518 * x - 0.057 * x**2, abs=1e-6)


@pytest.mark.parametrize(
    ("sun_deg", "lux"),
    [(-5.0, 10.44), (-3.0, 79.07), (-1.0, 404.6), (0.0, 758.6), (5.0, 4538.0)],
)
def test_civil_twilight_follows_the_light_on_the_ground(
    sun_deg: float, lux: float
) -> None:
    # Illumination by the Sun, Explanatory Supplement 1992 (polynomials from memory);
    # the sky at the zenith keeps the ratio to it that it has at −5°.
    brighter = -2.5 * np.log10(lux / 10.44)
    found = float(skylight.twilight_mag_arcsec2(np.radians(sun_deg)))
    assert found == pytest.approx(11.84 + brighter, abs=0.01)


def test_by_astronomical_twilight_the_sun_is_gone() -> None:
    # Common practice: the sky is dark with the Sun at −18°.
    sun, zenith = rad(-18, 90)
    sky = float(skylight.sky_brightness(sun, zenith, -0.5, 0.0, 1.0, 21.7, 0.2))
    assert sky == pytest.approx(21.7, abs=0.02)
