"""What a moving point of light leaves on a frame: width, peak, share of the pixels.

The trail's cross-section is taken as a Gaussian of the given full width at half
maximum (FWHM).  Angles are arcseconds.  Everything broadcasts; nan in gives nan out.
"""

from math import log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import ARCSEC_PER_RAD

Floats = NDArray[np.float64]

#: Standard deviation of a Gaussian of full width 1 at half maximum.
_SIGMA = 1.0 / (2.0 * sqrt(2.0 * log(2.0)))


def _floats(value: ArrayLike) -> Floats:
    return np.asarray(value, dtype=np.float64)


def width_arcsec(
    seeing_arcsec: ArrayLike,
    aperture_mm: ArrayLike,
    size_m: ArrayLike,
    range_km: ArrayLike,
) -> Floats:
    """Width (FWHM) of a trail, ``(...)`` ″.

    Seeing, the blur D/d of an object that is not at infinity, and the object's own
    size, added in squares (Tyson et al. 2020, AJ 160, 226).  ``seeing_arcsec`` is the
    width of a star's image, diffraction included.
    """
    near = ARCSEC_PER_RAD * 1e-6 * _floats(aperture_mm) / _floats(range_km)
    own = ARCSEC_PER_RAD * 1e-3 * _floats(size_m) / _floats(range_km)
    return np.asarray(np.sqrt(_floats(seeing_arcsec) ** 2 + near**2 + own**2))


def share_of_pixel(width_arcsec: ArrayLike, scale_arcsec_px: ArrayLike) -> Floats:
    """Part of the cross-section that falls on the pixel under its middle, ``(...)``."""
    half = 0.5 * _floats(scale_arcsec_px) / (_SIGMA * _floats(width_arcsec))
    return _erf(half / sqrt(2.0))


def _erf(x: Floats) -> Floats:
    """The error function (Abramowitz & Stegun 7.1.26, within 1.5e-7)."""
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    series = t * (
        0.254829592
        + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    return np.asarray(np.sign(x) * (1.0 - series * np.exp(-(x**2))))


def within(low: ArrayLike, high: ArrayLike) -> Floats:
    """Chance that a standard normal deviate lies between two limits, ``(...)``."""
    return np.asarray(
        0.5 * (_erf(_floats(high) / sqrt(2)) - _erf(_floats(low) / sqrt(2)))
    )


def deviate(error: ArrayLike, sigma: ArrayLike, bound: ArrayLike) -> Floats:
    """Standard normal deviate of an error whose tails are wider than normal, ``(...)``.

    68.3 % of errors are smaller than ``sigma``, 95 % than ``bound``: normal within
    sigma, straight from there through the bound.  Without a bound (nan) normal.
    """
    one, two = _scales(sigma, bound)
    size = np.abs(_floats(error))
    beyond = 1.0 + (size - one) / (two - one) * (_TWO - 1.0)
    return np.asarray(np.sign(error) * np.where(size <= one, size / one, beyond))


def density(error: ArrayLike, sigma: ArrayLike, bound: ArrayLike) -> Floats:
    """How dense errors of :func:`deviate` are at one of them, ``(...)``."""
    one, two = _scales(sigma, bound)
    slope = np.where(np.abs(error) <= one, 1.0 / one, (_TWO - 1.0) / (two - one))
    square = deviate(error, sigma, bound) ** 2
    return np.asarray(np.exp(-0.5 * square) / sqrt(2.0 * pi) * slope)


#: 95 % of normal errors are smaller than so many sigma.
_TWO = 1.959964


def _scales(sigma: ArrayLike, bound: ArrayLike) -> tuple[Floats, Floats]:
    one, two = _floats(sigma), _floats(bound)
    two = np.where(np.isfinite(two), two, _TWO * one)
    return one, np.maximum(two, 1.1 * one)


def peak_electrons(
    signal_e_s: ArrayLike,
    rate_arcsec_s: ArrayLike,
    dwell_s: ArrayLike,
    width_arcsec: ArrayLike,
    scale_arcsec_px: ArrayLike,
) -> Floats:
    """Electrons in the brightest pixel of a trail, ``(...)``.

    A pixel on the trail's middle line collects signal × scale / rate, less what falls
    beside it.  An object that hardly moves in the ``dwell_s`` it is in the frame gives
    no more than a star of that exposure.
    """
    share = share_of_pixel(width_arcsec, scale_arcsec_px)
    flow = _floats(signal_e_s) * share
    with np.errstate(divide="ignore"):
        passing = _floats(scale_arcsec_px) / _floats(rate_arcsec_s)
    return np.asarray(flow * np.minimum(passing, _floats(dwell_s) * share))


def pixel_noise_e(
    sky_e_s: ArrayLike,
    exposure_s: ArrayLike,
    dark_e_s: ArrayLike,
    read_noise_e: ArrayLike,
) -> Floats:
    """Noise of a pixel without a trail, ``(...)`` electrons.

    Sky, dark current and read noise (the CCD equation without a source: Merline &
    Howell 1995); ``sky_e_s`` is a pixel's.
    """
    flow = _floats(sky_e_s) + _floats(dark_e_s)
    return np.asarray(np.sqrt(flow * _floats(exposure_s) + _floats(read_noise_e) ** 2))


def marked_width_arcsec(
    width_arcsec: ArrayLike, peak_over_noise: ArrayLike, level: ArrayLike = 1.0
) -> Floats:
    """How wide the trail stands above a level of signal over noise, ``(...)`` ″.

    A Gaussian of peak S stands above the level over 2σ√(2 ln(S/level)); 0 below it.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        over = np.log(_floats(peak_over_noise) / _floats(level))
    wide = 2.0 * _SIGMA * np.sqrt(2.0 * np.maximum(over, 0.0))
    return np.asarray(_floats(width_arcsec) * wide)


def percent_of_frame(
    length_px: ArrayLike, width_px: ArrayLike, size_px: tuple[float, float]
) -> Floats:
    """Percent of a frame's pixels under a trail, ``(...)``; a pixel wide at least.

    A width of 0 (nothing stands out) touches nothing.
    """
    wide = np.where(_floats(width_px) > 0.0, np.maximum(width_px, 1.0), 0.0)
    area = _floats(length_px) * wide
    return np.asarray(np.minimum(100.0 * area / (size_px[0] * size_px[1]), 100.0))


def residue(peak_over_noise: ArrayLike, subs: ArrayLike) -> Floats:
    """What a trail not rejected leaves in the mean of so many subs, ``(...)``.

    In units of the stack's own noise: S/N ÷ N, over the noise that sank by √N.
    """
    return np.asarray(_floats(peak_over_noise) / np.sqrt(_floats(subs)))
