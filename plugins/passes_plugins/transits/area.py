"""An area to drive in, read from GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.errors import InputError

Floats = NDArray[np.float64]

_MAX_BYTES = 4 * 1024 * 1024
#: Objects within objects, deeper than any sensible file.
_DEEPEST = 16


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """Rings of polygons, each ``(n, 2)`` of longitude and latitude in degrees.

    Longitudes are within half a turn of ``middle_deg``, so that a ring over the date
    line is in one piece.
    """

    name: str
    middle_deg: float
    rings: tuple[Floats, ...]

    def holds(self, longitude_deg: Floats, latitude_deg: Floats) -> NDArray[np.bool_]:
        """Which places are inside, by counting the sides of all rings passed.

        A hole is a ring within a ring, so it counts out again.
        """
        x = unwrapped(longitude_deg, self.middle_deg)
        inside = np.zeros(x.shape, dtype=np.bool_)
        for ring in self.rings:
            for (x0, y0), (x1, y1) in pairwise(ring.tolist()):
                if y0 == y1:
                    continue
                between = (y0 > latitude_deg) != (y1 > latitude_deg)
                side = x0 + (latitude_deg - y0) * (x1 - x0) / (y1 - y0)
                inside ^= between & (x < side)
        return inside

    @property
    def corners(self) -> Floats:
        """All corners, ``(n, 2)``."""
        return np.concatenate(self.rings)


def unwrapped(longitude_deg: Any, middle_deg: float) -> Floats:
    """Longitudes within half a turn of a middle."""
    longitude = np.asarray(longitude_deg, dtype=np.float64)
    return np.asarray((longitude - middle_deg + 180.0) % 360.0 - 180.0 + middle_deg)


def read_area(path: Path, middle_deg: float) -> Area:
    """The polygons of a file; InputError says what is wrong with it, in one line."""
    try:
        with open(os.path.expanduser(path), "rb") as file:
            raw = file.read(_MAX_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from error
    if len(raw) > _MAX_BYTES:
        raise InputError(f"{path}: larger than 4 MiB, too much for an area")
    try:
        document = json.loads(raw.decode("utf-8-sig"))
    except RecursionError as error:
        raise InputError(f"{path}: nested too deeply") from error
    except ValueError as error:
        raise InputError(f"{path}: not GeoJSON ({error})"[:300]) from error
    rings = [
        _ring(ring, middle_deg, path)
        for polygon in _polygons(document, path)
        for ring in polygon
    ]
    if not rings:
        raise InputError(f"{path}: holds no polygon; an area is a Polygon (RFC 7946)")
    return Area(name=str(path), middle_deg=middle_deg, rings=tuple(rings))


def _polygons(what: Any, path: Path, depth: int = 0) -> list[Any]:
    """The coordinates of every polygon, however they are wrapped."""
    if not isinstance(what, dict) or depth > _DEEPEST:
        raise InputError(f"{path}: not GeoJSON (an object with a type is wanted)")
    kind = str(what.get("type"))
    inner = {"FeatureCollection": "features", "GeometryCollection": "geometries"}
    if kind in inner:
        parts = what.get(inner[kind])
        if not isinstance(parts, list):
            raise InputError(f"{path}: a {kind} without {inner[kind]}")
        return [one for part in parts for one in _polygons(part, path, depth + 1)]
    if kind == "Feature":
        geometry = what.get("geometry")
        return [] if geometry is None else _polygons(geometry, path, depth + 1)
    coordinates = what.get("coordinates")
    if kind in ("Polygon", "MultiPolygon") and isinstance(coordinates, list):
        polygons = [coordinates] if kind == "Polygon" else coordinates
        if all(isinstance(polygon, list) for polygon in polygons):
            return polygons
        raise InputError(f"{path}: a {kind} whose coordinates are no rings")
    if kind in ("Point", "MultiPoint", "LineString", "MultiLineString"):
        return []
    raise InputError(f"{path}: not GeoJSON (type {kind[:40]!r})")


def _ring(ring: Any, middle_deg: float, path: Path) -> Floats:
    try:
        points = np.array([[float(p[0]), float(p[1])] for p in ring])
    except (TypeError, ValueError, LookupError, OverflowError) as error:
        raise InputError(
            f"{path}: a ring must be a list of [longitude, latitude] pairs"
        ) from error
    closed = len(points) >= 4 and (points[0] == points[-1]).all()
    if not closed or not np.isfinite(points).all():
        raise InputError(
            f"{path}: a ring needs four places or more, the last the same as the first"
        )
    if (np.abs(points[:, 1]) > 90.0).any() or (np.abs(points[:, 0]) > 360.0).any():
        raise InputError(
            f"{path}: a ring leaves the Earth (longitude first, then latitude)"
        )
    points[:, 0] = unwrapped(points[:, 0], middle_deg)
    return points
