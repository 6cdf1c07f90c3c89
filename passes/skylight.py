"""How bright the sky is and how faint a point the eye can find against it.

Surface brightness in V mag/arcsec², angles in radians.  The parts (dark sky,
twilight, moonlight) are each sky alone and add as light.  Models hold to a fifth or
so in clear air; haze, snow and town lights change them.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: A moonless zenith at a dark place, mag/arcsec² (from memory: 21.6 to 22).
DARK_ZENITH_MAG = 21.7
#: Zenith sky by the Sun's altitude (degrees, mag/arcsec²) above −5°.  The twilight
#: formula's 11.84 at −5°, then as the light on the ground grows (illumination by the
#: Sun, Explanatory Supplement 1992, from memory: 10 lx at −5°, 760 lx at sunset,
#: 4500 lx at +5°) and levelling off at a blue sky of 4 (common practice, no source).
_DAY = np.array(
    [
        [-5.0, 11.84],
        [-4.0, 10.70],
        [-3.0, 9.64],
        [-2.0, 8.69],
        [-1.0, 7.87],
        [0.0, 7.19],
        [5.0, 5.24],
        [10.0, 4.3],
        [20.0, 4.0],
        [90.0, 4.0],
    ]
)
#: Where the twilight formula ends, and where its own dark sky begins to matter.
_BRIGHT_END_DEG, _FAINT_END_DEG = 5.0, 15.0


def nanolamberts(mag_arcsec2: ArrayLike) -> Floats:
    """Luminance of a surface brightness, ``(...)`` (Krisciunas & Schaefer 1991)."""
    mag = np.asarray(mag_arcsec2, dtype=np.float64)
    return np.asarray(34.08 * np.exp(20.7233 - 0.92104 * mag))


def mag_arcsec2(nanolambert: ArrayLike) -> Floats:
    """Surface brightness of a luminance, ``(...)``; infinity for no light."""
    with np.errstate(divide="ignore"):
        logarithm = np.log(np.asarray(nanolambert, dtype=np.float64) / 34.08)
    return np.asarray((20.7233 - logarithm) / 0.92104)


# --- twilight ----------------------------------------------------------------


def _zenith_fit(depression_deg: Floats) -> Floats:
    """Zenith in twilight, dark sky included: Patat et al. 2006, 5° to 15°."""
    x = depression_deg - 5.0
    return np.asarray(11.84 + 1.518 * x - 0.057 * x**2)


def _sunlit_fit(depression_deg: Floats) -> Floats:
    """The same without the dark sky behind it."""
    total = nanolamberts(_zenith_fit(depression_deg))
    return mag_arcsec2(total - nanolamberts(DARK_ZENITH_MAG))


def twilight_mag_arcsec2(sun_altitude_rad: ArrayLike) -> Floats:
    """Sunlit sky at the zenith by the Sun's altitude, ``(...)``; fainter as it sinks.

    Between −5° and −15° the fit of Patat, Ugolnikov & Postylyakov 2006 (A&A 455,
    385) less the dark sky it contains; deeper, it goes on fading at the pace it has
    at −15° (1.3 mag a degree: gone by −18°); higher, through civil twilight into a
    blue sky.  Taken for the whole sky: towards the Sun it is brighter by magnitudes.
    """
    depression = -np.degrees(np.asarray(sun_altitude_rad, dtype=np.float64))
    within = np.clip(depression, _BRIGHT_END_DEG, _FAINT_END_DEG)
    fading = _sunlit_fit(within) + (depression - within) * _pace_at_end()
    day = np.interp(-depression, _DAY[:, 0], _DAY[:, 1])
    return np.asarray(np.where(depression < _BRIGHT_END_DEG, day, fading))


def _pace_at_end() -> float:
    """Magnitudes a degree by which the sunlit sky fades at the fit's faint end."""
    ends = _sunlit_fit(np.array([_FAINT_END_DEG - 0.01, _FAINT_END_DEG]))
    return float(ends[1] - ends[0]) / 0.01


# --- moonlight and darkness --------------------------------------------------


def scattering_airmass(altitude_rad: ArrayLike) -> Floats:
    """Path of scattered light by altitude, ``(...)``: 1 at the zenith, 5 at 0.

    Krisciunas & Schaefer 1991, equation 3; below the horizon as on it.
    """
    altitude = np.maximum(np.asarray(altitude_rad, dtype=np.float64), 0.0)
    return np.asarray((1.0 - 0.96 * np.cos(altitude) ** 2) ** -0.5)


def moonlight_nanolamberts(
    altitude_rad: ArrayLike,
    moon_altitude_rad: ArrayLike,
    moon_phase_rad: ArrayLike,
    moon_separation_rad: ArrayLike,
    extinction_mag: ArrayLike,
) -> Floats:
    """Sky lit by the Moon, ``(...)`` nL; 0 with the Moon below the horizon.

    Krisciunas & Schaefer 1991 (PASP 103, 1033), equations 3, 8, 9, 21, stated good
    to 8–23 %.  ``moon_phase_rad`` is the angle Sun - Moon - Earth, 0 at full.  Within
    about 8° of the Moon that paper's steeper law, from memory.
    """
    phase = np.degrees(np.abs(np.asarray(moon_phase_rad, dtype=np.float64)))
    apart = np.asarray(moon_separation_rad, dtype=np.float64)
    moon_mag = -12.73 + 0.026 * phase + 4e-9 * phase**4
    light = 10.0 ** (-0.4 * (moon_mag + 16.57))
    k = np.asarray(extinction_mag, dtype=np.float64)
    reaching = 10.0 ** (-0.4 * k * scattering_airmass(moon_altitude_rad))
    scattered = 1.0 - 10.0 ** (-0.4 * k * scattering_airmass(altitude_rad))
    sky = _scattering(apart) * light * reaching * scattered
    return np.where(np.asarray(moon_altitude_rad) < 0.0, 0.0 * sky, sky)


