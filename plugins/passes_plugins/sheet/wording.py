"""Everything on the page in words: facts, cards, rows, reports, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from math import isfinite
from typing import TYPE_CHECKING, Any

from passes.tables import (
    clock,
    compass,
    counted_classes,
    magnitude,
    number,
    offset,
    place,
    seconds,
    span,
    step_s,
    zone_of,
)
from passes_plugins.sheet.shooting import shooting

if TYPE_CHECKING:
    from passes.model import Event, Note, Passage, Report
    from passes_plugins.sheet.gathering import Card, Sheet

Words = dict[str, Any]

#: What a kind of report is called on the page; others go by their own word.
_TITLES = {"streak": "Streaks in the session", "placing": "Placing the subs"}
#: Kinds that are about subs, and say nothing where none are planned.
_OF_SUBS = {"streak", "placing"}
#: Kinds whose remarks tell what their summary holds.
_IN_WORDS = {"placing"}
#: Longer than this without the Sun going down, or up, is no night to be timed.
_WHOLE_DAY_S = 23 * 3600.0
#: Reports told elsewhere on the page.
_ELSEWHERE = {"twilight"}
_MOST_EVENTS = 24
#: A sentence in a summary is for machines to pass on, not for a small page.
_LONGEST_WORD = 60


def zone(sheet: Sheet) -> tzinfo:
    """The site's time zone."""
    return zone_of(sheet.site.zone)


def heading(sheet: Sheet) -> Words:
    """The title, and what is said under it."""
    date = sheet.night.date
    where = sheet.site.name or place(sheet.site)
    return {
        "title": f"Night of {date:%A} {date.day} {date:%B %Y}",
        "where": where,
    }


def times(sheet: Sheet, local: tzinfo) -> str:
    """How times are meant."""
    shift = offset(sheet.window.start, local)
    named = (
        sheet.site.zone if sheet.site.zone == shift else f"{sheet.site.zone} ({shift})"
    )
    later = offset(sheet.window.end, local)
    change = f", later {later}: the clocks change" if later != shift else ""
    return (
        f"Times are {named}{change}; ± is one sigma. Predictions are as good as "
        "their elements: get fresh ones as late as you can."
    )


def lights(sheet: Sheet) -> list[tuple[str, str]]:
    """Darkness, the Sun, the Moon."""
    local, night = zone(sheet), sheet.night
    dark = span(night.dark, local) if night.dark else "no full darkness"
    found = [("Dark", f"{dark}. {night.note}".rstrip(". "))]
    if night.window.duration_s < _WHOLE_DAY_S:
        found.append(("Sun down", span(night.window, local)))
    return [*found, ("Moon", _moon(sheet, local))]


def order_title(sheet: Sheet) -> str:
    """What the section is called that tells what happens when."""
    return "Schedule" if sheet.schedule else "In order of time"


def contents(
    sheet: Sheet, reports: Sequence[Words], order: Sequence[Words]
) -> list[tuple[str, str]]:
    """The sections of the page, by their ids, as far as they are there."""
    found = [("best", "Best")] if sheet.cards else []
    found += [("passes", "Passes"), *((one["id"], one["title"]) for one in reports)]
    found += [("transits", "Transits")] if sheet.transit_days else []
    found += [("order", order_title(sheet))] if order else []
    return [*found, ("before", "Before it is dark"), ("care", "Take care")]


def facts(sheet: Sheet, local: tzinfo) -> list[tuple[str, str]]:
    """Site, darkness, Moon, elements."""
    found = [("Site", place(sheet.site)), *lights(sheet)]
    elements = sheet.elements
    if elements is not None:
        counted = counted_classes(elements.classes)
        left = f"; {elements.left_out} left out" if elements.left_out else ""
        classes = f": {counted}" if counted else ""
        found.append(("Objects", f"{elements.objects:,}{classes}{left}"))
        if isfinite(elements.median_age_days):
            found.append(
                (
                    "Elements",
                    f"{elements.median_age_days:.1f} days old (median), the oldest "
                    f"{elements.oldest_age_days:.1f}",
                )
            )
    found.append(("Made", f"{_day(sheet.made, local)} {clock(sheet.made, local)}"))
    return found


def _moon(sheet: Sheet, local: tzinfo) -> str:
    lit = sheet.night.moon_illuminated
    up = " and ".join(span(one, local) for one in sheet.night.moon_up)
    words = f"{100 * lit:.0f} % lit, " if isfinite(lit) else ""
    return words + (f"up {up}" if up else "below the horizon all night")


def _day(time: datetime, local: tzinfo) -> str:
    day = time.astimezone(local)
    return f"{day:%a} {day.day} {day:%b}"


# --- passes ------------------------------------------------------------------------


def row(passage: Passage, local: tzinfo) -> Words:
    """One pass in the list."""
    best = passage.brightest
    moment = best or passage.culmination
    seen = passage.visible[0].start if passage.visible else passage.start
    gone = passage.visible[-1].end if passage.visible else passage.end
    top = passage.culmination
    return {
        "id": passage.id,
        "name": passage.name or str(passage.catalog_number),
        "seen": f"{clock(seen, local)}–{clock(gone, local)}",
        "best": clock(moment.time, local, step_s(passage.timing_sigma_s))
        if moment
        else "–",
        "where": f"{moment.altitude_deg:.0f}° {compass(moment.azimuth_deg)}"
        if moment
        else "–",
        "top": number(top.altitude_deg, 0, "°") if top else "–",
        "magnitude": magnitude(best.magnitude, best.magnitude_sigma).replace("-", "−")
        if best
        else "unlit",
        "sigma": seconds(passage.timing_sigma_s, 0.1),
        "bound": seconds(passage.timing_bound_s, 0.1).lstrip("±"),
        "age": number(passage.element_age_days, 1, " d"),
        "unseen": not passage.visible,
    }


def cut(sheet: Sheet) -> Words:
    """How the list was cut to what it is, and the cards out of the list."""
    order = "how far above the eye's limit, how long and how high it is seen"
    listed, best = len(sheet.passages), len(sheet.cards)
    whole = f"The {listed} passes worth most (stations always)" if listed > 1 else ""
    return {
        "cards": f"The {best} worth most of the {listed} below, by {order}; "
        "shown in order of time."
        if best < listed
        else "",
        "list": f"{whole}, by {order}; listed in order of time." if whole else "",
    }


def card(one: Card, local: tzinfo) -> Words:
    """One of the best passes in large type, with the way it goes and its shooting."""
    passage = one.passage
    return {
        **row(passage, local),
        "way": _way(passage),
        "shooting": [shooting(advice, local) for advice in one.advice],
        "rate": number(
            passage.brightest.angular_rate_deg_s if passage.brightest else float("nan"),
            2,
            "°/s",
        ),
        "flags": [flag.replace("_", " ") for flag in passage.flags],
    }


def _way(passage: Passage) -> str:
    """Where it comes up, how high it gets, where it goes."""
    moments = (passage.rise, passage.culmination, passage.set)
    words = [
        f"{compass(m.azimuth_deg)} {m.altitude_deg:.0f}°"
        for m in moments
        if m is not None
    ]
    return " → ".join(words)


# --- reports -----------------------------------------------------------------------


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
        "day": _day(event.best, local),
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
