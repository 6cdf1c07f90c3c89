"""One strip on the ground: lines, nearest point, how sure it is, where to go."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, timedelta
from math import degrees, isnan, tan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes import sky, strip, vectors
from passes.model import Site
from passes_plugins.transits.line import BESIDE_S, Line
from passes_plugins.transits.nearest import (
    NORMAL_95,
    Nearest,
    Shifts,
    settled_at_age,
    widths_km,
)
from passes_plugins.transits.seen import Sight, see
from passes_plugins.transits.telling import angle, iso, known

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Crossing
    from passes_plugins.transits.wanted import Wanted

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Points looked at along a line, and the most that are kept of it.
_LOOKS, _MOST_POINTS = 401, 81
#: Way-points are so many kilometres apart: the first that gives few enough.
_STEPS_KM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_WAY_POINTS = 25
#: A deciding date leaves the line sure to this part of the strip's width.
_SURE_PART = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """All about one strip: its nearest place, what is seen there, details as JSON."""

    nearest: Site
    sight: Sight
    details: dict[str, Any]


def site_at(place_km: Floats, zone: str, name: str = "") -> Site:
    """A place on the ground as a site."""
    latitude, longitude, height = strip.geodetic(place_km)
    return Site(
        name=name,
        latitude_deg=float(np.degrees(latitude)),
        longitude_deg=float(np.degrees(longitude)),
        height_m=float(height) * 1000.0,
        zone=zone,
    )


def way(site: Site, to: Site) -> tuple[float, float]:
    """Distance (km) and bearing (degrees, from north through east) over the ellipsoid.

    Karney's geodesics, as geographiclib has them.
    """
    from geographiclib.geodesic import Geodesic

    found = Geodesic.WGS84.Inverse(
        site.latitude_deg, site.longitude_deg, to.latitude_deg, to.longitude_deg
    )
    return found["s12"] / 1000.0, found["azi1"] % 360.0


class Maker:
    """Makes the strips of one body's crossings for one search."""

    def __init__(self, services: Services, wanted: Wanted, line: Line) -> None:
        self.services, self.wanted, self.line = services, wanted, line
        self.site = services.site
        self.height_km = height_of(wanted, self.site)

    def make(
        self, row: int, crossing: Crossing, found: Nearest, moved: Shifts, i: int
    ) -> Strip | None:
        """The strip nearest at entry ``i``; None where none of it is in the area,
        or the ground ends beside it."""
        if not np.isfinite(self._along(np.array([row]), float(found.time_s[i]))).all():
            return None  # it only just touches the Earth
        stretch = self._stretch(row, found, i)
        if stretch is None:
            return None
        time_s, middle_s = stretch
        rows, middle = np.array([row]), np.array([middle_s])
        centre = self.line.ground(rows, time_s[None], self.height_km)
        left, right = self.line.edges(rows, time_s[None], centre, self.height_km)
        spot = self.line.ground(rows, middle[None], self.height_km)[0]
        sight = see(self.line, rows, middle, spot)
        place = site_at(spot[0], self.site.zone, "nearest point")
        at = int(np.abs(time_s - middle_s).argmin())
        along = self._along(rows, middle_s)
        width = float(widths_km(left[0, at], right[0, at], along))
        if not np.isfinite(width):
            return None
        altitude = float(sight.body_altitude_rad[0])
        details = {
            "height_m": round(self.height_km * 1000.0, 1),
            "nearest": self._point(place, sight, 0),
            "width_km": known(width, 4),
            "bearing_deg": round(self._heading(place, along), 1),
            "ground_speed_km_s": known(vectors.norm(along), 4),
            **self._sureness(crossing, moved, i, width, place),
            "shift_km_per_100_m": known(0.1 / tan(altitude), 3),
            "centre": _lines(centre[0]),
            "left": _lines(left[0]),
            "right": _lines(right[0]),
            "way_points": self._way_points(rows, time_s, centre[0], middle_s),
        }
        return Strip(place, sight, details)

    def _point(self, place: Site, sight: Sight, k: int) -> dict[str, Any]:
        """One point of the centre line: how to get there, and what is seen."""
        distance, bearing = way(self.site, place)
        return {
            **_place(place),
            "distance_km": known(distance),
            "bearing_deg": round(bearing, 1),
            "time": self.iso(sight.best_s[k]),
            "duration_s": known(sight.duration_s[k]),
            "altitude_deg": angle(sight.body_altitude_rad[k], 2),
            "azimuth_deg": angle(sight.azimuth_rad[k], 2),
        }

    def iso(self, time_s: float) -> str:
        """A time of the line as files hold it."""
        return iso(self.line.start.astimezone(UTC) + timedelta(seconds=float(time_s)))

    def _along(self, rows: Ints, time_s: float) -> Floats:
        """How fast the centre line's point runs over the ground, ``(3,)`` km/s."""
        ends = np.array([[time_s - BESIDE_S, time_s + BESIDE_S]])
        ground = self.line.ground(rows, ends, self.height_km)[0]
        return np.asarray((ground[1] - ground[0]) / (2.0 * BESIDE_S))

    def _heading(self, place: Site, along: Floats) -> float:
        east, north = (float(v @ along) for v in sky.site_axes(place)[:2])
        return degrees(np.arctan2(east, north)) % 360.0

    def _stretch(self, row: int, found: Nearest, i: int) -> tuple[Floats, float] | None:
        """Times of a line's points within reach and area, and of the nearest of them.

        None where none is in the area.
        """
        rows, middle = np.array([row]), float(found.time_s[i])
        time_s = self._looks(rows, middle, float(found.distance_km[i]))
        ground = self.line.ground(rows, time_s[None], self.height_km)[0]
        far = np.nan_to_num(vectors.norm(ground - sky.site_km(self.site)), nan=np.inf)
        usable = far <= self.wanted.reach_km
        if self.wanted.area is not None:
            latitude, longitude, _ = strip.geodetic(np.nan_to_num(ground, nan=7000.0))
            usable &= self.wanted.area.holds(
                np.degrees(longitude), np.degrees(latitude)
            )
            if not usable.any():
                return None
        at = int(np.where(usable, far, np.inf).argmin())
        low, high = _run(usable, at)
        nearest_s = middle if low <= _LOOKS // 2 <= high else float(time_s[at])
        count = min(max(high - low + 1, 2), _MOST_POINTS)
        points = np.linspace(time_s[low], time_s[high], count)
        return np.unique(np.append(points, nearest_s)), nearest_s

    def _looks(self, rows: Ints, middle: float, away_km: float) -> Floats:
        """Times around the nearest point in which a line runs through the reach.

        The one in their middle is that point's.
        """
        speed = float(vectors.norm(self._along(rows, middle)))
        half_km = np.sqrt(max(self.wanted.reach_km**2 - away_km**2, 1.0))
        half_s = 1.3 * half_km / max(speed, 0.05) + 0.2
        return np.asarray(middle + np.linspace(-half_s, half_s, _LOOKS))

    def _sureness(
        self, crossing: Crossing, moved: Shifts, i: int, width: float, place: Site
    ) -> dict[str, Any]:
        """How far the line may lie beside its place, and when to look again."""
        by_time, by_side = float(moved.by_time_km[i]), float(moved.by_side_km[i])
        east, north = (float(v @ moved.late_km[i]) for v in sky.site_axes(place)[:2])
        return {
            "shift_km": known(np.hypot(by_time, by_side), 3),
            "shift_by_time_km": known(by_time, 3),
            "shift_by_cross_track_km": known(by_side, 3),
            "late_bearing_deg": round(degrees(np.arctan2(east, north)) % 360.0, 1),
            "decide_from": self._decide_from(crossing, by_time, by_side, width),
        }

    def _decide_from(
        self, crossing: Crossing, by_time: float, by_side: float, width: float
    ) -> str | None:
        bound, cross = crossing.timing_bound_s, crossing.cross_track_sigma_km
        if isnan(bound) or bound <= 0.0:
            return None
        side_gain = by_side / (NORMAL_95 * cross) if cross > 0.0 else 0.0
        age = settled_at_age(
            self.services.growth(crossing.catalog_number),
            _SURE_PART * width,
            by_time / bound,
            side_gain,
        )
        if isnan(age):
            return None
        return iso(crossing.closest.time - timedelta(days=age))

    def _way_points(
        self, rows: Ints, time_s: Floats, centre: Floats, middle_s: float
    ) -> list[dict[str, Any]]:
        """Places along the centre line, whole steps from the one nearest."""
        along = np.concatenate(
            [[0.0], np.cumsum(vectors.norm(np.diff(centre, axis=0)))]
        )
        from_km = along - np.interp(middle_s, time_s, along)
        length = float(along[-1])
        step = next((s for s in _STEPS_KM if length / s <= _WAY_POINTS), 100.0)
        stops = step * np.arange(
            np.ceil(from_km[0] / step), np.floor(from_km[-1] / step) + 1
        )
        when = np.interp(stops, from_km, time_s)
        ground = self.line.ground(rows, when[None], self.height_km)[0]
        sound = np.isfinite(ground[:, 0])
        stops, when, ground = stops[sound], when[sound], ground[sound]
        sight = see(self.line, np.repeat(rows, when.size), when, ground)
        points = []
        for k, place_km in enumerate(ground):
            place = site_at(place_km, self.site.zone)
            along_km = {"along_km": round(float(stops[k]), 3)}
            points.append({**self._point(place, sight, k), **along_km})
        return points


def _run(usable: NDArray[np.bool_], at: int) -> tuple[int, int]:
    """First and last of the looks in a row around one of them."""
    left, right = usable[:at][::-1], usable[at + 1 :]
    low = at - (left.size if left.all() else int(left.argmin()))
    high = at + (right.size if right.all() else int(right.argmin()))
    return low, high


def height_of(wanted: Wanted, site: Site) -> float:
    """Height of the ground that lines are drawn for, km: asked for, else the site's."""
    return (site.height_m if isnan(wanted.height_m) else wanted.height_m) / 1000.0


def _place(place: Site) -> dict[str, Any]:
    return {
        "latitude_deg": round(place.latitude_deg, 6),
        "longitude_deg": round(place.longitude_deg, 6),
        "height_m": round(place.height_m, 1),
    }


def _lines(place_km: Floats) -> list[list[float]]:
    """Longitude and latitude in degrees, as GeoJSON orders them."""
    sound = place_km[np.isfinite(place_km[:, 0])]
    latitude, longitude, _ = strip.geodetic(sound)
    pairs = np.degrees(np.stack([longitude, latitude], axis=1)).round(6)
    return [[float(x), float(y)] for x, y in pairs]
