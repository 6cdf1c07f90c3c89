"""From a magnitude to electrons in a pixel, and how many frames a camera delivers.

Light is counted in photons a nanometre, which for sunlight is level within a tenth
from 450 to 700 nm, so that the V magnitude serves any filter there.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: Photons of a star of V = 0 above the atmosphere, per s, m² and nm: 3.631e-9
#: erg/s/cm²/Å at 5450 Å (Bessell, Castelli & Plez 1998, A&A 333, 231).
PHOTONS_V0_S_M2_NM = 9.96e7
#: Width of the V band, nm (as Δλ of Bessell's table, Δλ/λ = 0.16).
V_WIDTH_NM = 88.0


def collecting_area_m2(aperture_mm: ArrayLike, obstruction: ArrayLike = 0.0) -> Floats:
    """Open area of an aperture, ``(...)``; the obstruction is a part of its width."""
    diameter_m = 1e-3 * np.asarray(aperture_mm, dtype=np.float64)
    open_part = 1.0 - np.asarray(obstruction, dtype=np.float64) ** 2
    return np.asarray(0.25 * np.pi * diameter_m**2 * open_part)


def photons_s_m2(magnitude: ArrayLike, width_nm: ArrayLike = V_WIDTH_NM) -> Floats:
    """Photons of a V magnitude in a band so wide, per second and m², ``(...)``."""
    light = 10.0 ** (-0.4 * np.asarray(magnitude, dtype=np.float64))
    return np.asarray(PHOTONS_V0_S_M2_NM * np.asarray(width_nm) * light)


def electrons_s(
    magnitude: ArrayLike, area_m2: ArrayLike, width_nm: ArrayLike, efficiency: ArrayLike
) -> Floats:
    """Electrons a second from a source of a magnitude, ``(...)``.

    ``efficiency`` is everything on the way: optics, filter, quantum efficiency.  A
    surface brightness (mag/arcsec²) gives electrons per second and arcsec².
    """
    caught = np.asarray(area_m2) * np.asarray(efficiency)
    return np.asarray(photons_s_m2(magnitude, width_nm) * caught)


def spread_area_arcsec2(outline_arcsec2: ArrayLike, spread_arcsec: ArrayLike) -> Floats:
    """Area of the sky over which an object's light is spread, ``(...)`` arcsec².

    ``outline_arcsec2`` is what the object fills of the sky, ``spread_arcsec`` the
    width (FWHM) of a point's image: a Gaussian has 1.133 FWHM².
    """
    blur = 1.1331 * np.asarray(spread_arcsec, dtype=np.float64) ** 2
    return np.asarray(np.asarray(outline_arcsec2, dtype=np.float64) + blur)


def lit_pixels(area_arcsec2: ArrayLike, scale_arcsec_px: ArrayLike) -> Floats:
    """Pixels over which so much of the sky is spread, ``(...)``; 1 at least."""
    area = np.asarray(area_arcsec2, dtype=np.float64)
    return np.asarray(np.maximum(area / np.asarray(scale_arcsec_px) ** 2, 1.0))


def lit_part(phase_rad: ArrayLike) -> Floats:
    """Part of a round body's outline that the Sun lights, ½(1 + cos φ), ``(...)``.

    ``phase_rad`` is the angle Sun - object - observer, 0 when full.
    """
    return np.asarray(0.5 * (1.0 + np.cos(np.asarray(phase_rad, dtype=np.float64))))


def signal_to_noise(
    signal_e_s: ArrayLike,
    exposure_s: ArrayLike,
    pixels: ArrayLike = 1.0,
    background_e_s: ArrayLike = 0.0,
    dark_e_s: ArrayLike = 0.0,
    read_noise_e: ArrayLike = 0.0,
) -> Floats:
    """Signal over noise of an exposure, ``(...)``; 0 without signal.

    The CCD equation (Merline & Howell 1995): background, dark current and read noise
    are a pixel's.
    """
    time = np.asarray(exposure_s, dtype=np.float64)
    signal = np.asarray(signal_e_s, dtype=np.float64) * time
    each = (np.asarray(background_e_s) + np.asarray(dark_e_s)) * time
    noise2 = signal + np.asarray(pixels) * (each + np.asarray(read_noise_e) ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = signal / np.sqrt(noise2)
    return np.where(signal == 0.0, 0.0, ratio)


def exposure_for_level_s(
    level_e: ArrayLike, signal_e_s: ArrayLike, background_e_s: ArrayLike = 0.0
) -> Floats:
    """Exposure that fills a pixel to so many electrons, ``(...)`` s."""
    flow = np.asarray(signal_e_s, dtype=np.float64) + np.asarray(background_e_s)
    with np.errstate(divide="ignore"):
        return np.asarray(np.asarray(level_e, dtype=np.float64) / flow)


def exposure_for_ratio_s(
    ratio: ArrayLike,
    signal_e_s: ArrayLike,
    background_e_s: ArrayLike = 0.0,
    noise_e: ArrayLike = 0.0,
) -> Floats:
    """Exposure that gives a pixel a signal-to-noise, ``(...)`` s; inf without signal.

    The CCD equation (:func:`signal_to_noise`) of one pixel solved for the time.
    """
    signal = np.asarray(signal_e_s, dtype=np.float64)
    flow = signal + np.asarray(background_e_s)
    square = np.asarray(ratio, dtype=np.float64) ** 2
    dark = signal * np.asarray(noise_e, dtype=np.float64)
    root = np.sqrt((square * flow) ** 2 + 4.0 * square * dark**2)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = (square * flow + root) / (2.0 * signal**2)
    return np.where(signal == 0.0, np.inf, found)


def quantisation_noise_e(full_well_e: ArrayLike, bits: ArrayLike) -> Floats:
    """Noise that counting in so many bits adds, ``(...)`` e⁻: a step over √12.

    The full well is taken to fill the counter (Bennett 1948, from memory).
    """
    steps = 2.0 ** np.asarray(bits, dtype=np.float64)
    return np.asarray(np.asarray(full_well_e) / steps / np.sqrt(12.0))


def headroom_mag(full_well_e: ArrayLike, level_e: ArrayLike) -> Floats:
    """How much brighter a glint may be before it fills the pixel, ``(...)`` mag."""
    with np.errstate(divide="ignore"):
        return np.asarray(2.5 * np.log10(np.asarray(full_well_e) / np.asarray(level_e)))


def fill_allowing_glints(glint_mag: ArrayLike) -> Floats:
    """Part of the well to fill so that a glint so much brighter fits, ``(...)``."""
    return np.asarray(10.0 ** (-0.4 * np.asarray(glint_mag, dtype=np.float64)))


def frame_rate_limits_hz(
    *,
    exposure_s: ArrayLike,
    read_out_hz: ArrayLike,
    frame_mb: ArrayLike,
    link_mb_s: ArrayLike,
    write_mb_s: ArrayLike,
    buffer_mb: ArrayLike,
    duration_s: ArrayLike,
) -> dict[str, Floats]:
    """What each link of the chain allows, frames a second ``(...)``; nan is unknown.

    Disk and buffer are one row: what they sustain together for ``duration_s``.
    """
    frame = np.asarray(frame_mb, dtype=np.float64)
    writing = np.asarray(write_mb_s, dtype=np.float64)
    held = np.asarray(buffer_mb, dtype=np.float64) / np.asarray(duration_s)
    return {
        "exposure": np.asarray(1.0 / np.asarray(exposure_s, dtype=np.float64)),
        "read-out": np.asarray(read_out_hz, dtype=np.float64),
        "link": np.asarray(np.asarray(link_mb_s) / frame),
        "disk and buffer": np.asarray((writing + np.nan_to_num(held)) / frame),
    }


def skew_px(line_time_us: ArrayLike, rows: ArrayLike, speed_px_s: ArrayLike) -> Floats:
    """How far an image runs while the rolling shutter crosses it, ``(...)`` px."""
    return np.asarray(
        1e-6 * np.asarray(line_time_us) * np.asarray(rows) * np.asarray(speed_px_s)
    )


def aspect_time_s(
    resolution_arcsec: ArrayLike, size_arcsec: ArrayLike, turning_rad_s: ArrayLike
) -> Floats:
    """Time in which an object's aspect turns by half a resolution element, ``(...)`` s.

    Parts at opposite ends of its depth, taken as its size, shift against each other
    by half the size times the angle turned; frames further apart do not stack.
    """
    pace = 0.5 * np.asarray(size_arcsec) * np.asarray(turning_rad_s)
    with np.errstate(divide="ignore"):
        return np.asarray(0.5 * np.asarray(resolution_arcsec, dtype=np.float64) / pace)


def trail_mag_arcsec2(
    magnitude: ArrayLike,
    rate_arcsec_s: ArrayLike,
    exposure_s: ArrayLike,
    width_arcsec: ArrayLike,
) -> Floats:
    """Mean brightness of a trail, on the exposure's own scale, ``(...)`` mag/arcsec².

    The object's light spread over length (its own width included) times width of its
    trail; compare it with the sky's in the same exposure.
    """
    width = np.asarray(width_arcsec)
    area = (np.asarray(rate_arcsec_s) * np.asarray(exposure_s) + width) * width
    return np.asarray(np.asarray(magnitude) + 2.5 * np.log10(area))


def moving_magnitude(
    magnitude: ArrayLike,
    rate_arcsec_s: ArrayLike,
    exposure_s: ArrayLike,
    element_arcsec: ArrayLike,
) -> Floats:
    """Magnitude of the star that would look as a moving point does, ``(...)``.

    The point stays on a resolution element only for its width over the rate (Bassa,
    Hainaut & Galadí-Enríquez 2022, A&A 657, A75).
    """
    dwell = np.asarray(element_arcsec) / np.asarray(rate_arcsec_s)
    part = np.minimum(dwell / np.asarray(exposure_s), 1.0)
    return np.asarray(np.asarray(magnitude) - 2.5 * np.log10(part))
