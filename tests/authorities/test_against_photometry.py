"""Phase law, standard magnitudes and worked brightness examples."""

import numpy as np
import pytest

from passes import photometry


@pytest.mark.parametrize(
    ("phase_deg", "fainter_mag"),
    [
        (30, 0.1378),
        (45, 0.3045),
        (60, 0.5385),
        (90, 1.2429),
        (120, 2.4065),
        (150, 4.5731),
    ],
)
def test_the_diffuse_sphere(phase_deg: float, fainter_mag: float) -> None:
    # The law: Vallerie 1963 (AD 419069), as quoted in astronomy.stackexchange 28778;
    # the figures are computed from it independently.
    light = photometry.lambert_sphere(np.radians(phase_deg))
    assert -2.5 * np.log10(light) == pytest.approx(fainter_mag, abs=5e-5)


def test_full_and_half_lit_differ_by_the_logarithm_of_pi() -> None:
    # SeeSat-L 2001-04, message 0313: factor π, "1¼ mag".
    half = photometry.converted(0.0, "full", "lambert90")
    assert float(half) == pytest.approx(1.2429, abs=5e-5)


@pytest.mark.parametrize(
    ("standard", "range_km", "phase_deg", "seen", "places"),
    [
        # Inputs: astronomy.stackexchange 28744 (the station); result computed.
        (-1.8, 485.0, 113.1, -2.532, 5e-4),
        # SeeSat-L 2001-04, message 0313: 6.52.
        (5.5, 1600.0, 90.0, 6.52, 5e-3),
        # SeeSat-L 2000-12, message 0288, inverted: +5.0 seen at 45° gives 5.94.
        (5.938, 1000.0, 45.0, 5.0, 1e-3),
    ],
)
def test_worked_magnitudes_of_the_half_lit_convention(
    standard: float, range_km: float, phase_deg: float, seen: float, places: float
) -> None:
    found = photometry.apparent_magnitude(
        standard, range_km, np.radians(phase_deg), "lambert90"
    )
    assert float(found) == pytest.approx(seen, abs=places)


@pytest.mark.parametrize(
    ("apparent", "at_1000", "range_km"),
    [(7.06, 7.87, 689), (4.62, 5.50, 667), (3.44, 3.84, 832), (5.76, 5.24, 1271)],
    ids=["2306.06657", "2407.03092", "2505.05820", "2505.07194"],
)
def test_published_means_imply_plausible_ranges(
    apparent: float, at_1000: float, range_km: float
) -> None:
    # Mean apparent and 1000 km magnitudes from the abstracts on arXiv named above;
    # the range that reconciles them is computed.
    found = photometry.apparent_magnitude(at_1000, range_km, 1.0, "mean-no-phase")
    assert float(found) == pytest.approx(apparent, abs=2e-3)
