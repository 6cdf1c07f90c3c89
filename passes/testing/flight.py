"""A straight flight past an observer: a track by geometry alone, no orbit.

The object keeps its speed and its height over a flat ground.  That is not how
satellites fly, but every column agrees with every other as on a real pass.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from passes.model import Site, Track

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HEIGHT_KM, SPEED_KM_S, ASIDE_KM = 420.0, 7.66, 300.0
_EARTH_KM = 6371.0
_SIDEREAL_DEG_S = 360.0 / 86164.0905
_SIDEREAL_AT_START_DEG = 40.0
_PRECESSED_DEG = 0.3
_SUN_ALTITUDE_DEG, _STANDARD_MAGNITUDE = -12.0, -1.8


def fly_past(site: Site, start: datetime, time_s: Floats, middle_s: float) -> Track:
    """An object that flies west to east, south of the site, nearest at ``middle_s``.

    ``time_s`` is ``(n,)``, seconds from ``start``.
    """
    import numpy as np

    east = SPEED_KM_S * (time_s - middle_s)
    north = np.full_like(east, -ASIDE_KM)
    up = np.full_like(east, HEIGHT_KM)
    range_km = np.sqrt(east**2 + north**2 + up**2)
    azimuth = np.arctan2(east, north)
    altitude = np.arcsin(up / range_km)
    hour_angle, dec = _equatorial(azimuth, altitude, np.radians(site.latitude_deg))
    ra_deg = _SIDEREAL_AT_START_DEG + _SIDEREAL_DEG_S * time_s - np.degrees(hour_angle)
    across = np.sqrt(1.0 - (east / range_km) ** 2)
    axes = {
        "azimuth": np.degrees(azimuth),
        "altitude": np.degrees(altitude),
        "hour_angle": np.degrees(hour_angle),
        "dec": np.degrees(dec),
    }
    return Track(
        catalog_number=80001,
        name="SAMPLE STATION",
        object_class="station",
        start=start,
        site_name=site.name,
        time_s=time_s,
        azimuth_deg=np.degrees(azimuth) % 360.0,
        altitude_deg=np.degrees(altitude),
        refracted_altitude_deg=np.degrees(altitude) + 0.016 / np.tan(altitude),
        range_km=range_km,
        ra_icrs_deg=ra_deg % 360.0,
        dec_icrs_deg=np.degrees(dec),
        ra_of_date_deg=(ra_deg + _PRECESSED_DEG) % 360.0,
        dec_of_date_deg=np.degrees(dec) + 0.1,
        hour_angle_deg=np.degrees(hour_angle),
        angular_rate_deg_s=np.degrees(SPEED_KM_S * across / range_km),
        **_rates(axes, time_s),
        **_light(azimuth, range_km),
        timing_sigma_s=0.4,
        timing_bound_s=1.2,
        cross_track_sigma_km=0.3,
        element_age_days=1.5,
        magnitude_basis="invented",
        flags=("class_sigma",),
        designator="2027-901A",
        **_states(site, time_s, ra_deg, dec, range_km),
    )


def _states(
    site: Site, time_s: Floats, ra_deg: Floats, dec: Floats, range_km: Floats
) -> dict[str, Any]:
    """Place and velocity about the centre of a round Earth that turns."""
    import numpy as np

    def towards(longitude: Floats, latitude: Floats | float) -> Floats:
        across = np.cos(latitude)
        x, y = across * np.cos(longitude), across * np.sin(longitude)
        return np.stack(np.broadcast_arrays(x, y, np.sin(latitude)), axis=1)

    sidereal = np.radians(_SIDEREAL_AT_START_DEG + _SIDEREAL_DEG_S * time_s)
    ground = _EARTH_KM * towards(sidereal, np.radians(site.latitude_deg))
    place = ground + range_km[:, np.newaxis] * towards(np.radians(ra_deg), dec)
    velocity = np.gradient(place, time_s, axis=0)
    return {"position_icrs_km": place, "velocity_icrs_km_s": velocity}


def _equatorial(
    azimuth: Floats, altitude: Floats, latitude: float
) -> tuple[Floats, Floats]:
    """Hour angle (growing westward) and declination, radians."""
    import numpy as np

    west = -np.cos(altitude) * np.sin(azimuth)
    north = np.cos(altitude) * np.cos(azimuth)
    up = np.sin(altitude)
    meridian = up * np.cos(latitude) - north * np.sin(latitude)
    dec = np.arcsin(up * np.sin(latitude) + north * np.cos(latitude))
    return np.arctan2(west, meridian), dec


def _rates(axes: dict[str, Floats], time_s: Floats) -> dict[str, Any]:
    """Rates and accelerations of each axis, by differences."""
    import numpy as np

    columns = {}
    for axis, angle_deg in axes.items():
        smooth = np.degrees(np.unwrap(np.radians(angle_deg)))
        rate = np.gradient(smooth, time_s)
        columns[f"{axis}_rate_deg_s"] = rate
        columns[f"{axis}_acceleration_deg_s2"] = np.gradient(rate, time_s)
    return columns


def _light(azimuth: Floats, range_km: Floats) -> dict[str, Any]:
    """Light as on an evening pass: the last fifth lies in the Earth's shadow."""
    import numpy as np

    n = azimuth.size
    toward_sun = 0.5 * (1.0 - np.sin(azimuth))  # the Sun has set in the west
    phase_deg = 40.0 + 100.0 * toward_sun
    lit = np.where(np.arange(n) < 0.8 * n, 1.0, 0.0)
    above = _STANDARD_MAGNITUDE + 5.0 * np.log10(range_km / 1000.0) + phase_deg / 60.0
    above = np.where(lit > 0.0, above, np.nan)
    return {
        "phase_angle_deg": phase_deg,
        "lit_fraction": lit,
        "magnitude": above + 0.2,
        "magnitude_above_atmosphere": above,
        "magnitude_sigma": np.full(n, 0.7),
        "sun_separation_deg": 180.0 - phase_deg,
        "sun_altitude_deg": np.full(n, _SUN_ALTITUDE_DEG),
        "moon_separation_deg": 60.0 + 30.0 * toward_sun,
    }
