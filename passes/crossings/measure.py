"""What is said of each crossing once its times are known."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import sky, vectors
from passes.crossings.aim import Aim, compass
from passes.crossings.curves import Curves
from passes.crossings.events import Stays
from passes.crossings.table import CrossingTable, Places
from passes.elements import Catalogue, Skipped
from passes.model import LineOfSight, Site
from passes.orbits import Propagator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Crossings as a search finds them, ``(k, ...)`` each, in radians and km.

    ``when`` and ``seen`` hold entry, exit and closest approach: ``(k, 3)`` times and
    ``(k, 3, 3)`` unit vectors, ICRS.
    """

    row: Ints
    when: Floats
    seen: Floats
    closest_rad: Floats
    radius_rad: Floats
    rate_rad_s: Floats
    motion: Floats
    position_km: Floats
    velocity_km_s: Floats
    flags: Ints

    def without(self, rows: Ints) -> Found:
        """The crossings of other rows than these."""
        keep = ~np.isin(self.row, rows)
        return Found(*(getattr(self, f.name)[keep] for f in fields(self)))


def measured(
    propagator: Propagator, curves: Curves, aim: Aim, found: Stays, closest_s: Floats
) -> Found:
    """Places, motion and state of stays on curves."""
    run = found.run
    when = np.stack([found.begin_s, found.end_s, closest_s], axis=1)
    seen = np.stack([vectors.unit(curves.at(run, t)[:3].T) for t in when.T], axis=1)
    vector, change = (
        curves.at(run, closest_s)[:3].T,
        curves.change(run, closest_s)[:3].T,
    )
    away = vectors.norm(vector)
    across = change - seen[:, 2] * vectors.dot(change, seen[:, 2])[:, np.newaxis]
    toward, radius = aim.look(closest_s)
    row = curves.row[run]
    position, velocity, _ = propagator.along(row, np.arange(row.size + 1), closest_s)
    return Found(
        row=row,
        when=when,
        seen=seen,
        closest_rad=vectors.separation_rad(toward, seen[:, 2]),
        radius_rad=np.full(row.size, np.nan) if aim.rectangle else radius,
        rate_rad_s=vectors.norm(across) / away,
        motion=across,
        position_km=position,
        velocity_km_s=velocity,
        flags=found.flags.copy(),
    )


def _joined(parts: list[Found]) -> Found:
    """All in one, in order of entry, then of row."""
    none = np.empty(0, dtype=np.int64)
    shapes = {"when": (3,), "seen": (3, 3)}
    vectors_ = ("motion", "position_km", "velocity_km_s")
    columns = {}
    for f in fields(Found):
        shape = (3,) if f.name in vectors_ else shapes.get(f.name, ())
        empty = none if f.name in ("row", "flags") else np.empty((0, *shape))
        columns[f.name] = np.concatenate(
            [empty, *(getattr(part, f.name) for part in parts)]
        )
    order = np.lexsort((columns["row"], columns["when"][:, 0]))
    return Found(**{name: column[order] for name, column in columns.items()})


def tabled(
    parts: list[Found],
    catalogue: Catalogue,
    site: Site,
    line: LineOfSight,
    window: tuple[datetime, datetime],
    skipped: tuple[Skipped, ...],
) -> CrossingTable:
    """Everything found, in degrees, with where it stands over the site."""
    found = _joined(parts)
    lon, lat, _ = vectors.spherical(found.seen)
    entry, exit_, closest = (
        Places(
            time_s=np.ascontiguousarray(found.when[:, i]),
            ra_deg=np.degrees(lon[:, i]),
            dec_deg=np.degrees(lat[:, i]),
        )
        for i in range(3)
    )
    altitude, azimuth, range_km = _over_site(found, site, window[0])
    return CrossingTable(
        catalogue=catalogue,
        site=site,
        line_of_sight=line,
        start=window[0],
        end=window[1],
        row=found.row,
        entry=entry,
        exit=exit_,
        closest=closest,
        closest_deg=np.degrees(found.closest_rad),
        radius_deg=np.degrees(found.radius_rad),
        angular_rate_deg_s=np.degrees(found.rate_rad_s),
        position_angle_deg=_direction_deg(found, lon[:, 2], lat[:, 2]),
        range_km=range_km,
        altitude_deg=np.degrees(altitude),
        azimuth_deg=np.degrees(azimuth) % 360.0,
        position_km=found.position_km,
        velocity_km_s=found.velocity_km_s,
        flags=found.flags,
        skipped=skipped,
    )


def _direction_deg(found: Found, lon: Floats, lat: Floats) -> Floats:
    """Position angle of the motion at closest approach, north through east."""
    north, east = compass(lon, lat)
    angle = np.arctan2(
        vectors.dot(found.motion, east), vectors.dot(found.motion, north)
    )
    return np.degrees(angle) % 360.0


def _over_site(
    found: Found, site: Site, start: datetime
) -> tuple[Floats, Floats, Floats]:
    """Geometric altitude and azimuth (rad) and range (km) at closest approach."""
    time_s = np.ascontiguousarray(found.when[:, 2])
    away = found.position_km - sky.site_teme_km(site, start, time_s)
    turned = vectors.rotate_z(away, -sky.gmst_rad(start, time_s))
    local = vectors.apply(sky.site_axes(site), turned)
    level = np.hypot(local[:, 0], local[:, 1])
    altitude = np.arctan2(local[:, 2], level)
    return altitude, np.arctan2(local[:, 0], local[:, 1]), vectors.norm(away)
