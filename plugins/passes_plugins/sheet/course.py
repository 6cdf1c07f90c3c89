"""What happens when, what to see to before, and what to take care of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

from passes.tables import clock, step_s
from passes_plugins.sheet import telling, wording
from passes_plugins.sheet.steps import entries

if TYPE_CHECKING:
    from passes_plugins.sheet.records import Sheet

#: When, what, and how in lines.
Happening = tuple[datetime, str, list[str]]


def order(sheet: Sheet, local: tzinfo) -> list[dict[str, Any]]:
    """What happens when: the schedule's steps, else every event in order of time."""
    if sheet.schedule:
        return entries(sheet.schedule, local)
    found = [*_passes(sheet, local), *_events(sheet, local), *_subs(sheet)]
    return [
        {"time": clock(when, local, step_s(1.0)), "what": what, "how": how}
        for when, what, how in sorted(found)
    ]


def order_notes(sheet: Sheet) -> list[str]:
    """Where the order is from, and what was left out of it."""
    if sheet.schedule_given:
        return ["From the schedule that was given."]
    if sheet.schedule:
        first = (
            "As passes schedule makes it with its usual choices: recordings are "
            "widened by the 95 % bound of their times. The capture script needs its "
            "own file."
        )
        told = [n.text for n in sheet.schedule_notes if n.severity != "warning"]
        return [first, *dict.fromkeys(told)]
    return [
        "No schedule: what was found, as it happens, with no time to prepare and with "
        "no regard to which rig can do what."
    ]


def _passes(sheet: Sheet, local: tzinfo) -> Iterator[Happening]:
    for passage in sheet.passages:
        start = passage.visible[0].start if passage.visible else passage.start
        words = wording.row(passage, local)
        how = f"mag {words['magnitude']}, best {words['best']}, {words['where']}"
        yield start, words["name"], [how]


def _events(sheet: Sheet, local: tzinfo) -> Iterator[Happening]:
    for one in sheet.reports:
        for event in one.events:
            if "words" in event.details:
                yield event.start, str(event.details["words"]), []
                continue
            said = telling.event_words(event, local)["said"]
            yield event.start, event.subject, [f"{one.kind}; {said}".rstrip("; ")]


def _subs(sheet: Sheet) -> Iterator[Happening]:
    if not sheet.subs:
        return
    last = max(sub.end for sub in sheet.subs)
    first, final = sheet.subs[0], sheet.subs[-1]
    yield first.start, f"first of {len(sheet.subs)} subs", [first.target.name]
    yield last, "last sub ends", [final.target.name]


def checklist(sheet: Sheet) -> list[str]:
    """What to see to before it is dark, the advisers' own points among it."""
    points = [
        "Elements fetched today, and this page made again after that",
        "Clock of every computer and camera set within 0.1 s",
        "Position and height of the site right; horizon as it really stands",
        "Batteries full, cards empty, cables and heaters tried",
        "Platform level and steady; nobody leaning on it while recording",
        "Focus on a star, then locked",
        "Dark adaptation: screens dim and red",
    ]
    if any(event.details.get("body") == "sun" for event in sheet.transits):
        points.insert(
            0, "Full-aperture solar filters packed, for every telescope and finder"
        )
    for one in sheet.cards:
        for advice in one.advice:
            points += [
                n.text for n in advice.notes if n.values.get("section") == "before"
            ]
    return alike_once(points)


def cautions(sheet: Sheet) -> list[str]:
    """Every warning that anyone gave, and what always holds."""
    notes = [*sheet.transit_notes, *(n for r in sheet.reports for n in r.notes)]
    notes += [n for n in sheet.schedule_notes if n.severity == "warning"]
    notes += [n for c in sheet.cards for a in c.advice for n in a.notes]
    given = [n.text for n in notes if n.severity != "info"]
    always = [
        "Never point any optic at or near the Sun without a certified full-aperture "
        "filter; cover everything while slewing.",
        "A mount that slews is stronger than a hand: people and cables clear of it.",
        "Drive rested and slowly at night; stop only where it is allowed and safe.",
        # the advisers' own words, so that they stand there once
        "On a vehicle: parked off the road, braked, jacked, nobody aboard. No laser "
        "pointer: aircraft. Local rules and licensed practice come first.",
    ]
    return alike_once((*given, *always))


def alike_once(texts: Iterable[str]) -> list[str]:
    """Each text once, in order; texts that differ in figures only count as one."""
    kept: dict[str, str] = {}
    for text in texts:
        kept.setdefault(re.sub(r"[\d.,]+", "#", text), text)
    return list(kept.values())
