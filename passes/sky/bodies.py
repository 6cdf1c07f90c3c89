"""Where the Sun, the Moon and the planets stand, from JPL DE421 through skyfield."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import (
    LIGHT_SPEED_KM_S,
    MOON_RADIUS_KM,
    SECONDS_PER_DAY,
    SUN_RADIUS_KM,
)
from passes.errors import UnknownName
from passes.model import Site
from passes.sky._door import at_hours, ephemeris, require_ephemeris, timescale
from passes.sky._nodes import CUBIC, by_pieces, interpolated, tabulated
from passes.sky.earth import gmst_rad, site_axes, site_km, site_teme_km, teme_to_icrs
from passes.vectors import apply, dot, norm, rotate_z, unit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Table = Callable[[int, int], Floats]

#: Name in the ephemeris and radius in km: equatorial radii of the IAU Working Group
#: on Cartographic Coordinates 2015 (Archinal et al. 2018).
_BODIES = {
    "sun": ("sun", SUN_RADIUS_KM),
    "moon": ("moon", MOON_RADIUS_KM),
    "mercury": ("mercury", 2440.53),
    "venus": ("venus", 6051.8),
    "mars": ("mars", 3396.19),
    "jupiter": ("jupiter barycenter", 71492.0),
    "saturn": ("saturn barycenter", 60268.0),
}
#: The bodies that can be asked for.
BODIES = tuple(_BODIES)


def _covered(table: Table) -> Table:
    """The same table, refusing days that the ephemeris does not cover."""

    def within(first_day: int, last_day: int) -> Floats:
        require_ephemeris(first_day, last_day)
        return table(first_day, last_day)

    return within


def _apparent_table(name: str) -> Table:
    """Apparent geocentric place in TEME, km, ``p`` = 3.

    Light time and annual aberration together are the geometric place of one light
    time ago (planetary aberration); the distance is then the one that parallax needs.
    """

    def at(hours: Ints) -> Floats:
        from skyfield.sgp4lib import TEME

        time = at_hours(hours)
        vector = ephemeris()[name] - ephemeris()["earth"]
        light_s = vector.at(time).distance().km / LIGHT_SPEED_KM_S
        earlier = time.tt_fraction - light_s / SECONDS_PER_DAY
        place = vector.at(timescale().tt_jd(time.whole, earlier)).position.km
        return apply(np.moveaxis(TEME.rotation_at(time), -1, 0), np.asarray(place).T)

    return _covered(tabulated(at, CUBIC))


def _astrometric_table(name: str) -> Table:
    """Astrometric geocentric place, and velocity about the barycentre, ``p`` = 6."""

    def at(hours: Ints) -> Floats:
        time = at_hours(hours)
        seen = ephemeris()["earth"].at(time).observe(ephemeris()[name])
        moving = ephemeris()[name].at(time).velocity.km_per_s
        return np.concatenate([np.asarray(seen.position.km), np.asarray(moving)]).T

    return _covered(tabulated(at, CUBIC))


_sun_table = _apparent_table("sun")
_moon_table = _apparent_table("moon")
_seen_tables = {body: _astrometric_table(name) for body, (name, _) in _BODIES.items()}


def sun_teme_km(start: datetime, time_s: ArrayLike) -> Floats:
    """The Sun from the Earth's centre in TEME, ``(n, 3)`` km.

    Apparent: light time and annual aberration included, which is the direction along
    which the Earth's shadow falls.  Within 1e-8 rad of skyfield.
    """
    return interpolated(_sun_table, start, time_s)


def moon_teme_km(start: datetime, time_s: ArrayLike) -> Floats:
    """The Moon from the Earth's centre in TEME, ``(n, 3)`` km; apparent.

    Within 1e-8 rad of skyfield; subtract a site's place for its parallax.
    """
    return interpolated(_moon_table, start, time_s)


def body_icrs(
    body: str, site: Site, start: datetime, time_s: ArrayLike
) -> tuple[Floats, Floats, float]:
    """Where a body stands on the star field as seen from a site.

    Returns the astrometric topocentric direction in ICRS (unit vectors ``(n, 3)``),
    the distance in km ``(n,)`` (the path of the light, as skyfield's ``observe``
    gives it) and the body's radius in km.  Within 0.001″ of skyfield.  Jupiter and
    Saturn are the barycentres of their systems, up to 0.1″ from the planet.
    """
    if body not in _BODIES:
        raise UnknownName("body", body, BODIES)
    vector = by_pieces(lambda t: _seen_from(body, site, start, t), time_s)
    return unit(vector), norm(vector), _BODIES[body][1]


def _seen_from(body: str, site: Site, start: datetime, time_s: Floats) -> Floats:
    """Astrometric vector from a site to a body, ICRS, ``(n, 3)`` km."""
    seen = interpolated(_seen_tables[body], start, time_s)
    centre, velocity = seen[:, :3], seen[:, 3:]
    place = apply(teme_to_icrs(start, time_s), site_teme_km(site, start, time_s))
    vector = centre - place
    # The light that reaches the site left at another time than that to the centre.
    sooner = (norm(centre) - norm(vector)) / LIGHT_SPEED_KM_S
    return vector + velocity * sooner[:, np.newaxis]


def sun_altitude_deg(site: Site, start: datetime, time_s: ArrayLike) -> Floats:
    """Altitude of the Sun's centre at a site, ``(n,)`` degrees, without refraction.

    Apparent place with parallax; within 0.4″ (diurnal aberration) of skyfield.
    """
    place, up = site_km(site), site_axes(site)[2]

    def altitude(times: Floats) -> Floats:
        sun = rotate_z(sun_teme_km(start, times), -gmst_rad(start, times))
        vector = sun - place
        sine = np.clip(dot(vector, up) / norm(vector), -1.0, 1.0)
        return np.degrees(np.arcsin(sine))[:, np.newaxis]

    return by_pieces(altitude, time_s)[..., 0]


def moon_altaz(site: Site, start: datetime, time_s: ArrayLike) -> tuple[Floats, Floats]:
    """Altitude and azimuth of the Moon's centre at a site, ``(n,)`` degrees each.

    Apparent place with parallax, without refraction; azimuth from north through
    east, 0 to 360.  Within 1″ of skyfield.
    """

    def altaz(times: Floats) -> Floats:
        vector = moon_teme_km(start, times) - site_teme_km(site, start, times)
        local = apply(site_axes(site), rotate_z(vector, -gmst_rad(start, times)))
        east, north, up = local[:, 0], local[:, 1], local[:, 2]
        altitude = np.degrees(np.arctan2(up, np.hypot(east, north)))
        return np.stack([altitude, np.degrees(np.arctan2(east, north)) % 360.0], axis=1)

    both = by_pieces(altaz, time_s)
    return both[..., 0], both[..., 1]
