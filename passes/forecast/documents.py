"""The JSON shape of many passes, made column by column (fast on a whole catalogue)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.finder import Points
from passes.forecast.peaks import Peaks
from passes.forecast.ragged import Spans
from passes.model import Flags

if TYPE_CHECKING:
    from passes.forecast.passages import Passages

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Document = dict[str, Any]

#: Decimals of each quantity in JSON, by the end of its name.
_DECIMALS = {
    "_deg": 4,
    "_km": 3,
    "_s": 3,
    "_deg_s": 5,
    "magnitude": 2,
    "_atmosphere": 2,
    "magnitude_sigma": 2,
    "_days": 3,
}


def iso_times(start: datetime, time_s: Floats) -> list[str | None]:
    """UTC times as ISO 8601 with milliseconds and ``Z``; None where nan."""
    known = ~np.isnan(time_s)
    stamp = np.datetime64(start.replace(tzinfo=None), "us")
    since = np.round(np.where(known, time_s, 0.0) * 1e3).astype("timedelta64[ms]")
    words = np.datetime_as_string((stamp + since).astype("datetime64[ms]"), unit="ms")
    return [
        f"{word}Z" if there else None
        for word, there in zip(words.tolist(), known.tolist(), strict=True)
    ]


def numbers(values: Floats, name: str) -> list[float | None]:
    """Numbers rounded to what their unit deserves; None where not finite."""
    ending = max((e for e in _DECIMALS if name.endswith(e)), key=len)
    finite = np.isfinite(values)
    rounded = np.round(np.where(finite, values, 0.0), _DECIMALS[ending]).tolist()
    if finite.all():
        return list(rounded)
    return [v if f else None for v, f in zip(rounded, finite.tolist(), strict=True)]


def _records(columns: dict[str, list[Any]]) -> list[Document | None]:
    """Columns turned into rows; None where the first column is None."""
    names = tuple(columns)
    return [
        dict(zip(names, row, strict=True)) if row[0] is not None else None
        for row in zip(*columns.values(), strict=True)
    ]


def _points(start: datetime, points: Points, chosen: Ints) -> list[Document | None]:
    columns: dict[str, list[Any]] = {"time": iso_times(start, points.time_s[chosen])}
    for name in ("altitude_deg", "azimuth_deg", "range_km"):
        columns[name] = numbers(getattr(points, name)[chosen], name)
    return _records(columns)


def _peaks(
    start: datetime, peaks: Peaks, basis: list[str], chosen: Ints
) -> list[Document | None]:
    columns: dict[str, list[Any]] = {"time": iso_times(start, peaks.time_s[chosen])}
    for name in ("altitude_deg", "azimuth_deg", "range_km", "magnitude"):
        columns[name] = numbers(getattr(peaks, name)[chosen], name)
    for name in ("magnitude_above_atmosphere", "magnitude_sigma"):
        columns[name] = numbers(getattr(peaks, name)[chosen], name)
    columns["magnitude_basis"] = basis
    for name in ("phase_angle_deg", "angular_rate_deg_s"):
        columns[name] = numbers(getattr(peaks, name)[chosen], name)
    return _records(columns)


def _spans(start: datetime, spans: Spans, chosen: Ints, n: int) -> list[list[Document]]:
    begin = spans.per(n)
    ends = iso_times(start, spans.end_s)
    pairs = [
        {"start": one, "end": other}
        for one, other in zip(iso_times(start, spans.start_s), ends, strict=True)
    ]
    low, high = begin[chosen].tolist(), begin[chosen + 1].tolist()
    return [pairs[a:b] for a, b in zip(low, high, strict=True)]


def _further(passages: Passages) -> Iterator[list[Document | None]]:
    table = passages.table
    every = np.arange(table.further_of.size)
    moments = _points(table.start, table.further, every)
    low = np.searchsorted(table.further_of, passages.chosen).tolist()
    high = np.searchsorted(table.further_of, passages.chosen, side="right").tolist()
    return (moments[a:b] for a, b in zip(low, high, strict=True))


def pass_documents(passages: Passages) -> list[Document]:
    """Every chosen pass as a JSON object, keys in their documented order."""
    table, light, chosen = passages.table, passages.light, passages.chosen
    start, n = table.start, len(table)
    fact_of = passages.fact_of[chosen].tolist()
    facts = [light.facts[i] for i in fact_of]
    basis = [light.basis[i] for i in fact_of]
    words = {
        bits: list(Flags(bits).names) for bits in np.unique(passages.flags).tolist()
    }
    ids = passages.ids
    uncertainty = passages.uncertainty
    columns: dict[str, Any] = {
        "id": (ids[i] for i in chosen.tolist()),
        "catalog_number": (fact.catalog_number for fact in facts),
        "name": (fact.name for fact in facts),
        "designator": (fact.designator for fact in facts),
        "object_class": (fact.object_class for fact in facts),
        "rise": _points(start, table.rise, chosen),
        "culmination": _points(start, table.culmination, chosen),
        "further_culminations": _further(passages),
        "set": _points(start, table.set, chosen),
        "brightest": _peaks(start, light.brightest, basis, chosen),
        "sunlit": _spans(start, light.sunlit, chosen, n),
        "clear": _spans(start, light.clear, chosen, n),
        "visible": _spans(start, light.visible, chosen, n),
    }
    for name, values in (
        ("sun_altitude_deg", light.sun_altitude_deg),
        ("moon_separation_deg", light.moon_separation_deg),
        ("timing_sigma_s", uncertainty.timing_sigma_s),
        ("timing_bound_s", uncertainty.timing_bound_s),
        ("cross_track_sigma_km", uncertainty.cross_track_sigma_km),
        ("element_age_days", passages.age_days),
    ):
        columns[name] = numbers(values[chosen], name)
    columns["flags"] = (words[bits] for bits in passages.flags[chosen].tolist())
    keys = tuple(columns)
    return [
        dict(zip(keys, row, strict=True)) for row in zip(*columns.values(), strict=True)
    ]
