"""Optics: relations that hold for every telescope."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import optics

lengths = st.floats(5.0, 5000.0)
pixels = st.floats(1.0, 20.0)


@given(pixels, lengths)
def test_twice_the_focal_length_is_half_the_scale(pixel_um, focal_mm):
    once = optics.scale_arcsec_px(pixel_um, focal_mm)
    assert float(optics.scale_arcsec_px(pixel_um, 2 * focal_mm)) == pytest.approx(
        once / 2
    )


@given(st.integers(1, 10_000), pixels, lengths)
def test_a_field_is_narrower_than_its_pixels_at_the_centre_scale(n, pixel_um, focal_mm):
    field = float(optics.field_rad(n, pixel_um, focal_mm))
    flat = n * float(optics.scale_arcsec_px(pixel_um, focal_mm)) / 206264.806
    assert 0 < field <= flat * (1 + 1e-9)
    assert field < np.pi


@given(st.floats(20.0, 1000.0))
def test_the_measures_of_resolution_keep_their_order(aperture_mm):
    dawes = float(optics.dawes_arcsec(aperture_mm))
    width = float(optics.diffraction_width_arcsec(aperture_mm))
    rayleigh = float(optics.rayleigh_arcsec(aperture_mm))
    assert width < dawes * 1.01 < rayleigh


@given(st.floats(0.3, 8.0), st.floats(1.0, 10.0))
def test_seeing_grows_towards_the_horizon_and_towards_blue(zenith, airmass):
    there = float(optics.seeing_arcsec(zenith, airmass))
    assert there >= zenith
    assert float(optics.seeing_arcsec(zenith, airmass, 700.0)) < there


def test_functions_broadcast():
    scales = optics.scale_arcsec_px(np.array([[3.0], [4.0]]), np.array([1e3, 2e3]))
    assert scales.shape == (2, 2)


def test_npf_grows_with_tolerance_and_towards_the_pole():
    lens = (2.8, 24.0, 4.3)
    assert float(optics.npf_s(*lens, tolerance=2)) == pytest.approx(
        2 * float(optics.npf_s(*lens))
    )
    assert optics.npf_s(*lens, np.radians(60)) > optics.npf_s(*lens)
