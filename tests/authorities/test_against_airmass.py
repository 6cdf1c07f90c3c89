"""Airmass against published values of three models."""

from collections.abc import Callable

import numpy as np
import pytest
from tolerances import PRINTED_AIRMASS

from passes import atmosphere

Published = Callable[[str], list[dict[str, str]]]


def test_kasten_and_young_as_printed(published: Published) -> None:
    for row in published("airmass.csv"):
        found = atmosphere.airmass(np.radians(90.0 - float(row["zenith_deg"])))
        assert float(found) == pytest.approx(
            float(row["kasten_young"]), abs=PRINTED_AIRMASS
        )


@pytest.mark.parametrize(
    ("altitude_deg", "value"),
    [(90, 0.9997), (60, 1.1540), (30, 1.9943), (20, 2.9031), (10, 5.5860)],
)
def test_kasten_and_young_by_its_formula(altitude_deg: float, value: float) -> None:
    # Kasten & Young 1989, Appl. Opt. 28, 4735; computed independently.
    found = float(atmosphere.airmass(np.radians(altitude_deg)))
    assert found == pytest.approx(value, abs=5e-5)


def test_other_models_agree_above_ten_degrees(published: Published) -> None:
    # Young 1994 takes the true altitude: 5′ of refraction make 0.8 % at 10°.
    row = published("airmass.csv")[1]
    found = float(atmosphere.airmass(np.radians(10.0)))
    assert found == pytest.approx(float(row["pickering"]), rel=2e-3)
    assert found == pytest.approx(float(row["young"]), rel=1e-2)


@pytest.mark.parametrize(
    ("height_m", "mag"), [(0, 0.28), (1000, 0.21), (2000, 0.16), (3000, 0.13)]
)
def test_extinction_by_height(height_m: float, mag: float) -> None:
    # Green 1992, ICQ 14, 55 (components from memory); sums printed to 0.01.
    assert float(atmosphere.extinction_mag(height_m)) == pytest.approx(mag, abs=6e-3)


def test_extinction_is_near_the_usual_figures() -> None:
    # Schaefer 1985 in Green 1992: about 0.2 mag; 0.172 at Mauna Kea (4.2 km; Krisciunas
    # & Schaefer 1991, from memory; our model has less haze there).
    assert float(atmosphere.extinction_mag(1200.0)) == pytest.approx(0.2, abs=0.01)
    assert 0.10 < float(atmosphere.extinction_mag(4200.0)) < 0.172


@pytest.mark.parametrize(
    ("height_m", "hpa"),
    [(0.0, 1013.25), (1000.0, 898.74), (2000.0, 794.95), (5000.0, 540.2)],
)
def test_pressure_of_the_standard_atmosphere(height_m: float, hpa: float) -> None:
    # U.S. Standard Atmosphere 1976, from memory.
    found = float(atmosphere.standard_pressure_hpa(height_m))
    assert found == pytest.approx(hpa, abs=0.05)
