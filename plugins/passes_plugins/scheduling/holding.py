"""Holding a session's exposures while something bright crosses their field.

Where the subs were placed, the placing's waits are the holds: what it did not wait for
is not worth a wait.  Elsewhere each crossing that would spoil an exposure is held for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from passes.model import Event, Note, Step
from passes_plugins.scheduling.jobs import AVOIDED, PLACING, SUB, Job, bound_s, to_ms
from passes_plugins.scheduling.leads import Leads

#: Room around a crossing for a shutter to close and open, s (common practice).
_ROOM_S = 2.0
_Held = tuple[datetime, datetime, Event]


def steps(
    events: Sequence[Event], jobs: Sequence[Job], leads: Leads
) -> tuple[list[Step], list[Note]]:
    """``hold`` and ``resume`` of each rig that exposes subs, and what is not held for.

    Crossings that stacking removes are not held for; those that follow each other
    closely share one hold.
    """
    subs: dict[str, list[Job]] = defaultdict(list)
    for job in jobs:
        if job.event.kind == SUB:
            subs[job.rig].append(job)
    found: list[Step] = []
    spared: set[str] = set()
    for rig, mine in subs.items():
        if any(job.event.details.get("placed") for job in mine):
            found += _between(events, rig, mine)
            continue
        avoided = [one for one in events if one.kind in AVOIDED and _is_for(one, rig)]
        bad = [one for one in avoided if _spoils(one)]
        spared |= {one.id for one in avoided if not _spoils(one)}
        for start, end, event in _merged(_held(bad, mine, leads)):
            found += _pair(event, rig, start, end)
    return found, [_spared(len(spared))] if spared else []


def _is_for(event: Event, rig: str) -> bool:
    return event.details.get("rig", rig) in (rig, "")


def _spoils(event: Event) -> bool:
    return bool(event.details.get("verdict", "spoiled") == "spoiled")


def _spared(count: int) -> Note:
    return Note(
        text=f"{count} crossing{'s' * (count > 1)} that stacking removes: no hold for "
        f"{'them' if count > 1 else 'it'}.",
        values={"not_held": count},
    )


# --- placed subs -------------------------------------------------------------------


def _between(events: Sequence[Event], rig: str, subs: Sequence[Job]) -> Iterator[Step]:
    """The placing's waits, as far as their subs are exposed and the rig waits."""
    opens = {job.start for job in subs}
    for event in events:
        if event.kind != PLACING or not _is_for(event, rig):
            continue
        start, end = to_ms(event.start), to_ms(event.end)
        busy = any(job.start < end and start < job.stop for job in subs)
        if start < end and end in opens and not busy:
            yield from _pair(event, rig, start, end)


# --- subs as planned ---------------------------------------------------------------


def _held(events: Sequence[Event], subs: Sequence[Job], leads: Leads) -> list[_Held]:
    """Crossings that touch an exposure, with their bound and some room."""
    found = []
    for event in events:
        room = timedelta(seconds=_ROOM_S + bound_s(event, leads))
        start, end = event.start - room, event.end + room
        if any(job.start < end and start < job.stop for job in subs):
            found.append((to_ms(start), to_ms(end), event))
    return sorted(found, key=lambda one: (one[0], one[2].id))


def _merged(held: Sequence[_Held]) -> list[_Held]:
    merged: list[_Held] = []
    for start, end, event in held:
        if merged and start <= merged[-1][1]:
            first = merged[-1]
            merged[-1] = (first[0], max(first[1], end), first[2])
        else:
            merged.append((start, end, event))
    return merged


# --- steps -------------------------------------------------------------------------


def _pair(event: Event, rig: str, start: datetime, end: datetime) -> Iterator[Step]:
    whole = f"{event.id}/{rig}" if rig else event.id
    advice: dict[str, Any] = {"kind": event.kind}
    if event.details.get("for"):
        advice["for"] = str(event.details["for"])
    for word, time in (("hold", start), ("resume", end)):
        yield Step(
            id=f"{whole}/{word}",
            event=word,  # type: ignore[arg-type]
            time=time,
            subject=event.subject,
            catalog_number=event.catalog_number,
            rig=rig,
            advice=advice,
        )
