"""Holding a session's exposures while something bright crosses their field."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta

from passes.model import Event, Note, Step
from passes_plugins.scheduling.jobs import AVOIDED, SUB, Job, bound_s
from passes_plugins.scheduling.leads import Leads

#: Room around a crossing for a shutter to close and open, s (common practice).
_ROOM_S = 2.0
_Held = tuple[datetime, datetime, Event]


def steps(
    events: Sequence[Event], jobs: Sequence[Job], leads: Leads
) -> tuple[list[Step], list[Note]]:
    """``hold`` and ``resume`` around crossings that would spoil an exposure.

    Crossings that stacking removes are not held for; those that follow each other
    closely share one hold.
    """
    subs: dict[str, list[Job]] = defaultdict(list)
    for job in jobs:
        if job.event.kind == SUB:
            subs[job.rig].append(job)
    avoided = [event for event in events if event.kind in AVOIDED]
    bad = [
        event
        for event in avoided
        if event.details.get("verdict", "spoiled") == "spoiled"
    ]
    found = []
    for rig, mine in subs.items():
        for start, end, event in _merged(_held(bad, rig, mine, leads)):
            found += [
                _step(event, rig, "hold", start),
                _step(event, rig, "resume", end),
            ]
    spared = len(avoided) - len(bad)
    return found, [_spared(spared)] if spared and subs else []


def _spared(count: int) -> Note:
    return Note(
        text=f"{count} crossing{'s' * (count > 1)} that stacking removes: no hold for "
        f"{'them' if count > 1 else 'it'}.",
        values={"not_held": count},
    )


def _held(
    events: Sequence[Event], rig: str, subs: Sequence[Job], leads: Leads
) -> list[_Held]:
    """Crossings that touch an exposure, with their bound and some room."""
    found = []
    for event in events:
        if event.details.get("rig", rig) not in (rig, ""):
            continue
        room = timedelta(seconds=_ROOM_S + bound_s(event, leads))
        start, end = event.start - room, event.end + room
        if any(job.start < end and start < job.stop for job in subs):
            found.append((_to_ms(start), _to_ms(end), event))
    return sorted(found, key=lambda one: (one[0], one[2].id))


def _to_ms(time: datetime) -> datetime:
    return time.replace(microsecond=time.microsecond // 1000 * 1000)


def _merged(held: Sequence[_Held]) -> list[_Held]:
    merged: list[_Held] = []
    for start, end, event in held:
        if merged and start <= merged[-1][1]:
            first = merged[-1]
            merged[-1] = (first[0], max(first[1], end), first[2])
        else:
            merged.append((start, end, event))
    return merged


def _step(event: Event, rig: str, word: str, time: datetime) -> Step:
    return Step(
        id=f"{event.id}/{rig}/{word}" if rig else f"{event.id}/{word}",
        event=word,  # type: ignore[arg-type]
        time=time,
        subject=event.subject,
        catalog_number=event.catalog_number,
        rig=rig,
    )
