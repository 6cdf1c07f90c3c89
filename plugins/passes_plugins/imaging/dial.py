"""Exposures as they are dialled and written."""

from __future__ import annotations

from math import floor, isnan, log10, nan

#: Third stops, as cameras' dials have them (ISO 2721 rounds the same way; from memory).
_STOPS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.4, 8.0)
#: From here on a dial writes seconds and not fractions.
_FRACTIONS_BELOW_S = 0.3


def dialled_s(exposure_s: float) -> float:
    """The nearest setting of a dial that is not longer; nan stays unknown."""
    if isnan(exposure_s) or exposure_s <= 0.0:
        return nan
    short = exposure_s < _FRACTIONS_BELOW_S
    value = 1.0 / exposure_s if short else exposure_s
    decade = floor(log10(value))
    steps = [
        10.0**d * stop for d in (decade - 1, decade, decade + 1) for stop in _STOPS
    ]
    if short:
        return 1.0 / min(step for step in steps if step >= value * (1.0 - 1e-9))
    return max(step for step in steps if step <= value * (1.0 + 1e-9))


def dial(exposure_s: float) -> str:
    """A dialled exposure as the camera writes it."""
    if isnan(exposure_s):
        return "unknown"
    if exposure_s >= _FRACTIONS_BELOW_S:
        return f"{exposure_s:.3g} s"
    return f"1/{1.0 / exposure_s:.0f} s"


def milliseconds(exposure_s: float) -> str:
    """The same for cameras that count milliseconds or microseconds."""
    if exposure_s < 1e-3:
        return f"{exposure_s * 1e6:.3g} µs"
    return f"{exposure_s * 1e3:.3g} ms" if exposure_s < 1.0 else f"{exposure_s:g} s"
