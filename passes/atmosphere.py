"""What the air does to light: airmass, refraction, extinction, dispersion.

Altitudes in radians, magnitudes in V.  Everything is for a calm standard atmosphere;
near the horizon real refraction wanders by minutes of arc and extinction by
magnitudes.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import ARCSEC_PER_RAD

Floats = NDArray[np.float64]

#: Pressure and temperature for which the refraction formula is written.
STANDARD_PRESSURE_HPA = 1010.0
STANDARD_TEMPERATURE_C = 10.0
#: A torr: 1013.25 / 760 hPa (exact).
_HPA_PER_MMHG = 1.333223684
#: Below this apparent altitude the formulae mean nothing; the value here is kept.
_LOWEST_REFRACTION_DEG = -1.0
_ARCMIN = np.radians(1.0 / 60.0)


def airmass(altitude_rad: ArrayLike) -> Floats:
    """Path through the air at an apparent altitude, ``(...)``; 1 at the zenith.

    Kasten & Young 1989 (Appl. Opt. 28, 4735), within 0.5 % of their tables (0.9997
    at the zenith, 37.92 on the horizon); below the horizon the horizon's value.
    """
    altitude = np.maximum(np.asarray(altitude_rad, dtype=np.float64), 0.0)
    degrees = np.degrees(altitude)
    return np.asarray(
        1.0 / (np.sin(altitude) + 0.50572 * (degrees + 6.07995) ** -1.6364)
    )


def standard_pressure_hpa(height_m: ArrayLike) -> Floats:
    """Pressure at a height, ``(...)`` hPa (U.S. Standard Atmosphere 1976, to 11 km)."""
    height = np.asarray(height_m, dtype=np.float64)
    return np.asarray(1013.25 * (1.0 - 2.25577e-5 * height) ** 5.25588)


def refraction_at_apparent_rad(
    apparent_altitude_rad: ArrayLike,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
) -> Floats:
    """How much an object is lifted that is seen at an altitude, ``(...)`` radians.

    Bennett 1982 (J. Navig. 35, 255), within 0.12′ of published tables; scaled by
    pressure and temperature.  Below −1° apparent the value at −1° is kept; at the
    zenith it is 0.
    """
    degrees = np.degrees(np.asarray(apparent_altitude_rad, dtype=np.float64))
    angle, _ = _bennett_deg(degrees)
    minutes = np.maximum(1.0 / np.tan(np.radians(angle)), 0.0)
    return np.asarray(minutes * _ARCMIN * _thickness(pressure_hpa, temperature_c))


def _thickness(pressure_hpa: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Density of the air relative to the formula's."""
    pressure = np.asarray(pressure_hpa, dtype=np.float64) / STANDARD_PRESSURE_HPA
    kelvin = 273.0 + np.asarray(temperature_c, dtype=np.float64)
    return np.asarray(pressure * (273.0 + STANDARD_TEMPERATURE_C) / kelvin)


def _bennett_deg(degrees: Floats) -> tuple[Floats, Floats]:
    """The angle whose cotangent is the refraction in minutes, and its slope."""
    kept = np.maximum(degrees, _LOWEST_REFRACTION_DEG)
    slope = np.where(degrees > kept - 1e-12, 1.0 - 7.31 / (kept + 4.4) ** 2, 0.0)
    return kept + 7.31 / (kept + 4.4), slope


def apparent_altitude_rad(
    true_altitude_rad: ArrayLike,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
) -> Floats:
    """Where an object is seen that geometrically stands at an altitude, ``(...)``.

    Solves :func:`refraction_at_apparent_rad`, so that the two undo each other.
    """
    true = np.asarray(true_altitude_rad, dtype=np.float64)
    thickness = _thickness(pressure_hpa, temperature_c)
    seen = true + 0.5 * refraction_at_apparent_rad(true, pressure_hpa, temperature_c)
    for _ in range(6):
        angle, slope = _bennett_deg(np.degrees(seen))
        lift = refraction_at_apparent_rad(seen, pressure_hpa, temperature_c)
        # d(lift)/d(seen): both angles in the same unit, the minute beside them.
        steep = np.sin(np.radians(angle)) ** -2.0 * slope * _ARCMIN * thickness
        seen = seen - (seen - lift - true) / (1.0 + np.where(lift > 0.0, steep, 0.0))
    return np.asarray(seen)


