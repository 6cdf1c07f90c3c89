"""Trails held against published formulas and worked values."""

import numpy as np
import pytest

from passes import sensor, trail
from passes.constants import ARCSEC_PER_RAD


def test_width_of_the_trail_of_a_wide_telescope() -> None:
    """8.4 m at 550 km: 3.150″ of defocus; a 2 m object in 0.7″ seeing gives 3.313″.

    Tyson et al. 2020 (AJ 160, 226; about 3″ in its abstract), arithmetic ours.
    """
    assert trail.width_arcsec(0.0, 8400.0, 0.0, 550.0) == pytest.approx(3.150, abs=1e-3)
    assert trail.width_arcsec(0.7, 8400.0, 2.0, 550.0) == pytest.approx(3.313, abs=1e-3)


@pytest.mark.parametrize(
    ("aperture_mm", "blur_arcsec"), [(80.0, 0.030), (200.0, 0.075), (280.0, 0.105)]
)
def test_small_telescopes_hardly_defocus(
    aperture_mm: float, blur_arcsec: float
) -> None:
    """The same formula at 550 km, arithmetic ours."""
    assert trail.width_arcsec(0.0, aperture_mm, 0.0, 550.0) == pytest.approx(
        blur_arcsec, abs=6e-4
    )


def test_effective_magnitude_of_a_fifth_magnitude_object() -> None:
    """m 5, 1″, 2844″/s, 300 s: 19.828 (Bassa+ 2022, A&A 657, A75, from memory)."""
    assert sensor.moving_magnitude(5.0, 2844.0, 300.0, 1.0) == pytest.approx(
        19.828, abs=2e-3
    )


def test_surface_brightness_of_its_trail() -> None:
    """The same, 3″ wide: 21.02 mag/arcsec² (flux over area, arithmetic)."""
    assert sensor.trail_mag_arcsec2(5.0, 2844.0, 300.0, 3.0) == pytest.approx(
        21.02, abs=5e-3
    )


def test_pixel_noise_is_the_ccd_equation_without_a_source() -> None:
    """t 300, S 10, B 5, D 0.01, R 5, n 20 gives 16.3761 (Merline & Howell 1995)."""
    noise = trail.pixel_noise_e(5.0, 300.0, 0.01, 5.0)
    whole = 3000.0 / np.sqrt(3000.0 + 20.0 * noise**2)
    assert whole == pytest.approx(16.3761, abs=1e-4)


@pytest.mark.parametrize(
    ("height_km", "rate_deg_s"), [(400.0, 1.0984), (550.0, 0.7902), (1200.0, 0.3463)]
)
def test_a_trail_in_the_zenith_collects_for_a_pixel_over_its_rate(
    height_km: float, rate_deg_s: float
) -> None:
    """ω = v/d overhead (circular orbit, arithmetic): dwell is scale over rate."""
    speed_km_s = np.sqrt(398600.4418 / (6378.137 + height_km))
    rate = speed_km_s / height_km * ARCSEC_PER_RAD
    assert rate / 3600.0 == pytest.approx(rate_deg_s, abs=2e-4)
    share = trail.share_of_pixel(3.0, 2.0)
    peak = trail.peak_electrons(1e6, rate, 10.0, 3.0, 2.0)
    assert peak == pytest.approx(1e6 * share * 2.0 / (rate_deg_s * 3600.0), rel=2e-4)


def test_a_residue_is_a_share_of_the_stack_s_noise() -> None:
    """Averaging N frames: signal by 1/N, noise by 1/√N (common practice)."""
    rng = np.random.default_rng(5)
    subs, marked = 400, 2.0
    frames = rng.normal(size=(2000, subs))
    frames[:, 0] += marked
    stack = frames.mean(axis=1)
    over = stack.mean() / (1.0 / np.sqrt(subs))
    assert trail.residue(marked, subs) == pytest.approx(over, abs=0.08)
