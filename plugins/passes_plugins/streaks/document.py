"""The answers as JSON and CSV have them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from math import isfinite
from typing import Any

from passes.model import Crossing, FieldPoint, Note, Site, Span
from passes_plugins.streaks.assessing import Assessment, Judged
from passes_plugins.streaks.marks import Mark
from passes_plugins.streaks.remarks import STACKING
from passes_plugins.streaks.summing import Hour, Residue, Shadow, Summary

Document = dict[str, Any]


def number(value: float, digits: int) -> float | None:
    """A number to some decimals; None where it is unknown."""
    return round(float(value), digits) if isfinite(value) else None


def iso(time: datetime) -> str:
    """A time as files hold it."""
    return time.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def document(assessment: Assessment, summary: Summary, demo: bool) -> Document:
    """Everything about a session."""
    return {
        "site": site_document(assessment.site),
        "window": span_document(assessment.window),
        "searched": searched_document(assessment),
        "demo": demo,
        "subs": [sub_document(one) for one in assessment.judged],
        "summary": summary_document(assessment, summary),
        "notes": [note_document(note) for note in assessment.notes],
    }


def site_document(site: Site) -> Document:
    """A site."""
    return {
        "name": site.name,
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "height_m": site.height_m,
    }


def span_document(span: Span | None) -> Document | None:
    """A span of time."""
    return {"start": iso(span.start), "end": iso(span.end)} if span else None


def note_document(note: Note) -> Document:
    """A remark."""
    return {"text": note.text, "severity": note.severity, "values": dict(note.values)}


def searched_document(assessment: Assessment) -> Document:
    """What was searched."""
    searched = assessment.searched
    return {
        "objects": searched.objects,
        "classes": dict(searched.classes or {}),
        "skipped": [
            {"catalog_number": number, "name": name, "reason": reason}
            for number, name, reason in searched.skipped
        ],
    }


def sub_document(one: Judged) -> Document:
    """One sub and what crosses it."""
    sub = one.sub
    return {
        "index": sub.index,
        "path": sub.path,
        "start": iso(sub.start),
        "end": iso(sub.end),
        "target": sub.target.name,
        "filter": sub.filter or None,
        "verdict": one.verdict,
        "chance_marked": number(one.chance_marked, 4),
        "percent_touched": number(one.percent, 3),
        "crossings": [mark_document(mark) for mark in one.marks],
    }


def mark_document(mark: Mark) -> Document:
    """One crossing as it stands in one sub."""
    crossing = mark.crossing
    return {
        "catalog_number": crossing.catalog_number,
        "name": crossing.name,
        "object_class": crossing.object_class,
        "entry": _point(crossing.entry),
        "exit": _point(crossing.exit),
        **_geometry(crossing),
        **_brightness(crossing),
        "timing_sigma_s": number(crossing.timing_sigma_s, 3),
        "timing_bound_s": number(crossing.timing_bound_s, 3),
        "cross_track_sigma_km": number(crossing.cross_track_sigma_km, 3),
        "element_age_days": number(crossing.element_age_days, 3),
        "chance": number(mark.chance, 4),
        "here": mark.here,
        "verdict": mark.verdict,
        "trail_length_px": number(mark.length_px, 1),
        "trail_width_arcsec": number(mark.width_arcsec, 2),
        "effective_magnitude": number(mark.effective_magnitude, 2),
        "trail_mag_arcsec2": number(mark.surface_mag_arcsec2, 2),
        "signal_to_noise": number(mark.signal_to_noise, 2),
        "saturated": mark.saturated,
        "percent_touched": number(mark.percent, 3),
        "flags": list(crossing.flags),
    }


def _geometry(crossing: Crossing) -> Document:
    return {
        "closest_deg": number(crossing.closest_deg, 4),
        "angular_rate_deg_s": number(crossing.angular_rate_deg_s, 5),
        "position_angle_deg": number(crossing.position_angle_deg, 2),
        "range_km": number(crossing.range_km, 1),
        "altitude_deg": number(crossing.altitude_deg, 2),
        "azimuth_deg": number(crossing.azimuth_deg, 2),
        "sunlit": crossing.sunlit,
        "lit_fraction": number(crossing.lit_fraction, 3),
    }


def _brightness(crossing: Crossing) -> Document:
    return {
        "magnitude": number(crossing.magnitude, 2),
        "magnitude_above_atmosphere": number(crossing.magnitude_above_atmosphere, 2),
        "magnitude_sigma": number(crossing.magnitude_sigma, 2),
        "magnitude_basis": crossing.magnitude_basis,
    }


def _point(point: FieldPoint) -> Document:
    return {
        "time": iso(point.time),
        "ra_deg": number(point.ra_deg, 5),
        "dec_deg": number(point.dec_deg, 5),
        "x_px": number(point.x_px, 1),
        "y_px": number(point.y_px, 1),
    }


def summary_document(assessment: Assessment, summary: Summary) -> Document:
    """The figures of the session, and the limits behind the verdicts."""
    choices = assessment.choices
    return {
        "subs": len(assessment.judged),
        "verdicts": dict(summary.verdicts),
        "crossings": summary.crossings,
        "sunlit_crossings": summary.lit,
        "percent_of_pixels_lost": number(summary.percent_lost, 4),
        "exposure_s": number(summary.exposure_s, 3),
        "exposure_lost_s": number(summary.exposure_lost_s, 3),
        "exposure_below_horizon_s": number(summary.exposure_down_s, 3),
        "residues": [_residue(one) for one in summary.residues],
        "hours": [_hour(one) for one in summary.hours],
        "worst": [_worst(judged, mark) for judged, mark in summary.worst],
        "shadow": [_shadow(one) for one in summary.shadows],
        "thresholds": {
            "clean_below": choices.clean_below,
            "removable_from": choices.removable_from,
            "least_subs": choices.least_subs,
            "spoiled_percent": choices.spoiled_percent,
        },
        "stacking": STACKING,
    }


def _residue(one: Residue) -> Document:
    return {
        "target": one.target,
        "filter": one.filter or None,
        "subs": one.subs,
        "faint_trails": one.trails,
        "peak_signal_to_noise": number(one.peak, 3),
    }


def _hour(one: Hour) -> Document:
    return {
        "start": iso(one.start),
        "hours": number(one.hours, 3),
        "crossings": one.crossings,
        "sunlit": one.lit,
        "sunlit_per_hour": number(one.lit_per_hour, 2),
    }


def _worst(judged: Judged, mark: Mark) -> Document:
    return {
        "sub": judged.sub.index,
        "catalog_number": mark.crossing.catalog_number,
        "name": mark.crossing.name,
        "magnitude": number(mark.crossing.magnitude, 2),
        "signal_to_noise": number(mark.signal_to_noise, 2),
        "verdict": mark.verdict,
    }


def _shadow(one: Shadow) -> Document:
    return {
        "target": one.target,
        "height_km": one.height_km,
        "spans": [span_document(span) for span in one.spans],
    }


#: The heading of a CSV, also where it lists nothing.
_SUB = ("index", "path", "start", "end", "target", "filter", "verdict")
_MARK = tuple(
    name
    for name in (
        *("catalog_number", "name", "object_class", "closest_deg"),
        *("angular_rate_deg_s", "position_angle_deg", "range_km", "altitude_deg"),
        *("azimuth_deg", "sunlit", "lit_fraction", "magnitude", "magnitude_sigma"),
        *("magnitude_basis", "timing_sigma_s", "timing_bound_s"),
        *("cross_track_sigma_km", "element_age_days", "chance", "here"),
        *("trail_length_px", "trail_width_arcsec", "effective_magnitude"),
        *("trail_mag_arcsec2", "signal_to_noise", "saturated", "percent_touched"),
    )
)
_POINT = ("time", "ra_deg", "dec_deg", "x_px", "y_px")
CSV_COLUMNS = (
    *(f"sub_{name}" for name in _SUB),
    "sub_chance_marked",
    *(f"{end}_{name}" for end in ("entry", "exit") for name in _POINT),
    *_MARK,
    "verdict",
    "flags",
)


def records(assessment: Assessment) -> Iterator[Document]:
    """One row a crossing and sub; a sub that nothing crosses has a row of its own."""
    for one in assessment.judged:
        sub = sub_document(one)
        head = {f"sub_{name}": sub[name] for name in _SUB}
        head["sub_chance_marked"] = sub["chance_marked"]
        for mark in sub["crossings"] or [{}]:
            row = dict.fromkeys(CSV_COLUMNS)
            row.update(head)
            for end in ("entry", "exit"):
                row.update({f"{end}_{k}": v for k, v in mark.get(end, {}).items()})
            row.update({name: mark.get(name) for name in (*_MARK, "verdict")})
            row["flags"] = " ".join(mark.get("flags", ()))
            yield row
