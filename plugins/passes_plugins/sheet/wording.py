"""Everything on the page in words: facts, cards, rows, reports, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo
from math import isfinite
from typing import TYPE_CHECKING, Any

from passes.tables import (
    caveats,
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
    from passes.model import Passage
    from passes_plugins.sheet.records import Card, Sheet

Words = dict[str, Any]

#: Longer than this without the Sun going down, or up, is no night to be timed.
_WHOLE_DAY_S = 23 * 3600.0


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
    found.append(("Made", f"{day_of(sheet.made, local)} {clock(sheet.made, local)}"))
    return found


def _moon(sheet: Sheet, local: tzinfo) -> str:
    lit = sheet.night.moon_illuminated
    up = " and ".join(span(one, local) for one in sheet.night.moon_up)
    words = f"{100 * lit:.0f} % lit, " if isfinite(lit) else ""
    return words + (f"up {up}" if up else "below the horizon all night")


def day_of(time: datetime, local: tzinfo) -> str:
    """The local day of a time, in a few letters."""
    day = time.astimezone(local)
    return f"{day:%a} {day.day} {day:%b}"


# --- passes ------------------------------------------------------------------------


def row(passage: Passage, local: tzinfo) -> Words:
    """One pass in the list; seen from when to when, nothing of it left out."""
    from passes.model import Span

    best = passage.brightest
    moment = best or passage.culmination
    seen = passage.visible[0].start if passage.visible else passage.start
    gone = passage.visible[-1].end if passage.visible else passage.end
    top = passage.culmination
    return {
        "id": passage.id,
        "name": passage.name or str(passage.catalog_number),
        "seen": span(Span(start=seen, end=gone), local, outward=True),
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
        "flags": caveats(passage.flags),
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
