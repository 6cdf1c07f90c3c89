"""Refraction against published tables and worked examples."""

from collections.abc import Callable

import numpy as np
import pytest
from tolerances import BENNETT_ARCMIN, REFRACTION_MODEL_ARCMIN

from passes import atmosphere

Published = Callable[[str], list[dict[str, str]]]


def minutes(rad: object) -> float:
    """Radians as minutes of arc."""
    return float(np.degrees(rad)) * 60.0


@pytest.mark.parametrize(
    ("apparent_deg", "arcmin"),
    [
        (0.0, 34.478), (0.5, 28.754), (1.0, 24.329), (2.0, 18.216), (5.0, 9.883),
        (10.0, 5.392), (15.0, 3.636), (20.0, 2.703), (30.0, 1.717), (45.0, 0.995),
        (60.0, 0.575),
    ],
)  # fmt: skip
def test_bennett_by_his_formula(apparent_deg: float, arcmin: float) -> None:
    # Bennett 1982; computed independently.  NavList prints 34.47, 24.32, 9.88, 5.39 at
    # 0°, 1°, 5°, 10°.
    found = atmosphere.refraction_at_apparent_rad(np.radians(apparent_deg))
    assert minutes(found) == pytest.approx(arcmin, abs=5e-4)


def test_a_ray_traced_table(published: Published) -> None:
    for row in published("refraction.csv"):
        apparent = np.radians(float(row["apparent_deg"]))
        found = minutes(atmosphere.refraction_at_apparent_rad(apparent))
        assert found == pytest.approx(
            float(row["minutes"]), abs=REFRACTION_MODEL_ARCMIN
        )


@pytest.mark.parametrize(
    ("true_deg", "arcmin"),
    [(0, 28.982), (1, 21.744), (2, 16.926), (5, 9.674), (10, 5.408), (30, 1.746)],
)
def test_from_true_altitude_near_saemundsson(true_deg: float, arcmin: float) -> None:
    # Sæmundsson 1986: his formula and Bennett's agree to 0.1′.  The trap is 29.0′ at a
    # true altitude of 0 against 34.5′ at an apparent one.
    found = minutes(atmosphere.refraction_rad(np.radians(true_deg)))
    assert found == pytest.approx(arcmin, abs=REFRACTION_MODEL_ARCMIN)


def test_meeus_example_16a() -> None:
    # Astronomical Algorithms, example 16.a: apparent 0°30′ is lifted by 28.754′ and
    # truly stands at 1′14.7″.  The book's way back (another formula) gives 57′51.96″
    # for a true 33′14.76″.
    apparent = np.radians(0.5)
    assert minutes(atmosphere.refraction_at_apparent_rad(apparent)) == pytest.approx(
        28.754, abs=5e-4
    )
    true = minutes(atmosphere.true_altitude_rad(apparent))
    assert true == pytest.approx(1.0 + 14.7 / 60.0, abs=2e-3)
    seen = atmosphere.apparent_altitude_rad(np.radians((33.0 + 14.76 / 60.0) / 60.0))
    assert minutes(seen) == pytest.approx(57.0 + 51.96 / 60.0, abs=0.1)


def test_pressure_and_temperature_scale_it() -> None:
    # skyfield's almanac documentation: 34.53′ for apparent 0° at 15 °C and 1030 mb.
    found = minutes(atmosphere.refraction_at_apparent_rad(0.0, 1030.0, 15.0))
    assert found == pytest.approx(34.53, abs=0.02)


def test_skyfield_refracts_alike() -> None:
    earthlib = pytest.importorskip("skyfield.earthlib")
    for altitude in (-0.5, 0.0, 3.0, 12.0, 40.0, 80.0):
        theirs = float(earthlib.refract(altitude, 7.0, 880.0)) - altitude
        ours = np.degrees(atmosphere.refraction_rad(np.radians(altitude), 880.0, 7.0))
        # skyfield rounds 283/1010 and stops at a step of 3e-5 degrees
        assert float(ours) == pytest.approx(theirs, rel=1e-3, abs=6e-5)


def test_erfa_agrees_high_up() -> None:
    # ERFA's refco models refraction as A tan z + B tan³ z (good above 15°).
    erfa = pytest.importorskip("erfa")
    a, b = erfa.refco(800.0, 10.0, 0.0, 0.55)
    for altitude in (30.0, 50.0, 70.0):
        # the zenith distance is the apparent one
        tangent = np.tan(np.radians(90.0 - altitude))
        theirs = minutes(a * tangent + b * tangent**3)
        ours = minutes(
            atmosphere.refraction_at_apparent_rad(np.radians(altitude), 800.0, 10.0)
        )
        assert ours == pytest.approx(theirs, abs=BENNETT_ARCMIN)
