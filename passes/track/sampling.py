"""One object sampled along a stretch of time: everything but its magnitude."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import atmosphere, objects, photometry, shadow, sky, vectors
from passes import growth as growths
from passes.constants import SECONDS_PER_DAY
from passes.elements import Catalogue
from passes.errors import InputError
from passes.model import Flags, Growth, Site, Track
from passes.orbits import Propagator
from passes.track.geometry import (
    Path,
    Positions,
    Sight,
    astrometric,
    of_date,
    see,
    trace,
)

Floats = NDArray[np.float64]
#: Values of some of a track's fields, by name.
Columns = dict[str, Any]

#: Elements further than this from the middle of a track are called stale, days.
STALE_DAYS = 7.0


def sample_track(
    catalogue: Catalogue,
    row: int,
    site: Site,
    start: datetime,
    time_s: ArrayLike,
    *,
    growth: Growth | None = None,
    source: Positions | None = None,
    pressure_hpa: float | None = None,
    temperature_c: float = atmosphere.STANDARD_TEMPERATURE_C,
) -> Track:
    """One row of a catalogue at times ``(n,)`` in seconds from an aware UTC ``start``.

    Every array of the track is filled except the magnitudes, which are nan; where SGP4
    refuses, everything but the Sun's altitude is nan.  What the columns mean:

    ``azimuth_deg``, ``altitude_deg``, ``range_km``, ``hour_angle_deg``
        Geometric, of the true topocentric direction at that moment: no light time, no
        refraction; hour angle and declination are about the Earth's own axis.
    ``refracted_altitude_deg``
        For the pressure (else the standard one at the site's height) and temperature.
    ``ra_icrs_deg``, ``dec_icrs_deg``
        Astrometric, as a plate solution gives them (:func:`geometry.astrometric`).
    ``ra_of_date_deg``, ``dec_of_date_deg``
        The same direction turned by precession and nutation to the true equator and
        equinox of date, no aberration added: what a mount wants that was synchronised
        on a star whose catalogue place was brought to date in that way.  A mount that
        also adds annual aberration to its stars differs by up to 20.5″.  For the same
        reason, and for light time, sidereal time less right ascension may be 26″ from
        the hour angle.
    rates and accelerations
        Of the geometric azimuth and altitude, and of hour angle and declination, in
        axes fixed to the ground, never wrapped.  Azimuth speeds up without limit
        towards the zenith, hour angle towards the pole; exactly there they are nan.
    ``angular_rate_deg_s``
        Among the stars.  Over the ground it is ``hypot(altitude rate, azimuth rate ·
        cos altitude)``, the same from hour angle and declination.

    ``growth`` says how the error grows with the elements' age; else the catalogue's own
    record is used, else the object's class.  ``source`` replaces SGP4 on the catalogue.
    Raises InputError for times that are not a row of finite numbers.
    """
    times = _checked(time_s)
    source = Propagator(catalogue, start) if source is None else source
    path = trace(source, row, times)
    sight = see(path, site, start)
    refracted_rad = _refracted_rad(sight, site, pressure_hpa, temperature_c)
    growth = _growth_of(catalogue, row) if growth is None else growth
    age_days = _age_days(catalogue, row, start, times)
    unknown = np.full(times.shape, np.nan)
    return Track(
        catalog_number=int(catalogue.catalog_number[row]),
        name=catalogue.name[row],
        start=start,
        site_name=site.name,
        object_class=_class_of(catalogue, row),
        time_s=times,
        **_angles(sight),
        refracted_altitude_deg=np.degrees(refracted_rad),
        **_places(path, sight, start),
        **_light(path, sight, site, start),
        magnitude=unknown,
        magnitude_above_atmosphere=unknown,
        magnitude_sigma=unknown,
        element_age_days=age_days,
        **_errors(growth, age_days),
        flags=_flags(catalogue, row, growth, age_days, path).names,
        designator=catalogue.designator[row],
        **_states(path, start),
    )


def _checked(time_s: ArrayLike) -> Floats:
    times = np.asarray(time_s, dtype=np.float64)
    if times.ndim != 1 or not times.size or not np.isfinite(times).all():
        raise InputError(
            f"track: want one or more finite times in a row, got shape {times.shape}"
        )
    return times


def _angles(sight: Sight) -> Columns:
    """Columns in the mount's axes, in degrees and kilometres."""
    level, hour = sight.level, sight.hour
    return {
        "azimuth_deg": _circle_deg(level.longitude),
        "altitude_deg": np.degrees(level.latitude),
        "range_km": sight.range_km,
        "hour_angle_deg": np.degrees(hour.longitude),
        "angular_rate_deg_s": np.degrees(sight.angular_rate),
        "azimuth_rate_deg_s": np.degrees(level.longitude_rate),
        "altitude_rate_deg_s": np.degrees(level.latitude_rate),
        "hour_angle_rate_deg_s": np.degrees(hour.longitude_rate),
        "dec_rate_deg_s": np.degrees(hour.latitude_rate),
        "azimuth_acceleration_deg_s2": np.degrees(level.longitude_acceleration),
        "altitude_acceleration_deg_s2": np.degrees(level.latitude_acceleration),
        "hour_angle_acceleration_deg_s2": np.degrees(hour.longitude_acceleration),
        "dec_acceleration_deg_s2": np.degrees(hour.latitude_acceleration),
    }


def _circle_deg(longitude_rad: Floats) -> Floats:
    """-π to π as 0 to 360 degrees, never 360 itself."""
    degrees = np.degrees(longitude_rad)
    degrees = np.where(degrees < 0.0, degrees + 360.0, degrees)
    return np.where(degrees >= 360.0, 0.0, degrees)


def _places(path: Path, sight: Sight, start: datetime) -> Columns:
    """Columns on the star field, ICRS and of date."""
    direction = astrometric(path, sight, start)
    ra, dec, _ = vectors.spherical(direction)
    later_ra, later_dec, _ = vectors.spherical(of_date(direction, start, path.time_s))
    return {
        "ra_icrs_deg": np.degrees(ra),
        "dec_icrs_deg": np.degrees(dec),
        "ra_of_date_deg": np.degrees(later_ra),
        "dec_of_date_deg": np.degrees(later_dec),
    }


def _states(path: Path, start: datetime) -> Columns:
    """The object's own place and velocity about the Earth's centre, ICRS.

    How slowly the frames turn in each other (8e-12 rad/s) is left out of the velocity.
    """
    to_icrs = sky.teme_to_icrs(start, path.time_s)
    return {
        "position_icrs_km": vectors.apply(to_icrs, path.position_km),
        "velocity_icrs_km_s": vectors.apply(to_icrs, path.velocity_km_s),
    }


def _light(path: Path, sight: Sight, site: Site, start: datetime) -> Columns:
    """Columns about the Sun's light and about Sun and Moon in the sky."""
    sun_km = sky.sun_teme_km(start, path.time_s)
    moon_km = sky.moon_teme_km(start, path.time_s)
    line = path.position_km - sight.site_km
    phase = photometry.phase_angle_rad(path.position_km, sun_km, sight.site_km)
    return {
        "phase_angle_deg": np.degrees(phase),
        "lit_fraction": shadow.lit_fraction(path.position_km, sun_km),
        "sun_separation_deg": _apart_deg(line, sun_km - sight.site_km),
        "moon_separation_deg": _apart_deg(line, moon_km - sight.site_km),
        "sun_altitude_deg": sky.sun_altitude_deg(site, start, path.time_s),
    }


def _apart_deg(first: Floats, second: Floats) -> Floats:
    return np.degrees(vectors.separation_rad(first, second))


def _age_days(catalogue: Catalogue, row: int, start: datetime, times: Floats) -> float:
    """Age of the elements in the middle of the track, positive after the epoch."""
    middle_s = (times.min() + times.max()) / 2.0
    return float(middle_s - catalogue.epoch_s(start)[row]) / SECONDS_PER_DAY


def _growth_of(catalogue: Catalogue, row: int) -> Growth:
    """How one object's error grows: its own record, else what its class does."""
    if catalogue.growth:
        return catalogue.growth[row]
    one = catalogue.take([row])
    motion, tilt = one.mean_motion_rad_min, one.inclination_rad
    kind = _class_of(catalogue, row)
    coefficients = growths.class_coefficients(
        np.array([kind]),
        motion * (1440.0 / (2 * np.pi)),
        one.eccentricity,
        growths.fleet_members(one.name),
        inclination_deg=np.degrees(tilt),
        drag_s_day2=growths.drag_s_day2(motion, one.eccentricity, tilt, one.bstar),
    )
    values: Columns = {k: float(v[0]) for k, v in coefficients.items()}
    values["manoeuvres"] = bool(values["manoeuvres"])
    borrowed = bool(growths.borrows(kind))
    return Growth(basis="class_sigma" if borrowed else "class_fitted", **values)


def _class_of(catalogue: Catalogue, row: int) -> str:
    name, designator = catalogue.name[row], catalogue.designator[row]
    return objects.object_class((name,), (designator,))[0]


def _errors(growth: Growth, age_days: float) -> Columns:
    """Timing sigma and bound, and sigma across the track, at an age."""
    sigma_s, bound_s, cross_km = growths.errors(growth, age_days)
    return {
        "timing_sigma_s": float(sigma_s),
        "timing_bound_s": float(bound_s),
        "cross_track_sigma_km": float(cross_km),
    }


def _flags(
    catalogue: Catalogue, row: int, growth: Growth, age_days: float, path: Path
) -> Flags:
    """Caveats that the elements and the samples themselves give rise to."""
    late_s = 0.0 if catalogue.late_s is None else float(catalogue.late_s[row])
    caveats = {
        Flags.STALE_ELEMENTS: abs(age_days) > STALE_DAYS,
        Flags.CLASS_SIGMA: growth.basis == "class_sigma",
        Flags.MANOEUVRES: growth.manoeuvres,
        Flags.LATENESS_APPLIED: late_s != 0.0,
        Flags.ENDS_IN_FAILURE: bool(np.isnan(path.position_km).any()),
    }
    return Flags(sum(flag for flag, on in caveats.items() if on))


def _refracted_rad(
    sight: Sight, site: Site, pressure_hpa: float | None, temperature_c: float
) -> Floats:
    """Altitudes as seen; the standard pressure at the site where none is given."""
    if pressure_hpa is None:
        pressure_hpa = float(atmosphere.standard_pressure_hpa(site.height_m))
    return atmosphere.apparent_altitude_rad(
        sight.level.latitude, pressure_hpa, temperature_c
    )