def _scattering(separation_rad: Floats) -> Floats:
    """How much the air scatters by angle: Rayleigh and aerosol."""
    degrees = np.degrees(separation_rad)
    rayleigh = 10.0**5.36 * (1.06 + np.cos(separation_rad) ** 2)
    near = 6.2e7 / np.maximum(degrees, 0.25) ** 2
    return np.asarray(rayleigh + np.maximum(10.0 ** (6.15 - degrees / 40.0), near))


def dark_sky_nanolamberts(
    altitude_rad: ArrayLike, zenith_mag_arcsec2: ArrayLike, extinction_mag: ArrayLike
) -> Floats:
    """Moonless night sky at an altitude, ``(...)`` nL (the same paper, equation 2).

    The airglow thickens towards the horizon and is dimmed by the air before it.
    """
    path = scattering_airmass(altitude_rad)
    k = np.asarray(extinction_mag, dtype=np.float64)
    dimmed = 10.0 ** (-0.4 * k * (path - 1.0))
    return np.asarray(nanolamberts(zenith_mag_arcsec2) * dimmed * path)


def sky_brightness(
    sun_altitude_rad: ArrayLike,
    altitude_rad: ArrayLike,
    moon_altitude_rad: ArrayLike,
    moon_phase_rad: ArrayLike,
    moon_separation_rad: ArrayLike,
    sky_mag_arcsec2: ArrayLike,
    extinction_mag: ArrayLike,
) -> Floats:
    """Twilight, moonlight and dark sky together, ``(...)`` mag/arcsec².

    ``sky_mag_arcsec2`` is the site's moonless zenith; all arguments broadcast.
    """
    sunlit = nanolamberts(twilight_mag_arcsec2(sun_altitude_rad))
    dark = dark_sky_nanolamberts(altitude_rad, sky_mag_arcsec2, extinction_mag)
    moonlit = moonlight_nanolamberts(
        altitude_rad,
        moon_altitude_rad,
        moon_phase_rad,
        moon_separation_rad,
        extinction_mag,
    )
    return mag_arcsec2(sunlit + dark + moonlit)


# --- the eye -----------------------------------------------------------------

#: Sky at which the dark-adapted law gives way: the zenith with the Sun at −6°.
_DAY_EYE_MAG = 13.301


def _dark_adapted(sky_mag: Floats) -> Floats:
    return np.asarray(7.93 - 5.0 * np.log10(10.0 ** (4.316 - sky_mag / 5.0) + 1.0))


def _light_adapted(sky_mag: Floats) -> Floats:
    return np.asarray(
        4.305 - 5.0 * np.log10(1.0 + np.sqrt(10.0**-5.90 * nanolamberts(sky_mag)))
    )


def naked_eye_limit_mag(sky_mag_arcsec2: ArrayLike) -> Floats:
    """Faintest point the eye can find on a sky, ``(...)``, as a magnitude as seen.

    As seen means after the air has taken its part: compare it with a magnitude that
    has extinction in it.  Dark-adapted law after Schaefer 1990 (PASP 102, 212); on
    a sky brighter than at the end of civil twilight his daylight law, lowered to
    meet it there (neither −9.7 by the one nor −3.3 by the other at noon, but −7).
    For an eye that does not know where to look; scatter between people ±0.5 mag.
    """
    sky = np.asarray(sky_mag_arcsec2, dtype=np.float64)
    edge = np.asarray(_DAY_EYE_MAG)
    lowered = _light_adapted(sky) - _light_adapted(edge) + _dark_adapted(edge)
    return np.where(sky < edge, lowered, _dark_adapted(sky))


def naked_eye_limit(
    sun_altitude_rad: ArrayLike,
    altitude_rad: ArrayLike,
    moon_altitude_rad: ArrayLike,
    moon_phase_angle_rad: ArrayLike,
    moon_separation_rad: ArrayLike,
    sky_mag_arcsec2: ArrayLike,
    extinction_mag: ArrayLike,
) -> Floats:
    """Faintest point that can be seen at an altitude, ``(...)``, magnitude as seen.

    The sky of :func:`sky_brightness` there, and the eye of
    :func:`naked_eye_limit_mag`.  Extinction enters the sky's brightness here and the
    object's magnitude where that is made; it is not taken twice.
    """
    return naked_eye_limit_mag(
        sky_brightness(
            sun_altitude_rad,
            altitude_rad,
            moon_altitude_rad,
            moon_phase_angle_rad,
            moon_separation_rad,
            sky_mag_arcsec2,
            extinction_mag,
        )
    )
