"""What happens when, what to see to before, and what to take care of."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

from passes.tables import clock, step_s
from passes_plugins.sheet.wording import event_words, row

if TYPE_CHECKING:
    from passes_plugins.sheet.gathering import Sheet


def order(sheet: Sheet, local: tzinfo) -> list[dict[str, Any]]:
    """What happens when: the schedule's steps, else every event in order of time."""
    if sheet.schedule:
        return [
            {
                "time": clock(s.time, local, 1.0),
                "what": f"{s.event} {s.subject}",
                "how": s.rig,
            }
            for s in sheet.schedule
        ]
    found: list[tuple[datetime, str, str]] = []
    for passage in sheet.passages:
        start = passage.visible[0].start if passage.visible else passage.start
        words = row(passage, local)
        how = f"mag {words['magnitude']}, best {words['best']}, {words['where']}"
        found.append((start, words["name"], how))
    for one in sheet.reports:
        for event in one.events:
            told = str(event.details.get("words") or event.subject)
            how = (
                ""
                if "words" in event.details
                else f"{one.kind}; {event_words(event, local)['said']}"
            )
            found.append((event.start, told, how))
    if sheet.subs:
        last = max(sub.end for sub in sheet.subs)
        found.append(
            (
                sheet.subs[0].start,
                f"first of {len(sheet.subs)} subs",
                sheet.subs[0].target.name,
            )
        )
        found.append((last, "last sub ends", sheet.subs[-1].target.name))
    return [
        {"time": clock(when, local, step_s(1.0)), "what": what, "how": how.rstrip("; ")}
        for when, what, how in sorted(found)
    ]


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
    if any(
        event.details.get("body") == "sun" for r in sheet.transits for event in r.events
    ):
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
    notes = [n for r in (*sheet.transits, *sheet.reports) for n in r.notes]
    notes += [n for c in sheet.cards for a in c.advice for n in a.notes]
    given = [n.text for n in notes if n.severity != "info"]
    always = [
        "Never point any optic at or near the Sun without a certified full-aperture "
        "filter; cover everything while slewing.",
        "A mount that slews is stronger than a hand: people and cables clear of it.",
        "Drive rested and slowly at night; stop only where it is allowed and safe. "
        "Local rules and licensed practice come first.",
    ]
    return alike_once((*given, *always))


def alike_once(texts: Iterable[str]) -> list[str]:
    """Each text once, in order; texts that differ in figures only count as one."""
    kept: dict[str, str] = {}
    for text in texts:
        kept.setdefault(re.sub(r"[\d.,]+", "#", text), text)
    return list(kept.values())
