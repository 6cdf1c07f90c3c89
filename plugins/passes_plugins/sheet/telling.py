"""What reports and transits say, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import tzinfo
from math import isfinite
from typing import TYPE_CHECKING, Any

from passes.tables import clock, compass, seconds, step_s
from passes_plugins.sheet.wording import Words, day_of

if TYPE_CHECKING:
    from passes.model import Event, Note, Report

#: What a kind of report is called on the page; others go by their own word.
_TITLES = {"streak": "Streaks in the session", "placing": "Placing the subs"}
#: Kinds that are about subs, and say nothing where none are planned.
_OF_SUBS = {"streak", "placing"}
#: Kinds whose remarks tell what their summary holds.
_IN_WORDS = {"placing"}
#: Reports told elsewhere on the page.
_ELSEWHERE = {"twilight"}
_MOST_EVENTS = 24
#: A sentence in a summary is for machines to pass on, not for a small page.
_LONGEST_WORD = 60


def worth_a_section(one: Report) -> bool:
    """Whether a report says anything that is not said elsewhere."""
    if one.kind in _ELSEWHERE:
        return False
    if one.kind in _OF_SUBS and not one.rows and not one.events:
        return False
    return bool(one.events or one.summary or one.notes)


def report(one: Report, local: tzinfo) -> Words:
    """Any reporter's answer: its summary, its events, its remarks."""
    notes = [n.text for n in one.notes if n.severity == "info"]
    worded = one.kind in _IN_WORDS and notes
    return {
        "title": _TITLES.get(one.kind, one.kind.replace("_", " ").capitalize()),
        "summary": [] if worded else summary(one.summary),
        "events": [event_words(e, local) for e in one.events[:_MOST_EVENTS]],
        "more": max(0, len(one.events) - _MOST_EVENTS),
        "notes": notes,
    }


def summary(values: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What of a summary reads as one line each: numbers, words, counts."""
    found = []
    for name, value in values.items():
        if isinstance(value, Mapping):
            counts = [f"{v} {k}" for k, v in value.items() if isinstance(v, int) and v]
            text = ", ".join(counts)
        else:
            text = _scalar(name, value)
        if text:
            found.append((_label(name), text))
    return found


_UNITS = {"_s": " s", "_h": " h", "_deg": "°", "_km": " km", "_mag": " mag"}


def _label(name: str) -> str:
    for ending in _UNITS:
        name = name.removesuffix(ending)
    return name.replace("_", " ").capitalize()


def _scalar(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if len(value) <= _LONGEST_WORD else ""
    if not isinstance(value, int | float) or not isfinite(value):
        return ""
    unit = next((u for ending, u in _UNITS.items() if name.endswith(ending)), "")
    if unit == " s" and value >= 600.0:
        return f"{value / 3600.0:.2f} h"
    return (f"{value:,}" if isinstance(value, int) else f"{value:,.4g}") + unit


def event_words(event: Event, local: tzinfo) -> Words:
    said = [f"sub {event.details['sub']}"] if "sub" in event.details else []
    said += [str(event.details[k]) for k in ("verdict", "words") if k in event.details]
    if isfinite(event.magnitude):
        said.append(f"mag {event.magnitude:.1f}".replace("-", "−"))
    return {
        "time": clock(event.best, local, step_s(event.timing_sigma_s)),
        "subject": event.subject or str(event.catalog_number or event.kind),
        "said": ", ".join(said),
        "sigma": seconds(event.timing_sigma_s, 0.1),
    }


def transit(event: Event, local: tzinfo) -> Words:
    """One transit: when, of what, for how long, how far from the middle."""
    details = event.details
    body = str(details.get("body", "")).capitalize()
    said = [f"{event.details['duration_s']:.2f} s"] if "duration_s" in details else []
    if isinstance(details.get("altitude_deg"), int | float):
        where = compass(float(details.get("azimuth_deg", float("nan"))))
        said.append(f"{body} {details['altitude_deg']:.0f}° {where}")
    said.append(_from(details))
    return {
        "time": clock(event.best, local, step_s(event.timing_sigma_s)),
        "day": day_of(event.best, local),
        "title": f"{event.subject} in front of the {body}" if body else event.subject,
        "said": [one for one in said if one],
        "sigma": seconds(event.timing_sigma_s, 0.1),
        "bound": seconds(event.timing_bound_s, 0.1).lstrip("±"),
    }


def _from(details: Mapping[str, Any]) -> str:
    if details.get("from_site"):
        return "seen from the site"
    strip = details.get("strip")
    nearest = strip.get("nearest") if isinstance(strip, Mapping) else None
    distance = nearest.get("distance_km") if isinstance(nearest, Mapping) else None
    return f"{distance:.0f} km from the site" if isinstance(distance, float) else ""


def remarks(notes: Sequence[Note]) -> list[str]:
    """What is remarked that is no caution, each once."""
    return list(dict.fromkeys(n.text for n in notes if n.severity == "info"))
