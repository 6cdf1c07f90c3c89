"""What a telescope or a lens shows: scale, field, diffraction, seeing, star trails.

Lengths carry their unit in the name; angles are arcseconds, as every handbook of
imaging has them, or radians.  Everything broadcasts.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import ARCSEC_PER_RAD

Floats = NDArray[np.float64]

#: Wavelength for which handbooks state resolution, nm.
VISUAL_NM = 550.0
#: Wavelength at which seeing is stated, nm.
SEEING_NM = 500.0
#: How fast the stars turn on the celestial equator, ″/s.
SIDEREAL_ARCSEC_S = 15.0411


def _known(value: ArrayLike) -> Floats:
    return np.asarray(value, dtype=np.float64)


# --- the frame ---------------------------------------------------------------


def scale_arcsec_px(pixel_um: ArrayLike, focal_mm: ArrayLike) -> Floats:
    """Angle that a pixel covers at the centre of the frame, ``(...)`` ″."""
    return np.asarray(ARCSEC_PER_RAD * 1e-3 * _known(pixel_um) / _known(focal_mm))


def field_rad(pixels: ArrayLike, pixel_um: ArrayLike, focal_mm: ArrayLike) -> Floats:
    """Angle across so many pixels of an undistorted image, ``(...)`` radians."""
    half_mm = 0.5e-3 * _known(pixels) * _known(pixel_um)
    return np.asarray(2.0 * np.arctan(half_mm / _known(focal_mm)))


# --- resolution --------------------------------------------------------------


def dawes_arcsec(aperture_mm: ArrayLike) -> Floats:
    """Separation of the closest equal stars told apart by eye, ``(...)`` ″ (Dawes)."""
    return np.asarray(116.0 / _known(aperture_mm))


def rayleigh_arcsec(
    aperture_mm: ArrayLike, wavelength_nm: ArrayLike = VISUAL_NM
) -> Floats:
    """Radius of the first dark ring, 1.22 λ/D, ``(...)`` ″ (Rayleigh)."""
    return np.asarray(1.22 * _wave(aperture_mm, wavelength_nm))


def diffraction_width_arcsec(
    aperture_mm: ArrayLike, wavelength_nm: ArrayLike = VISUAL_NM
) -> Floats:
    """Full width at half maximum of a perfect star image, 1.029 λ/D, ``(...)`` ″.

    For an open aperture (Born & Wolf, from memory); a central obstruction makes the
    core up to a tenth narrower and the rings brighter.
    """
    return np.asarray(1.0290 * _wave(aperture_mm, wavelength_nm))


def _wave(aperture_mm: ArrayLike, wavelength_nm: ArrayLike) -> Floats:
    """λ/D in arcseconds."""
    return ARCSEC_PER_RAD * 1e-6 * _known(wavelength_nm) / _known(aperture_mm)


def cutoff_cycles_um(
    f_number: ArrayLike, wavelength_nm: ArrayLike = VISUAL_NM
) -> Floats:
    """Finest detail that reaches the sensor, 1/(λN), ``(...)`` cycles per µm."""
    return np.asarray(1.0 / (1e-3 * _known(wavelength_nm) * _known(f_number)))


def critical_f_number(
    pixel_um: ArrayLike, wavelength_nm: ArrayLike = VISUAL_NM
) -> Floats:
    """Focal ratio at which two pixels span the finest detail, 2p/λ, ``(...)``.

    Nyquist's condition on :func:`cutoff_cycles_um`.  A colour sensor samples each
    colour every second pixel: it wants up to twice as much (common practice).
    """
    return np.asarray(2.0 * _known(pixel_um) / (1e-3 * _known(wavelength_nm)))


def size_arcsec(size_m: ArrayLike, range_km: ArrayLike) -> Floats:
    """Angle that a length seen face on covers at a range, ``(...)`` ″."""
    half = np.arctan(0.5e-3 * _known(size_m) / _known(range_km))
    return np.asarray(2.0 * ARCSEC_PER_RAD * half)


def near_focus_blur_arcsec(aperture_mm: ArrayLike, range_km: ArrayLike) -> Floats:
    """Blur disc of an object in range with the focus on the stars, D/d, ``(...)`` ″.

    As given for streaks by Tyson et al. 2020 (AJ 160, 226).
    """
    return np.asarray(ARCSEC_PER_RAD * 1e-6 * _known(aperture_mm) / _known(range_km))


# --- seeing ------------------------------------------------------------------


def fried_cm(seeing_arcsec: ArrayLike, wavelength_nm: ArrayLike = SEEING_NM) -> Floats:
    """Fried's length r₀ of a seeing disc, 0.98 λ/FWHM, ``(...)`` cm."""
    wave_cm = 1e-7 * _known(wavelength_nm)
    return np.asarray(0.98 * wave_cm * ARCSEC_PER_RAD / _known(seeing_arcsec))


def seeing_arcsec(
    zenith_arcsec: ArrayLike,
    airmass: ArrayLike,
    wavelength_nm: ArrayLike = SEEING_NM,
) -> Floats:
    """Seeing at an airmass and a wavelength, ``(...)`` ″.

    From the value at the zenith and 500 nm: airmass^0.6 and λ^-0.2 (Kolmogorov's
    turbulence; Fried 1966, from memory).
    """
    colour = (_known(wavelength_nm) / SEEING_NM) ** -0.2
    return np.asarray(_known(zenith_arcsec) * _known(airmass) ** 0.6 * colour)


def coherence_s(fried_length_cm: ArrayLike, wind_m_s: ArrayLike = 10.0) -> Floats:
    """Time in which the seeing's pattern changes, 0.314 r₀/v, ``(...)`` s.

    Roddier 1981 (from memory); exposures shorter than this freeze it.
    """
    return np.asarray(0.314 * 1e-2 * _known(fried_length_cm) / _known(wind_m_s))


# --- stars that trail --------------------------------------------------------


def rule_500_s(focal_mm: ArrayLike) -> Floats:
    """Longest exposure by the rule 500/f, ``(...)`` s; trails of many small pixels."""
    return np.asarray(500.0 / _known(focal_mm))


def npf_s(
    f_number: ArrayLike,
    focal_mm: ArrayLike,
    pixel_um: ArrayLike,
    declination_rad: ArrayLike = 0.0,
    tolerance: ArrayLike = 1.0,
) -> Floats:
    """Longest exposure without visible star trails, ``(...)`` s (F. Michaud's NPF).

    ``tolerance`` 1 is strict, 2 and 3 let stars grow.
    """
    width = 16.856 * _known(f_number) + 0.0997 * _known(focal_mm)
    width = width + 13.713 * _known(pixel_um)
    run = _known(focal_mm) * np.cos(_known(declination_rad))
    return np.asarray(_known(tolerance) * width / run)


def npf_simple_s(
    f_number: ArrayLike,
    focal_mm: ArrayLike,
    pixel_um: ArrayLike,
    declination_rad: ArrayLike = 0.0,
) -> Floats:
    """The same by its short form, (35 N + 30 p)/f, ``(...)`` s."""
    width = 35.0 * _known(f_number) + 30.0 * _known(pixel_um)
    return np.asarray(width / (_known(focal_mm) * np.cos(_known(declination_rad))))


def drift_arcsec_s(declination_rad: ArrayLike) -> Floats:
    """How fast stars move in a camera that stands still, ``(...)`` ″/s."""
    return np.asarray(SIDEREAL_ARCSEC_S * np.cos(_known(declination_rad)))
