"""Looking closely at what a plugin answered, and at what it was handed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime
from math import isinf
from typing import Any

from passes.contributions import ElementBatch
from passes.model import Advice, Event, Note, Pointing, Report

_SCALARS = (str, float, int, bool, type(None))


def fingerprint(value: Any) -> Any:
    """Something that differs when a record, or an array inside it, has changed."""
    if is_dataclass(value):
        return tuple(
            (field.name, fingerprint(getattr(value, field.name)))
            for field in fields(value)
            if field.name != "services"  # its answers are its own affair
        )
    if hasattr(value, "tobytes"):
        return (str(value.dtype), value.shape, value.flags.writeable, value.tobytes())
    if isinstance(value, Mapping):
        return tuple((repr(key), fingerprint(inner)) for key, inner in value.items())
    if isinstance(value, tuple | list):
        return tuple(fingerprint(inner) for inner in value)
    return repr(value)


def look(answer: Any) -> Iterator[str]:
    """What is wrong inside an answer whose type is right, one line each."""
    if isinstance(answer, Advice):
        yield from _look_at_advice(answer)
    elif isinstance(answer, Report):
        yield from _look_at_report(answer)
    elif isinstance(answer, ElementBatch):
        yield from _only(answer.notes, Note, "notes")
    elif isinstance(answer, str):
        yield from _look_at_text(answer)


def _look_at_advice(advice: Advice) -> Iterator[str]:
    for name in ("image_scale_arcsec_px", "exposure_s", "frame_rate_hz"):
        value = getattr(advice, name)
        if not isinstance(value, float | int) or isinf(value) or value < 0.0:
            yield f"{name} is {value!r}, want a number from 0 up, or nan"
    if advice.start and advice.stop and advice.stop < advice.start:
        yield f"stop ({advice.stop}) comes before start ({advice.start})"
    if advice.pointing is not None:
        yield from _only((advice.pointing,), Pointing, "pointing")
    yield from _look_at_notes(advice.notes)
    for i, row in enumerate(advice.table):
        for key, value in row.items():
            if not isinstance(value, _SCALARS):
                yield f"table[{i}][{key!r}] is {type(value).__name__}, want {_WANT}"
    yield from _not_plain(advice.settings, "settings")


def _look_at_report(report: Report) -> Iterator[str]:
    yield from _only(report.events, Event, "events")
    seen: set[str] = set()
    for event in (e for e in report.events if isinstance(e, Event)):
        if event.id in seen:
            yield f"two events have the id {event.id!r}"
        seen.add(event.id)
        if not event.start <= event.best <= event.end:
            yield f"event {event.id}: start, best and end are not in order"
        yield from _not_plain(event.details, f"event {event.id}: details")
    for i, row in enumerate(report.rows):
        yield from _not_plain(row, f"rows[{i}]")
    yield from _not_plain(report.summary, "summary")
    yield from _look_at_notes(report.notes)


def _look_at_notes(notes: tuple[Any, ...]) -> Iterator[str]:
    yield from _only(notes, Note, "notes")
    for note in (n for n in notes if isinstance(n, Note)):
        if not note.text.strip():
            yield "a note says nothing"
        if note.severity not in ("info", "caution", "warning"):
            yield f"a note's severity is {note.severity!r}"
        for key, value in note.values.items():
            if not isinstance(value, _SCALARS):
                yield f"note value {key!r} is {type(value).__name__}, want {_WANT}"


def _look_at_text(text: str) -> Iterator[str]:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        yield f"the text cannot be written as UTF-8: {error.reason}"


_WANT = "str, float, int, bool or None"


def _only(items: tuple[Any, ...], kind: type, where: str) -> Iterator[str]:
    for i, item in enumerate(items):
        if not isinstance(item, kind):
            yield f"{where}[{i}] is {type(item).__name__}, want {kind.__name__}"


def _not_plain(value: Any, where: str) -> Iterator[str]:
    """Whatever inside has no JSON shape (times have one)."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if not isinstance(key, str):
                yield f"{where}: the key {key!r} is not a str"
            yield from _not_plain(inner, f"{where}[{key!r}]")
    elif isinstance(value, tuple | list):
        for i, inner in enumerate(value):
            yield from _not_plain(inner, f"{where}[{i}]")
    elif not isinstance(value, (*_SCALARS, datetime)):
        yield f"{where} is {type(value).__name__}, which has no JSON shape"
