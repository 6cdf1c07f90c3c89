"""One transit as an event: what the searches found, in a person's units."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import cos, degrees, isfinite, pi
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes import atmosphere, sky, vectors
from passes.constants import ARCSEC_PER_RAD
from passes.model import Event, Pointing, Site
from passes_plugins.transits.seen import Sight

if TYPE_CHECKING:
    from passes.model import Crossing

Floats = NDArray[np.float64]
Details = dict[str, Any]

_SIDES = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)
#: What a transit is worth beside a passage when one rig must choose.
_WEIGHT, _MISS_WEIGHT = 4.0, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What is seen of crossing ``crossing`` from ``place``: entry ``i`` of a sight."""

    body: str
    crossing: Crossing
    sight: Sight
    i: int
    start: datetime
    place: Site
    size_m: float

    def time(self, seconds: float) -> datetime:
        """A time of the sight as an aware datetime."""
        return self.start.astimezone(UTC) + timedelta(seconds=float(seconds))

    @property
    def best(self) -> datetime:
        """When it is nearest to the disc's centre."""
        return self.time(self.sight.best_s[self.i])

    @property
    def hits(self) -> bool:
        """Whether it is in front of the disc at all."""
        return bool(np.isfinite(self.sight.entry_s[self.i]))


def known(value: Any, digits: int = 6) -> float | None:
    """A number as JSON has it; None where it is unknown."""
    number = float(value)
    return float(f"{number:.{digits}g}") if isfinite(number) else None


def angle(value_rad: Any, digits: int = 4) -> float | None:
    """Degrees of an angle in radians."""
    number = float(value_rad)
    return round(degrees(number), digits) if isfinite(number) else None


def iso(time: datetime) -> str:
    """A time as files hold it."""
    return time.astimezone(UTC).isoformat(timespec="milliseconds")[:-6] + "Z"


def event_id(body: str, number: int, when: datetime) -> str:
    """A name that fresher elements keep: object, body, time to ten minutes."""
    step = timedelta(minutes=10)
    midnight = when.replace(hour=0, minute=0, second=0, microsecond=0)
    rounded = midnight + round((when - midnight) / step) * step
    return f"{number}-{body}-{rounded:%Y%m%dT%H%M}"


def details_of(seen: Seen) -> Details:
    """Everything about the sight, as JSON has it."""
    sight, i, crossing = seen.sight, seen.i, seen.crossing
    radius = float(sight.radius_rad[i])
    size = seen.size_m / (sight.range_km[i] * 1000.0) * ARCSEC_PER_RAD
    return {
        "body": seen.body,
        "near_miss": not seen.hits,
        "duration_s": known(sight.duration_s[i]),
        "offset_radii": round(float(sight.offset_radii[i]), 6),
        "offset_position_angle_deg": _turned(sight.offset[i]),
        "chord_position_angle_deg": angle(sight.motion_rad[i], 2),
        "entry_position_angle_deg": _turned(sight.entry[i]),
        "exit_position_angle_deg": _turned(sight.leaving[i]),
        "disc_diameter_arcsec": known(2.0 * radius * ARCSEC_PER_RAD, 7),
        "separation_deg": known(degrees(sight.offset_radii[i] * radius)),
        "lit_part_s": known(sight.lit_part_s(i)),
        "size_arcsec": known(size, 3),
        "angular_rate_deg_s": angle(sight.rate_rad_s[i]),
        "appearance": appearance(seen),
        "altitude_deg": angle(sight.altitude_rad[i]),
        "azimuth_deg": angle(sight.azimuth_rad[i]),
        "range_km": known(sight.range_km[i]),
        "phase_angle_deg": angle(sight.phase_rad[i], 2),
        "illuminated": known((1.0 + cos(sight.phase_rad[i])) / 2.0, 4),
        "bright_limb_position_angle_deg": angle(sight.bright_limb_rad[i], 1),
        "terminator": terminator(seen),
        "sunlit": bool(sight.lit[i] > 0.0),
        "sun_altitude_deg": known(_sun_altitude(seen), 4),
        "cross_track_sigma_km": known(crossing.cross_track_sigma_km, 3),
        "element_age_days": known(crossing.element_age_days, 4),
        "place": {
            "latitude_deg": round(seen.place.latitude_deg, 6),
            "longitude_deg": round(seen.place.longitude_deg, 6),
            "height_m": round(seen.place.height_m, 1),
        },
    }


