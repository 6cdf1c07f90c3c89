"""Atmospheric dispersion against a published table and another model."""

from collections.abc import Callable

import numpy as np
import pytest
from tolerances import PRINTED_HUNDREDTH

from passes import atmosphere

MMHG = 1.333223684


def test_filippenkos_table(published: Callable[[str], list[dict[str, str]]]) -> None:
    for row in published("dispersion.csv"):
        altitude = np.arcsin(1.0 / float(row.pop("sec_z")))
        for angstrom, printed in row.items():
            found = atmosphere.dispersion_arcsec(
                altitude,
                float(angstrom) / 10.0,
                pressure_hpa=600 * MMHG,
                temperature_c=7.0,
                vapour_hpa=8 * MMHG,
            )
            assert float(found) == pytest.approx(float(printed), abs=PRINTED_HUNDREDTH)


def test_another_model_of_the_air() -> None:
    # ERFA refco, 800 hPa, 7 °C, z = 60°: 4000 to 7000 Å spread by 2.007″; computed.
    erfa = pytest.importorskip("erfa")
    tangent = np.tan(np.radians(60.0))
    ends = []
    for micron in (0.4, 0.7):
        a, b = erfa.refco(800.0, 7.0, 0.0, micron)
        ends.append(np.degrees(a * tangent + b * tangent**3) * 3600.0)
    assert ends[0] - ends[1] == pytest.approx(2.007, abs=0.03)
    ours = atmosphere.dispersion_arcsec(
        np.radians(30.0), 400.0, 700.0, pressure_hpa=800.0, temperature_c=7.0
    )
    assert float(ours) == pytest.approx(ends[0] - ends[1], rel=0.02)
