"""One rig cannot do two things: what weighs most is kept, the rest is told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import timedelta, tzinfo

from passes.model import Note
from passes.tables import clock
from passes_plugins.scheduling.jobs import SUB, Job


def settle(
    jobs: Iterable[Job], turn_s: float
) -> tuple[list[Job], list[tuple[Job, Job]]]:
    """Jobs that can be done, in order of time, and each one left out with its winner.

    The heaviest is placed first, then what still fits beside it, so that the best of
    the night is never given up for two lesser things.
    """
    order = sorted(jobs, key=lambda job: (-job.event.weight, job.start, job.id))
    kept: dict[str, list[Job]] = defaultdict(list)
    lost = []
    for job in order:
        winner = next(
            (one for one in kept[job.rig] if _collide(job, one, turn_s)), None
        )
        if winner is None:
            kept[job.rig].append(job)
        else:
            lost.append((job, winner))
    placed = [job for mine in kept.values() for job in mine]
    return sorted(placed, key=lambda job: (job.start, job.rig, job.id)), lost


def _collide(one: Job, other: Job, turn_s: float) -> bool:
    turn = timedelta(seconds=0.0 if one.field == other.field else turn_s)
    return one.start < other.stop + turn and other.start < one.stop + turn


def told(lost: Iterable[tuple[Job, Job]], zone: tzinfo) -> Iterator[Note]:
    """What was left out for what: rigs, and subs of one target, together in a note."""
    groups: dict[tuple[str, str], list[Job]] = defaultdict(list)
    winners: dict[tuple[str, str], Job] = {}
    for job, winner in lost:
        own = job.field if job.event.kind == SUB else job.event.id
        key = (own, winner.event.id)
        groups[key].append(job)
        winners[key] = winner
    for key, jobs in sorted(groups.items(), key=lambda item: item[1][0].start):
        yield _note(jobs, winners[key], zone)


def _note(jobs: list[Job], winner: Job, zone: tzinfo) -> Note:
    first = jobs[0]
    rigs = sorted({job.rig for job in jobs})
    what = first.event.subject
    if first.event.kind == SUB:
        what = f"{len(jobs)} sub{'s' * (len(jobs) > 1)} of {what}"
    lesser = f"{what} at {clock(first.start, zone, 1.0)}"
    better = f"{winner.event.subject} at {clock(winner.start, zone, 1.0)}"
    who = f"Rig{'s' * (len(rigs) > 1)} {', '.join(rigs)} cannot do both"
    return Note(
        severity="caution",
        text=f"{who if any(rigs) else 'Both cannot be done'}: {lesser} "
        f"(weight {first.event.weight:.2g}) gives way to {better} (weight "
        f"{winner.event.weight:.2g}).",
        values={"left_out": len(jobs), "rigs": " ".join(rigs)},
    )