def _turned(flat: Floats) -> float | None:
    """Position angle of a place (east, north) beside the disc's centre."""
    turned = angle(np.arctan2(flat[0], flat[1]) % (2 * pi), 2)
    return None if turned is None else turned % 360.0


def _sun_altitude(seen: Seen) -> float:
    time_s = np.array([seen.sight.best_s[seen.i]])
    return float(sky.sun_altitude_deg(seen.place, seen.start, time_s)[0])


def appearance(seen: Seen) -> str:
    """How the object looks: a dark shape, a bright one, or nothing to see."""
    if seen.body == "sun":
        return "silhouette"
    if not seen.hits:
        return "lit" if seen.sight.lit[seen.i] > 0.0 else "unlit"
    if seen.sight.lit[seen.i] > 0.0:
        return "lit"
    lit_part = seen.sight.lit_part_s(seen.i)
    return "silhouette" if lit_part > 0.0 else "unlit before the dark part"


def terminator(seen: Seen) -> str | None:
    """On which side of the disc the dark part lies, as the sky has its sides."""
    phase, limb = seen.sight.phase_rad[seen.i], seen.sight.bright_limb_rad[seen.i]
    if not isfinite(phase):
        return None
    if degrees(phase) < 5.0:
        return "full, no dark side to speak of"
    return f"dark on the {_SIDES[round(degrees(limb + pi) / 45.0) % 8]}"


def event_of(seen: Seen, more: Details) -> Event:
    """The event of one sight; ``more`` adds to its details."""
    crossing, sight, i = seen.crossing, seen.sight, seen.i
    best = seen.best
    begin = seen.time(sight.entry_s[i]) if seen.hits else best
    end = seen.time(sight.exit_s[i]) if seen.hits else best
    return Event(
        id=event_id(seen.body, crossing.catalog_number, best),
        kind="transit",
        subject=crossing.name or str(crossing.catalog_number),
        catalog_number=crossing.catalog_number,
        start=begin,
        best=best,
        end=end,
        timing_sigma_s=crossing.timing_sigma_s,
        timing_bound_s=crossing.timing_bound_s,
        pointing=_pointing(seen),
        magnitude=crossing.magnitude,
        weight=_WEIGHT if seen.hits else _MISS_WEIGHT,
        flags=_flags(crossing.flags, bool(more.get("strip"))),
        details={**details_of(seen), **more},
    )


def _flags(flags: tuple[str, ...], wide: bool) -> tuple[str, ...]:
    """Caveats of a crossing; those of its edges mean nothing in a wide field."""
    return tuple(flag for flag in flags if not (wide and "in_field" in flag))


def _pointing(seen: Seen) -> Pointing:
    """Where the body stands at that moment: astrometric, of date, and refracted."""
    sight, i = seen.sight, seen.i
    icrs = sight.direction[i : i + 1]
    time_s = np.array([sight.best_s[i]])
    of_date = vectors.apply(sky.true_of_date_from_icrs(seen.start, time_s), icrs)
    (lon, lat, _), (lon_date, lat_date, _) = (
        vectors.spherical(v[0]) for v in (icrs, of_date)
    )
    altitude = float(sight.body_altitude_rad[i])
    lifted = float(atmosphere.refraction_rad(np.array([altitude]))[0])
    return Pointing(
        time=seen.best,
        azimuth_deg=degrees(sight.azimuth_rad[i]),
        altitude_deg=degrees(altitude),
        refracted_altitude_deg=degrees(altitude + lifted),
        ra_icrs_deg=degrees(lon),
        dec_icrs_deg=degrees(lat),
        ra_of_date_deg=degrees(lon_date),
        dec_of_date_deg=degrees(lat_date),
    )
