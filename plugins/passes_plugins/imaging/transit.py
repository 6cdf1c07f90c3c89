"""A transit of the Moon or the Sun: the disc sets the exposure, not the object.

Read of ``Event.details``, all but the first optional:

``body``
    ``moon`` or ``sun``.
``duration_s``
    How long the object is in front of the disc; else the event's own length.
``offset_radii``
    Distance of the chord from the disc's centre, in its radii, signed or not.
``chord_position_angle_deg``
    Direction of the motion along the chord, north through east.
``offset_position_angle_deg``
    Direction from the centre to the chord's middle, north through east.
``illuminated``
    Lit part of the Moon's disc, 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, log10, nan, pi
from typing import Any

from passes.model import Event

#: V magnitude of the whole disc: full Moon (Allen, from memory), Sun (Willmer 2018).
_WHOLE_MAG = {"moon": -12.74, "sun": -26.76}
#: Mean diameter of the disc, ″ (Allen, from memory), for its brightness and its fit.
DIAMETER_ARCSEC = {"moon": 1868.0, "sun": 1919.0}
#: A certified full-aperture solar filter passes one part in 10⁵ (ISO 12312-2 wants no
#: more than 3.2e-5 for the eye; density 5 is what makers state; from memory).
SOLAR_FILTER_MAG = 12.5


@dataclass(frozen=True, slots=True)
class Disc:
    """What the object crosses; brightness is as it reaches the telescope's filter."""

    body: str
    mag_arcsec2: float
    diameter_arcsec: float
    duration_s: float
    offset_radii: float
    towards_deg: float

    def fits(self, side_deg: float) -> bool:
        """Whether the whole disc is on a chip whose shorter side covers so much."""
        return self.diameter_arcsec <= 3600.0 * side_deg


def disc_of(subject: Any) -> Disc | None:
    """The disc of a transit; None where the subject is none or the body another."""
    if not isinstance(subject, Event) or subject.kind != "transit":
        return None
    details = subject.details
    body = str(details.get("body", "")).lower()
    if body not in _WHOLE_MAG:
        return None
    area = pi / 4.0 * DIAMETER_ARCSEC[body] ** 2
    magnitude = _WHOLE_MAG[body] + 2.5 * log10(area)
    if body == "sun":
        magnitude += SOLAR_FILTER_MAG
    else:
        magnitude += _moon_fainter(_number(details, "illuminated"))
    length = (subject.end - subject.start).total_seconds()
    duration = _number(details, "duration_s")
    return Disc(
        body=body,
        mag_arcsec2=magnitude,
        diameter_arcsec=DIAMETER_ARCSEC[body],
        duration_s=duration if isfinite(duration) else length,
        offset_radii=_number(details, "offset_radii"),
        towards_deg=_number(details, "offset_position_angle_deg"),
    )


def _number(details: Any, key: str) -> float:
    value = details.get(key)
    return float(value) if isinstance(value, int | float) else nan


def _moon_fainter(illuminated: float) -> float:
    """How much fainter the lit part is than at full: 1.4 mag at half (common practice).

    The lit surface of a half Moon is about a quarter as bright as the full Moon's
    (Krisciunas & Schaefer's phase law less the lit area); straight in between.
    """
    if not isfinite(illuminated):
        return 0.7
    return 1.4 * min(2.0 * (1.0 - min(max(illuminated, 0.0), 1.0)), 1.4)
