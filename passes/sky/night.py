"""The night at a site: sunset to sunrise, twilight, darkness and Moon.

A night belongs to the evening whose mean solar 18 h lies nearest to 18 h of the
site's zone, so that a zone far from solar time (or none, UTC) still gives one whole
night.  It lies between two true solar noons; where the Sun does not cross the horizon
between them, the window is bounded by the noons.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from passes.constants import MOON_RADIUS_KM, SECONDS_PER_DAY
from passes.errors import InputError
from passes.model import Night, Site, Span
from passes.photometry import phase_angle_rad
from passes.roots import changes, refine
from passes.sky.bodies import moon_altaz, moon_teme_km, sun_altitude_deg, sun_teme_km
from passes.sky.earth import gmst_rad, site_teme_km
from passes.vectors import norm, spherical

Floats = NDArray[np.float64]
Heights = Callable[[Floats], Floats]

#: Altitudes of the Sun's centre that name the stages (US Naval Observatory).
SUNSET_DEG, CIVIL_DEG, NAUTICAL_DEG, DARK_DEG = -50.0 / 60.0, -6.0, -12.0, -18.0
#: Refraction on the horizon (US Naval Observatory).
_REFRACTION_DEG = 34.0 / 60.0
#: Finer than any dip of the Sun or the Moon below a limit that anyone could use.
_STEP_S = 120.0
_TIME_TOLERANCE_S = 0.01


def night(site: Site, date: date) -> Night:
    """The night around the evening of ``date`` in the site's zone.

    Polar day and night, and nights without full darkness, are told in ``note``; the
    window then runs from solar noon to solar noon.  Heights are for a level horizon:
    a site's own height is not counted.  OutsideEphemeris beyond DE421's span;
    InputError for a zone nobody knows.
    """
    evening = _evening(site, date)
    noon = _noon(site, evening - timedelta(hours=6))
    length_s = (_noon(site, noon + timedelta(days=1)) - noon).total_seconds()
    times = np.linspace(0.0, length_s, 2 + int(length_s / _STEP_S))
    sun = _Curve(lambda t: sun_altitude_deg(site, noon, t), times)
    window = sun.below(SUNSET_DEG) or (0.0, length_s)
    civil, nautical, dark = (
        _span(noon, sun.below(limit)) for limit in (CIVIL_DEG, NAUTICAL_DEG, DARK_DEG)
    )
    middle = noon + timedelta(seconds=sum(window) / 2.0)
    return Night(
        site=site,
        date=date,
        window=Span(start=_at(noon, window[0]), end=_at(noon, window[1])),
        civil=civil,
        nautical=nautical,
        dark=dark,
        moon_up=_moon_up(site, noon, window),
        moon_illuminated=_illuminated(middle),
        moon_altitude_deg=float(moon_altaz(site, middle, 0.0)[0]),
        note=_note(sun, window),
    )


def night_containing(site: Site, when: datetime) -> Night:
    """The night in progress at an aware time, else the next to come."""
    if when.tzinfo is None:
        raise InputError(f"the time {when.isoformat()} has no zone; add Z")
    day = when.astimezone(_zone(site)).date() - timedelta(days=2)
    while True:
        found = night(site, day)
        if found.window.end > when:
            return found
        day += timedelta(days=1)


# --- the day's frame ---------------------------------------------------------


def _zone(site: Site) -> ZoneInfo:
    try:
        return ZoneInfo(site.zone)
    except (OSError, ValueError, LookupError) as error:
        raise InputError(
            f"site {site.name or 'here'}: no time zone named {site.zone!r}; "
            "use a name such as Europe/Madrid"
        ) from error


def _evening(site: Site, day: date) -> datetime:
    """The mean solar 18 h nearest to 18 h of the site's zone on that day, UTC."""
    local = datetime.combine(day, time(18), tzinfo=_zone(site)).astimezone(UTC)
    solar_h = (local.hour + local.minute / 60.0 + site.longitude_deg / 15.0) % 24.0
    return local - timedelta(hours=(solar_h - 18.0 + 12.0) % 24.0 - 12.0)


