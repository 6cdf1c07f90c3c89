"""The answer as JSON and CSV have it."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING, Any

from passes_plugins.transits.cautions import cautions, cautions_of
from passes_plugins.transits.finding import Transits, beyond
from passes_plugins.transits.telling import iso, known

if TYPE_CHECKING:
    from passes.model import Advice, Event, Pointing

Document = dict[str, Any]
#: What a row of CSV has of a transit; way-points have more columns.
_ROW = (
    "duration_s",
    "offset_radii",
    "chord_position_angle_deg",
    "entry_position_angle_deg",
    "exit_position_angle_deg",
    "lit_part_s",
    "size_arcsec",
    "angular_rate_deg_s",
    "appearance",
    "altitude_deg",
    "azimuth_deg",
    "range_km",
    "illuminated",
    "terminator",
    "from_site",
    "ground_shift_km",
)
COLUMNS = ("id", "body", "catalog_number", "name", "time", *_ROW)
_POINT = (
    "along_km",
    "latitude_deg",
    "longitude_deg",
    "height_m",
    "distance_km",
    "bearing_deg",
    "duration_s",
    "altitude_deg",
    "azimuth_deg",
)
POINT_COLUMNS = ("id", "body", "catalog_number", "name", "time", *_POINT)


def document(found: Transits) -> Document:
    """Everything; unknown is null."""
    site, wanted = found.site, found.wanted
    return {
        "site": {
            "name": site.name,
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "height_m": site.height_m,
            "zone": site.zone,
        },
        "window": {"start": iso(found.window.start), "end": iso(found.window.end)},
        "searched": {
            "objects": found.searched,
            "bodies": list(wanted.bodies),
            "min_altitude_deg": wanted.min_altitude_deg,
            "within_deg": known(wanted.within_deg),
            "reach_km": known(wanted.reach_km),
            "skipped": [
                {
                    "catalog_number": one.catalog_number,
                    "name": one.name,
                    "reason": one.reason,
                }
                for one in found.skipped
            ],
        },
        "outlook": [
            {
                "catalog_number": one.catalog_number,
                "name": one.name,
                "epoch": iso(one.epoch),
                "until": None if one.until is None else iso(one.until),
            }
            for one in found.outlooks
        ],
        "demo": found.demo,
        "cautions": list(cautions(wanted.bodies, found.events)),
        "notes": [note.text for note in found.notes],
        "transits": [transit(found, event) for event in found.events],
    }


def transit(found: Transits, event: Event) -> Document:
    """One event; its details are in JSON's shape already."""
    return {
        "id": event.id,
        "catalog_number": event.catalog_number,
        "name": event.subject,
        "time": iso(event.best),
        "start": iso(event.start),
        "end": iso(event.end),
        "timing_sigma_s": known(event.timing_sigma_s, 3),
        "timing_bound_s": known(event.timing_bound_s, 3),
        "beyond_outlook": beyond(event, found.outlooks),
        "pointing": _pointing(event.pointing),
        "magnitude": known(event.magnitude, 3),
        "flags": list(event.flags),
        **event.details,
        "advice": [_advice(one) for one in found.advice.get(event.id, ())],
    }


def _pointing(pointing: Pointing | None) -> Document | None:
    """Where the body stands: astrometric (ICRS) and of date."""
    if pointing is None:
        return None
    names = (
        *("azimuth", "altitude", "refracted_altitude"),
        *("ra_icrs", "dec_icrs", "ra_of_date", "dec_of_date"),
    )
    return {
        f"{name}_deg": round(float(getattr(pointing, f"{name}_deg")), 5)
        for name in names
    }


def _advice(one: Advice) -> Document:
    return {
        "rig": one.rig,
        "adviser": one.adviser,
        "exposure_s": known(one.exposure_s),
        "frame_rate_hz": known(one.frame_rate_hz),
        "gain": one.gain or None,
        "limit": one.limit or None,
        "start": iso(one.start) if one.start else None,
        "stop": iso(one.stop) if one.stop else None,
        "notes": [note.text for note in one.notes],
    }


def records(found: Transits) -> Iterator[Document]:
    """Rows of CSV: way-points where strips are asked for, else one a transit."""
    for event in found.events:
        head = {
            "id": event.id,
            "body": event.details["body"],
            "catalog_number": event.catalog_number,
            "name": event.subject,
        }
        caution = " ".join(cautions_of(event))
        if found.wanted.strips:
            for point in _points(event):
                own = {key: point.get(key) for key in _POINT}
                yield {**head, "time": point["time"], **own, "caution": caution}
        else:
            own = {key: event.details.get(key) for key in _ROW}
            errors = {
                "timing_sigma_s": _finite(event.timing_sigma_s),
                "timing_bound_s": _finite(event.timing_bound_s),
            }
            time = {"time": iso(event.best)}
            yield {**head, **time, **own, **errors, "caution": caution}


def _points(event: Event) -> list[Document]:
    strip = event.details.get("strip")
    return list(strip["way_points"]) if strip else []


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
