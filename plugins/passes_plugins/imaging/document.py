"""The answers as JSON and CSV have them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from datetime import datetime
from typing import TYPE_CHECKING, Any

from passes_plugins.imaging.values import angle, iso, number

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Advice, Passage, Pointing, Site, Span
    from passes_plugins.imaging.ranking import Ranked, Ranking
    from passes_plugins.imaging.together import Shared

Document = dict[str, Any]


def document(
    services: Services,
    passage: Passage,
    advice: Sequence[Advice],
    joined: Sequence[Shared],
) -> Document:
    """Everything about one pass and some rigs."""
    return {
        "site": _site(services.site),
        "window": _span(services.window),
        "demo": services.demo,
        "pass": {
            "id": passage.id,
            "catalog_number": passage.catalog_number,
            "name": passage.name,
            "start": iso(passage.start),
            "end": iso(passage.end),
        },
        "advice": [advice_document(one) for one in advice],
        "together": [_shared(one) for one in joined],
    }


def _shared(one: Shared) -> Document:
    return {
        "rig": one.rig,
        "main": one.main,
        "offset_arcmin": [number(one.right_arcmin), number(one.up_arcmin)],
        "in_field": one.in_field,
        "chance": number(one.chance, 2),
        "conflict": one.conflict or None,
    }


def advice_document(advice: Advice) -> Document:
    """One advice; unknown is null."""
    return {
        "rig": advice.rig,
        "subject": advice.subject,
        "adviser": advice.adviser,
        "image_scale_arcsec_px": number(advice.image_scale_arcsec_px),
        "exposure_s": number(advice.exposure_s, 8),
        "frame_rate_hz": number(advice.frame_rate_hz),
        "region_px": list(advice.region_px) if advice.region_px else None,
        "gain": advice.gain or None,
        "limit": advice.limit or None,
        "start": iso(advice.start),
        "stop": iso(advice.stop),
        "pointing": _pointing(advice.pointing),
        "notes": [
            {"text": n.text, "severity": n.severity, "values": _plain(n.values)}
            for n in advice.notes
        ],
        "table": [_plain(row) for row in advice.table],
        "settings": _plain(advice.settings),
    }


def _plain(value: Any) -> Any:
    """Read-only mappings and sequences as plain ones, times as text."""
    if isinstance(value, datetime):
        return iso(value)
    if hasattr(value, "items"):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


def _pointing(pointing: Pointing | None) -> Document | None:
    if pointing is None:
        return None
    made: Document = {"time": iso(pointing.time)}
    for field in fields(pointing):
        if field.name != "time":
            made[field.name] = angle(getattr(pointing, field.name))
    return made


def _site(site: Site) -> Document:
    return {
        "name": site.name,
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "height_m": site.height_m,
        "zone": site.zone,
    }


def _span(span: Span) -> Document:
    return {"start": iso(span.start), "end": iso(span.end)}


def records(advice: Sequence[Advice]) -> Iterator[Document]:
    """The rows along the pass, each with its rig."""
    for one in advice:
        for row in one.table:
            yield {"rig": one.rig, **row}


# --- the best of a week ------------------------------------------------------


def best_document(services: Services, ranking: Ranking) -> Document:
    """The ranking of a week."""
    return {
        "site": _site(services.site),
        "window": _span(ranking.window),
        "demo": services.demo,
        "searched": {"objects": ranking.searched, "passes": ranking.passes},
        "min_altitude_deg": ranking.lowest_deg,
        "best": list(best_records(ranking)),
    }


def best_records(ranking: Ranking) -> Iterator[Document]:
    """The ranked passes, one a row."""
    for place, one in enumerate(ranking.rows, 1):
        yield {"rank": place, **_best(one)}


def _best(one: Ranked) -> Document:
    passage, moment = one.passage, one.moment
    return {
        "id": passage.id,
        "rig": one.rig,
        "catalog_number": passage.catalog_number,
        "name": passage.name,
        "time": iso(one.time),
        "time_step_s": one.step_s,
        "altitude_deg": angle(moment.altitude_deg),
        "azimuth_deg": angle(moment.azimuth_deg),
        "range_km": number(moment.range_km),
        "size_arcsec": number(one.size_arcsec, 3),
        "size_px": number(one.size_px, 3),
        "resolved_elements": number(one.elements, 3),
        "magnitude": number(one.magnitude, 3),
        "sun_altitude_deg": number(passage.sun_altitude_deg, 3),
        "timing_sigma_s": number(passage.timing_sigma_s, 3),
        "timing_bound_s": number(passage.timing_bound_s, 3),
        "element_age_days": number(passage.element_age_days, 3),
        "reasons": "; ".join(one.reasons),
    }
