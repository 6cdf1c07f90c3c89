"""Events, advice and rigs become one ordered list of steps; a pure function."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from math import isfinite
from typing import Any

from passes.model import Advice, Event, Note, Rig, Schedule, Span, Step
from passes.tables import clock
from passes_plugins.scheduling import holding, overlaps
from passes_plugins.scheduling.jobs import PLACING, SUB, Job, is_recorded, job_of, to_ms
from passes_plugins.scheduling.leads import Leads
from passes_plugins.scheduling.set_up import SetUp, preparation

#: Steps of one time come in this order: what ends before what begins.
ORDER = {"stop": 0, "resume": 1, "ready": 2, "point": 3, "hold": 4, "start": 5}
#: What stands with every step in front of the Sun, and above them all.
SUN = (
    "SUN: a certified full-aperture solar filter on every optic and finder; never look "
    "or point unfiltered, cover while slewing. Local rules and licensed practice come "
    "first."
)
#: A bound over this makes a recording so long that it is worth a remark, s.
_LONG_BOUND_S = 60.0


def make_schedule(
    events: Sequence[Event],
    advice: Mapping[tuple[str, str], Advice],
    rigs: Sequence[Rig],
    leads: Leads,
    *,
    window: Span | None = None,
    set_up: SetUp | None = None,
    reserved: Collection[str] = (),
    zone: tzinfo = UTC,
    demo: bool = False,
) -> Schedule:
    """The schedule of some events; ``advice`` is by (event id, rig name).

    An event whose details name a ``rig`` is for that rig, others are for all; one of
    weight 0 is only told.  ``reserved`` rigs do nothing but what names them.  Notes
    give times in ``zone``.  The same inputs give the same schedule, in any order.
    """
    events = sorted(_unique(events), key=lambda event: (event.start, event.id))
    jobs, lost = overlaps.settle(
        _wanted(events, advice, rigs, leads, reserved), leads.turn_s
    )
    held, remarks = holding.steps(events, jobs, leads)
    prepared, needs = _prepared(set_up, jobs, rigs, zone)
    steps = [
        *(one for job, before in _in_turn(jobs) for one in _steps(job, before, leads)),
        *(_remark(event) for event in events if _is_remark(event)),
        *held,
        *prepared,
    ]
    notes = (
        *_cautions(jobs),
        *overlaps.told(lost, zone),
        *remarks,
        *_doubts(jobs, leads, zone),
        *needs,
    )
    return Schedule(window=window, steps=_ordered(steps, demo), notes=notes, demo=demo)


def _wanted(
    events: Sequence[Event],
    advice: Mapping[tuple[str, str], Advice],
    rigs: Sequence[Rig],
    leads: Leads,
    reserved: Collection[str],
) -> list[Job]:
    """Every recording that somebody could want, of each rig that may do it."""
    return [
        job_of(event, rig, advice.get((event.id, rig)), leads)
        for event in events
        if is_recorded(event)
        for rig in rigs_of(event, rigs, reserved)
    ]


def _prepared(
    set_up: SetUp | None, jobs: Sequence[Job], rigs: Sequence[Rig], zone: tzinfo
) -> tuple[list[Step], list[Note]]:
    if set_up is None or not jobs:
        return [], []
    return preparation(set_up, jobs, rigs, zone)


def _cautions(jobs: Sequence[Job]) -> Iterator[Note]:
    if any(job.event.details.get("body") == "sun" for job in jobs):
        yield Note(text=SUN, severity="warning")


def _unique(events: Sequence[Event]) -> list[Event]:
    """Events under one id each; of two the heavier, then the earlier, is meant."""
    found: dict[str, Event] = {}
    for event in sorted(events, key=lambda one: (-one.weight, one.start, one.subject)):
        found.setdefault(event.id, event)
    return list(found.values())


def rigs_of(event: Event, rigs: Sequence[Rig], reserved: Collection[str]) -> list[str]:
    """Names of the rigs an event is for; one without a name where there is none."""
    named = event.details.get("rig")
    names = [rig.name for rig in rigs]
    if isinstance(named, str) and named:
        return [named] if named in names or not names else []
    return [name for name in names if name not in reserved] if names else [""]


def _in_turn(jobs: Sequence[Job]) -> Iterator[tuple[Job, Job | None]]:
    """Each job with the one its rig did before."""
    last: dict[str, Job] = {}
    for job in jobs:
        yield job, last.get(job.rig)
        last[job.rig] = job


def _steps(job: Job, before: Job | None, leads: Leads) -> Iterator[Step]:
    if before is None or before.field != job.field:
        free = before.stop if before is not None else None
        yield _step(job, "ready", _not_before(job.start, leads.ready_s, free))
        yield _step(job, "point", _not_before(job.start, leads.point_s, free))
    else:
        yield from _chores(job, before.stop)
    yield _step(job, "start", job.start)
    yield _step(job, "stop", job.stop)


def _chores(job: Job, free: datetime) -> Iterator[Step]:
    """What comes between two exposures of a field: the mount's flip is pointing."""
    if set(job.chores) - {"flip"}:
        yield _step(job, "ready", free)
    if "flip" in job.chores:
        meridian = job.event.details.get("meridian")
        earliest = meridian if isinstance(meridian, datetime) else free
        yield _step(job, "point", min(max(free, earliest), job.start))


def _not_before(start: datetime, lead_s: float, free: datetime | None) -> datetime:
    """So long before the start, but not while the rig is still busy."""
    time = start - timedelta(seconds=lead_s)
    return time if free is None else max(time, free)


def _step(job: Job, event: Any, time: datetime) -> Step:
    return Step(
        id=f"{job.id}/{event}",
        event=event,
        time=time,
        subject=job.event.subject,
        catalog_number=job.event.catalog_number,
        rig=job.rig,
        advice=None if event == "stop" else _cautioned(job),
    )


def _cautioned(job: Job) -> Mapping[str, Any] | None:
    """The advice of a job, with what nobody may forget in front of the Sun."""
    if job.event.details.get("body") != "sun":
        return job.advice
    return {**(job.advice or {}), "caution": SUN}


def _is_remark(event: Event) -> bool:
    return event.weight <= 0.0 and event.kind != PLACING


def _remark(event: Event) -> Step:
    """A step that only tells: the end of twilight, say."""
    words = event.details.get("words")
    return Step(
        id=event.id,
        event="ready",
        time=to_ms(event.start),
        subject=event.subject,
        catalog_number=event.catalog_number,
        advice={"words": words} if isinstance(words, str) else None,
    )


def _doubts(jobs: Sequence[Job], leads: Leads, zone: tzinfo) -> Iterator[Note]:
    seen = set()
    for job in jobs:
        event = job.event
        if event.kind == SUB or event.id in seen:
            continue
        seen.add(event.id)
        bound = event.timing_bound_s
        if not isfinite(bound):
            text = f"{leads.unknown_bound_s:g} s are taken for the unknown bound"
        elif bound > _LONG_BOUND_S:
            text = f"its time is good to {bound:.0f} s (95 %) only, so it records long"
        else:
            continue
        yield Note(text=f"{event.subject} at {clock(event.best, zone)}: {text}.")


def _ordered(steps: Sequence[Step], demo: bool) -> tuple[Step, ...]:
    from dataclasses import replace

    order = sorted(
        steps, key=lambda s: (s.time, ORDER.get(s.event, 9), s.rig, s.subject, s.id)
    )
    return tuple(replace(step, demo=demo) for step in order)
