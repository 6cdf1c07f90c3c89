"""From a standard magnitude to the magnitude at a range and phase; all in V.

A standard magnitude is the one at 1000 km, under one of three conventions:

``lambert90``
    a diffuse sphere seen half lit (phase 90°);
``full``
    the same sphere seen fully lit (phase 0°), 1.2429 mag brighter;
``mean-no-phase``
    a mean over whatever phases were observed; only the range is applied.

Phase is the angle Sun - satellite - observer.  A real satellite is no sphere: sigmas
live with the standard magnitudes, not here.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.errors import UnknownName
from passes.vectors import separation_rad

Floats = NDArray[np.float64]

CONVENTIONS: Final = ("lambert90", "full", "mean-no-phase")
STANDARD_RANGE_KM: Final = 1000.0
#: How much brighter a diffuse sphere is fully lit than half lit: 2.5 log₁₀ π.
FULL_MINUS_HALF_MAG: Final = 2.5 * float(np.log10(np.pi))


def phase_angle_rad(
    position_km: ArrayLike, sun_km: ArrayLike, observer_km: ArrayLike
) -> Floats:
    """Angle Sun - satellite - observer in radians, ``(...)``: 0 when fully lit.

    Three places ``(..., 3)`` in one frame, km.
    """
    position = np.asarray(position_km, dtype=np.float64)
    return separation_rad(
        np.asarray(sun_km, dtype=np.float64) - position,
        np.asarray(observer_km, dtype=np.float64) - position,
    )


def lambert_sphere(phase_rad: ArrayLike) -> Floats:
    """Brightness of a diffuse sphere, 1 at phase 0, 1/π at 90°, 0 at 180°; ``(...)``.

    ``(sin φ + (π − φ) cos φ) / π`` (Lambert; Vallerie 1963).
    """
    phase = np.asarray(phase_rad, dtype=np.float64)
    light = np.sin(phase) + (np.pi - phase) * np.cos(phase)
    return np.asarray(np.maximum(light, 0.0) / np.pi)


def apparent_magnitude(
    standard_mag: ArrayLike,
    range_km: ArrayLike,
    phase_rad: ArrayLike,
    convention: ArrayLike,
) -> Floats:
    """Magnitude above the atmosphere in full sunlight, ``(...)``; all broadcast.

    ``convention`` is one word of :data:`CONVENTIONS` or an array of them; another
    word is UnknownName.  A sphere lit from behind is fainter than 40 mag.
    """
    words = np.asarray(convention)
    for word in np.unique(words):
        if word not in CONVENTIONS:
            raise UnknownName("convention of magnitudes", str(word), CONVENTIONS)
    away = 5.0 * np.log10(np.asarray(range_km, dtype=np.float64) / STANDARD_RANGE_KM)
    with np.errstate(divide="ignore"):
        fainter = -2.5 * np.log10(lambert_sphere(phase_rad))
    fainter = np.where(words == "mean-no-phase", 0.0, fainter)
    fainter = fainter - np.where(words == "lambert90", FULL_MINUS_HALF_MAG, 0.0)
    return np.asarray(standard_mag, dtype=np.float64) + away + fainter


def converted(standard_mag: ArrayLike, convention: str, to: str) -> Floats:
    """A standard magnitude under another convention, ``(...)``.

    Only ``lambert90`` and ``full`` can be turned into each other; a mean over
    unknown phases gives UnknownName, for it could only be guessed.
    """
    shift = {"lambert90": FULL_MINUS_HALF_MAG, "full": 0.0}
    for word in (convention, to):
        if word not in shift:
            raise UnknownName("convertible convention", word, shift)
    return np.asarray(standard_mag, dtype=np.float64) - shift[convention] + shift[to]


def dim_by_fraction(magnitude: ArrayLike, lit_fraction: ArrayLike) -> Floats:
    """Magnitude when only part of the Sun's disc is seen, ``(...)``; infinity for none.

    The Sun's disc is taken as evenly bright; its limb is darker, so the last sliver is
    up to 0.7 mag fainter than said.
    """
    with np.errstate(divide="ignore"):
        fainter = -2.5 * np.log10(np.asarray(lit_fraction, dtype=np.float64))
    return np.asarray(magnitude, dtype=np.float64) + fainter