def _noon(site: Site, near: datetime) -> datetime:
    """The true solar noon within twelve hours of a time."""
    right_ascension, _, _ = spherical(sun_teme_km(near, 0.0))
    angle = float(gmst_rad(near, 0.0)) + np.radians(site.longitude_deg)
    hour_angle = (angle - float(right_ascension) + np.pi) % (2.0 * np.pi) - np.pi
    return near - timedelta(seconds=hour_angle / (2.0 * np.pi) * SECONDS_PER_DAY)


# --- crossings ---------------------------------------------------------------


class _Curve:
    """A height in degrees over a stretch of time, sampled and then refined."""

    def __init__(self, of: Heights, times: Floats) -> None:
        self.of, self.times, self.heights = of, times, of(times)

    def crossings(self, limit: float) -> tuple[Floats, NDArray[np.bool_]]:
        """When the curve crosses a limit, and whether it rises."""
        index, rising = changes(self.heights - limit)
        found = refine(
            lambda t: self.of(t) - limit,
            self.times[index],
            self.times[index + 1],
            _TIME_TOLERANCE_S,
        )
        return found, rising

    def below(self, limit: float) -> tuple[float, float] | None:
        """First stretch below a limit, clipped to the times; None if never."""
        when, rising = self.crossings(limit)
        falls, rises = when[~rising], when[rising]
        if self.heights[0] <= limit:
            start = float(self.times[0])
        elif falls.size:
            start = float(falls[0])
        else:
            return None
        later = rises[rises > start]
        return start, float(later[0] if later.size else self.times[-1])

    def above(self, limit: float) -> list[tuple[float, float]]:
        """Every stretch above a limit, clipped to the times."""
        when, rising = self.crossings(limit)
        starts, ends = list(when[rising]), list(when[~rising])
        if self.heights[0] > limit:
            starts.insert(0, self.times[0])
        if self.heights[-1] > limit:
            ends.append(self.times[-1])
        return [(float(a), float(b)) for a, b in zip(starts, ends, strict=True)]


def _at(noon: datetime, second: float) -> datetime:
    return noon + timedelta(seconds=second)


def _span(noon: datetime, stretch: tuple[float, float] | None) -> Span | None:
    if stretch is None:
        return None
    return Span(start=_at(noon, stretch[0]), end=_at(noon, stretch[1]))


# --- Moon and words ----------------------------------------------------------


def _moon_up(
    site: Site, noon: datetime, window: tuple[float, float]
) -> tuple[Span, ...]:
    """When the Moon's upper limb, lifted by refraction, is above the horizon."""

    def upper_limb_deg(t: Floats) -> Floats:
        place = moon_teme_km(noon, t) - site_teme_km(site, noon, t)
        disc = np.degrees(np.arcsin(MOON_RADIUS_KM / norm(place)))
        return moon_altaz(site, noon, t)[0] + disc + _REFRACTION_DEG

    count = 2 + int((window[1] - window[0]) / _STEP_S)
    stretches = _Curve(upper_limb_deg, np.linspace(*window, count)).above(0.0)
    return tuple(Span(start=_at(noon, a), end=_at(noon, b)) for a, b in stretches)


def _illuminated(when: datetime) -> float:
    """Lit part of the Moon's disc, 0 to 1, seen from the Earth's centre."""
    moon, sun = moon_teme_km(when, 0.0), sun_teme_km(when, 0.0)
    phase = phase_angle_rad(moon, sun, np.zeros(3))
    return float((1.0 + np.cos(phase)) / 2.0)


def _note(sun: _Curve, window: tuple[float, float]) -> str:
    """What is unusual about the night, in a sentence; empty where nothing is."""
    lowest = float(sun.heights.min())
    if lowest > SUNSET_DEG:
        return (
            "The Sun does not set; the window runs from noon to noon "
            f"(lowest Sun {lowest:.1f}°)."
        )
    depth = "" if lowest <= DARK_DEG else f" It gets no deeper than {-lowest:.1f}°."
    if window == (sun.times[0], sun.times[-1]):
        return f"The Sun does not rise; the window runs from noon to noon.{depth}"
    if window[0] == sun.times[0]:
        return f"The Sun is down at noon; the window begins there.{depth}"
    if window[1] == sun.times[-1]:
        return f"The Sun does not rise again; the window ends at noon.{depth}"
    if lowest > DARK_DEG:
        return (
            f"No full darkness: the Sun gets no deeper than {-lowest:.1f}° "
            "below the horizon."
        )
    return ""
