"""How far an image moves during an exposure, and the exposure that keeps it small."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: No exposure of a moving target is longer, s.
LONGEST_S = 3600.0
_HALVINGS = 60


def allowed_blur_arcsec(
    scale_arcsec_px: ArrayLike, diffraction_arcsec: ArrayLike
) -> Floats:
    """Half the larger of two pixels and the diffraction width, ``(...)`` ″.

    Less cannot be seen, more is.  An unknown diffraction width counts as none.
    """
    pair = 2.0 * np.asarray(scale_arcsec_px, dtype=np.float64)
    return np.asarray(0.5 * np.fmax(pair, diffraction_arcsec))


def shake_travel_arcsec(
    exposure_s: ArrayLike, amplitude_arcsec: ArrayLike, hz: ArrayLike
) -> Floats:
    """Most that a platform swinging to and fro moves in an exposure, ``(...)`` ″.

    2 A sin(π f t), which is 2π f A t while t ≪ 1/f, and the whole swing 2A from half
    a period on.
    """
    half_turn = np.minimum(np.pi * np.asarray(hz) * np.asarray(exposure_s), np.pi / 2)
    return np.asarray(2.0 * np.asarray(amplitude_arcsec) * np.sin(half_turn))


def blur_arcsec(
    exposure_s: ArrayLike,
    rate_arcsec_s: ArrayLike,
    amplitude_arcsec: ArrayLike = 0.0,
    hz: ArrayLike = 0.0,
) -> Floats:
    """Motion and shake in an exposure, added as at their worst, ``(...)`` ″."""
    moved = np.asarray(rate_arcsec_s) * np.asarray(exposure_s, dtype=np.float64)
    return np.asarray(moved + shake_travel_arcsec(exposure_s, amplitude_arcsec, hz))


def blur_exposure_s(
    allowed_arcsec: ArrayLike,
    rate_arcsec_s: ArrayLike,
    amplitude_arcsec: ArrayLike = 0.0,
    hz: ArrayLike = 0.0,
) -> Floats:
    """Longest exposure whose blur is what is allowed, ``(...)`` s, an hour at most.

    Blur grows with the exposure, so halving between two sure bounds finds it; nan
    where the rate is unknown.
    """
    allowed = np.asarray(allowed_arcsec, dtype=np.float64)
    rate = np.asarray(rate_arcsec_s, dtype=np.float64)
    swing = 2.0 * np.pi * np.asarray(hz) * np.asarray(amplitude_arcsec)
    with np.errstate(divide="ignore"):
        low = np.minimum(allowed / (rate + swing), LONGEST_S)  # sin x is below x
        high = np.minimum(allowed / rate, LONGEST_S)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        fits = blur_arcsec(middle, rate, amplitude_arcsec, hz) <= allowed
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.asarray(np.where(np.isnan(rate + swing), np.nan, low))


def residual_rate_arcsec_s(
    rate_arcsec_s: ArrayLike, error_arcsec: ArrayLike, build_up_s: ArrayLike
) -> Floats:
    """What is left of a target's motion on a mount that follows it, ``(...)`` ″/s.

    The mount's error, taken to build up in a time; never more than the motion itself.
    """
    slip = np.asarray(error_arcsec, dtype=np.float64) / np.asarray(build_up_s)
    return np.asarray(np.minimum(slip, rate_arcsec_s))
