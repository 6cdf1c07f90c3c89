"""The sky behind a field: altitude, Sun, Moon, brightness; the Earth's shadow."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isnan

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import atmosphere, shadow, sky, skylight, vectors
from passes.constants import EARTH_RADIUS_KM
from passes.model import Site, Span

Floats = NDArray[np.float64]

#: Heights for which the Earth's shadow is told, km: low swarms, and the higher ones.
SHADOW_HEIGHTS_KM = (600.0, 1400.0)
_STEP_S = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """What stands around fields at times, ``(n,)`` each; geometric altitudes.

    ``moon_away_rad`` is the field's distance from the Moon, ``moon_lit`` the part of
    the Moon's disc that is lit.
    """

    altitude_rad: Floats
    azimuth_rad: Floats
    sun_altitude_rad: Floats
    moon_altitude_rad: Floats
    moon_away_rad: Floats
    moon_lit: Floats
    sky_mag_arcsec2: Floats
    airmass: Floats


def surroundings(
    site: Site, start: datetime, time_s: Floats, ra_deg: ArrayLike, dec_deg: ArrayLike
) -> Surroundings:
    """Look from a site at places (ICRS) at seconds from a start, ``(n,)`` each."""
    toward = _teme(start, time_s, ra_deg, dec_deg)
    turned = vectors.rotate_z(toward, -sky.gmst_rad(start, time_s))
    local = vectors.apply(sky.site_axes(site), turned)
    altitude = np.arctan2(local[:, 2], np.hypot(local[:, 0], local[:, 1]))
    sun, moon = sky.sun_teme_km(start, time_s), sky.moon_teme_km(start, time_s)
    phase = vectors.separation_rad(sun - moon, -moon)
    moon_away = vectors.separation_rad(
        moon - sky.site_teme_km(site, start, time_s), toward
    )
    moon_altitude = np.radians(sky.moon_altaz(site, start, time_s)[0])
    sun_altitude = np.radians(sky.sun_altitude_deg(site, start, time_s))
    seen = np.maximum(atmosphere.apparent_altitude_rad(altitude), 0.0)
    return Surroundings(
        altitude_rad=altitude,
        azimuth_rad=np.mod(np.arctan2(local[:, 0], local[:, 1]), 2.0 * np.pi),
        sun_altitude_rad=sun_altitude,
        moon_altitude_rad=moon_altitude,
        moon_away_rad=moon_away,
        moon_lit=0.5 * (1.0 + np.cos(phase)),
        sky_mag_arcsec2=skylight.sky_brightness(
            *(sun_altitude, seen, moon_altitude, phase, moon_away),
            *(dark_mag(site), extinction_mag(site)),
        ),
        airmass=atmosphere.airmass(seen),
    )


def dark_mag(site: Site) -> float:
    """The site's dark sky at the zenith, mag/arcsec²; a stand-in where none is told."""
    known = site.sky_mag_arcsec2
    return skylight.DARK_ZENITH_MAG if isnan(known) else known


def extinction_mag(site: Site) -> float:
    """What one airmass takes at the site, mag; by its height where none is told."""
    if isnan(site.extinction_mag):
        return float(atmosphere.extinction_mag(site.height_m))
    return site.extinction_mag


def _teme(
    start: datetime, time_s: Floats, ra_deg: ArrayLike, dec_deg: ArrayLike
) -> Floats:
    """Directions in TEME, ``(n, 3)``."""
    icrs = vectors.direction(np.radians(ra_deg), np.radians(dec_deg))
    turn = np.swapaxes(sky.teme_to_icrs(start, time_s), -1, -2)
    return vectors.apply(turn, np.broadcast_to(icrs, (len(time_s), 3)))


def shadowed(
    site: Site, ra_deg: float, dec_deg: float, span: Span, height_km: float
) -> list[Span]:
    """When whatever flies at a height in that direction is in the Earth's umbra.

    The height is above the equator's radius; told to the minute.
    """
    time_s = np.arange(0.0, span.duration_s + _STEP_S, _STEP_S)
    start = span.start
    toward = _teme(start, time_s, ra_deg, dec_deg)
    here = sky.site_teme_km(site, start, time_s)
    along = vectors.dot(here, toward)
    radius = EARTH_RADIUS_KM + height_km
    run = np.sqrt(along**2 - vectors.dot(here, here) + radius**2) - along
    place = here + run[:, np.newaxis] * toward
    dark = shadow.lit_fraction(place, sky.sun_teme_km(start, time_s)) <= 0.0
    edges = np.flatnonzero(np.diff(np.r_[False, dark, False].astype(int)))
    last = len(time_s) - 1
    return [
        Span(
            start=start + timedelta(seconds=float(time_s[a])),
            end=min(start + timedelta(seconds=float(time_s[min(b, last)])), span.end),
        )
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if time_s[a] < span.duration_s
    ]