def refraction_rad(
    true_altitude_rad: ArrayLike,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
) -> Floats:
    """How much an object is lifted that truly stands at an altitude, ``(...)`` radians.

    29.0′ at a true altitude of 0 in standard air; mind that the well-known 34.5′
    belongs to an apparent altitude of 0.
    """
    seen = apparent_altitude_rad(true_altitude_rad, pressure_hpa, temperature_c)
    return np.asarray(seen - np.asarray(true_altitude_rad, dtype=np.float64))


def true_altitude_rad(
    apparent_altitude_rad: ArrayLike,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
) -> Floats:
    """Where an object geometrically stands that is seen at an altitude, ``(...)``."""
    seen = np.asarray(apparent_altitude_rad, dtype=np.float64)
    return np.asarray(
        seen - refraction_at_apparent_rad(seen, pressure_hpa, temperature_c)
    )


def extinction_mag(height_m: ArrayLike) -> Floats:
    """Light lost per airmass in V on a clear night at a height, ``(...)`` mag.

    Rayleigh scattering, aerosol and ozone after Green 1992 (ICQ 14, 55): 0.28 at sea
    level, 0.16 at 2 km.  A real night differs by its haze: ±0.05 mag at a good site,
    several tenths at a poor one.
    """
    height_km = np.asarray(height_m, dtype=np.float64) / 1000.0
    rayleigh = 0.1451 * np.exp(-height_km / 7.996)
    aerosol = 0.120 * np.exp(-height_km / 1.5)
    return np.asarray(rayleigh + aerosol + 0.016)


def refractivity(
    wavelength_nm: ArrayLike,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
    vapour_hpa: ArrayLike = 0.0,
) -> Floats:
    """Refractive index of moist air less one, ``(...)``.

    Edlén 1953 and Barrell 1951 as given by Filippenko 1982 (PASP 94, 715); for
    300 to 1000 nm.
    """
    wave2 = (1000.0 / np.asarray(wavelength_nm, dtype=np.float64)) ** 2
    pressure = np.asarray(pressure_hpa, dtype=np.float64) / _HPA_PER_MMHG
    vapour = np.asarray(vapour_hpa, dtype=np.float64) / _HPA_PER_MMHG
    celsius = np.asarray(temperature_c, dtype=np.float64)
    warm = 1.0 + 0.003661 * celsius
    dry = 64.328 + 29498.1 / (146.0 - wave2) + 255.4 / (41.0 - wave2)
    squeeze = 1.0 + (1.049 - 0.0157 * celsius) * 1e-6 * pressure
    moist = vapour * (0.0624 - 0.000680 * wave2) / warm
    return np.asarray((dry * pressure * squeeze / (720.883 * warm) - moist) * 1e-6)


def dispersion_arcsec(
    apparent_altitude_rad: ArrayLike,
    wavelength_nm: ArrayLike,
    reference_nm: ArrayLike = 500.0,
    *,
    pressure_hpa: ArrayLike = STANDARD_PRESSURE_HPA,
    temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
    vapour_hpa: ArrayLike = 0.0,
) -> Floats:
    """How much higher one colour is seen than another, ``(...)`` arcseconds.

    Filippenko 1982 (PASP 94, 715), flat layers: good to 1 % above 20° of altitude.
    Blue stands higher: positive for wavelengths below the reference.
    """
    air = (pressure_hpa, temperature_c, vapour_hpa)
    between = refractivity(wavelength_nm, *air) - refractivity(reference_nm, *air)
    altitude = np.asarray(apparent_altitude_rad, dtype=np.float64)
    return np.asarray(ARCSEC_PER_RAD * between / np.tan(altitude))
