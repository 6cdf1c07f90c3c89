"""The sky over a site: Earth rotation, frames, Sun, Moon, planets, the night.

The only door to skyfield.  Slow quantities are tabulated at whole hours by skyfield
and interpolated, so a million times cost hundredths of a second.
"""

from passes.sky._door import earth_orientation_end, ephemeris_span
from passes.sky.bodies import (
    BODIES,
    body_icrs,
    moon_altaz,
    moon_teme_km,
    sun_altitude_deg,
    sun_teme_km,
)
from passes.sky.earth import (
    earth_velocity_km_s,
    gmst_rad,
    j2000_from_icrs,
    site_axes,
    site_km,
    site_teme_km,
    teme_to_icrs,
    true_of_date_from_icrs,
)
from passes.sky.meridian import next_transit, transits_at
from passes.sky.night import night, night_containing

__all__ = [
    "BODIES",
    "body_icrs",
    "earth_orientation_end",
    "earth_velocity_km_s",
    "ephemeris_span",
    "gmst_rad",
    "j2000_from_icrs",
    "moon_altaz",
    "moon_teme_km",
    "next_transit",
    "night",
    "night_containing",
    "site_axes",
    "site_km",
    "site_teme_km",
    "sun_altitude_deg",
    "sun_teme_km",
    "teme_to_icrs",
    "transits_at",
    "true_of_date_from_icrs",
]
