"""What a trail leaves on a frame."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import trail


def test_the_share_of_a_wide_pixel_is_all() -> None:
    assert trail.share_of_pixel(1.0, 50.0) == pytest.approx(1.0, abs=1e-6)


def test_half_the_light_lies_within_the_full_width_times_0_573() -> None:
    """Half of a Gaussian lies within ±0.6745 σ (tables of the normal law)."""
    sigma = 1.0 / (2.0 * math.sqrt(2.0 * math.log(2.0)))
    assert trail.share_of_pixel(1.0, 2 * 0.67449 * sigma) == pytest.approx(
        0.5, abs=1e-5
    )


def test_chances_of_the_normal_law() -> None:
    """68.27 %, 95.45 % within one and two sigma (tables of the normal law)."""
    assert trail.within(-1.0, 1.0) == pytest.approx(0.682689, abs=1e-6)
    assert trail.within(-2.0, 2.0) == pytest.approx(0.954500, abs=1e-6)
    assert trail.within(0.0, np.inf) == pytest.approx(0.5, abs=1e-6)


def test_the_peak_is_what_a_summed_trail_has() -> None:
    """A Gaussian spot carried over a grid of small steps and pixels."""
    width, scale, rate, flow = 4.0, 2.0, 1000.0, 1e6
    sigma = width / 2.354820045
    across = np.linspace(-scale / 2, scale / 2, 801)
    profile = np.exp(-0.5 * (across / sigma) ** 2) / (sigma * math.sqrt(2 * math.pi))
    share = np.trapezoid(profile, across)
    assert trail.peak_electrons(flow, rate, 10.0, width, scale) == pytest.approx(
        flow * scale / rate * share, rel=1e-4
    )


def test_what_stands_still_gives_what_a_star_gives() -> None:
    share = float(trail.share_of_pixel(4.0, 2.0))
    still = trail.peak_electrons(10.0, 0.0, 300.0, 4.0, 2.0)
    assert still == pytest.approx(10.0 * 300.0 * share**2)


def test_noise_without_light_is_read_noise() -> None:
    assert trail.pixel_noise_e(0.0, 300.0, 0.0, 1.6) == pytest.approx(1.6)


def test_the_width_above_half_the_peak_is_the_full_width() -> None:
    assert trail.marked_width_arcsec(3.0, 2.0, 1.0) == pytest.approx(3.0)
    assert trail.marked_width_arcsec(3.0, 0.9, 1.0) == 0.0


def test_percent_of_a_frame() -> None:
    assert trail.percent_of_frame(100.0, 2.0, (100.0, 100.0)) == pytest.approx(2.0)
    assert trail.percent_of_frame(100.0, 0.0, (100.0, 100.0)) == 0.0
    assert trail.percent_of_frame(100.0, 0.2, (100.0, 100.0)) == pytest.approx(1.0)


def test_residue_sinks_with_the_root_of_the_subs() -> None:
    assert trail.residue(2.0, 100) == pytest.approx(0.2)


@given(st.floats(0.5, 20.0), st.floats(0.0, 500.0), st.floats(200.0, 40000.0))
def test_a_trail_is_never_narrower_than_a_star(
    seeing: float, size: float, away: float
) -> None:
    assert trail.width_arcsec(seeing, 200.0, size, away) >= seeing


def test_unknown_light_stays_unknown() -> None:
    assert np.isnan(trail.peak_electrons(np.nan, 1000.0, 10.0, 4.0, 2.0))


@given(st.floats(0.01, 100.0), st.floats(1.2, 15.0))
def test_wide_errors_keep_their_sigma_and_bound(sigma: float, wide: float) -> None:
    """68.27 % of errors are smaller than sigma, 95 % than the bound."""
    bound = wide * sigma
    shares = [
        trail.within(*trail.deviate([-x, x], sigma, bound)) for x in (sigma, bound)
    ]
    assert shares == pytest.approx([0.6827, 0.95], abs=1e-4)


@given(st.floats(0.1, 10.0), st.floats(1.2, 15.0))
def test_the_density_of_wide_errors_adds_up(sigma: float, wide: float) -> None:
    edges = np.linspace(-40.0 * wide * sigma, 40.0 * wide * sigma, 400_001)
    dense = trail.density(edges, sigma, wide * sigma)
    assert np.trapezoid(dense, edges) == pytest.approx(1.0, abs=5e-3)


def test_without_a_bound_errors_are_normal() -> None:
    assert trail.deviate([-6.0, 1.0, 5.0], 2.0, np.nan) == pytest.approx([-3, 0.5, 2.5])
    assert trail.density(0.0, 2.0, np.nan) == pytest.approx(0.199471, abs=1e-6)
