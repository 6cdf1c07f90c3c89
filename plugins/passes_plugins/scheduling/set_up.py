"""What must be done before the first recording, counted back from it.

All durations and their order are common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from math import isnan
from typing import Any

from passes.model import Note, Rig, Step
from passes.tables import clock
from passes_plugins.scheduling.jobs import SUB, Job

#: What is done, its words, and minutes before the first start when two hours are given.
_LIST = (
    ("cool-down", "Optics out to cool (60–120 min)", 110.0),
    ("power-and-disk", "Power and disk", 85.0),
    ("dew-heaters", "Dew heaters on", 60.0),
    ("polar-alignment", "Polar alignment", 45.0),
    ("focus", "Focus on a bright star, lock it", 20.0),
)
_FULL_MIN = 120.0
#: Optics need at least so long, min.
_COOLING_MIN = 60.0
_BYTES_PER_PX = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """How long the preparation takes; ``stars_from`` is when the sky shows stars."""

    seconds: float
    stars_from: datetime | None = None


def preparation(
    set_up: SetUp, jobs: Sequence[Job], rigs: Sequence[Rig], zone: tzinfo
) -> tuple[list[Step], list[Note]]:
    """The steps, and what is short of time or room."""
    first = min(jobs, key=lambda job: job.start)
    start = first.start.replace(microsecond=0)
    share = min(set_up.seconds / 60.0 / _FULL_MIN, 1.0)
    need = _need(jobs, rigs)
    stamp = f"{start:%Y%m%dT%H%M}"
    arrive = start - timedelta(seconds=set_up.seconds)
    found = [_step("on-site", stamp, arrive, {"words": "On site"})]
    notes: list[Note] = []
    for name, words, minutes in _LIST:
        if name == "polar-alignment" and not _equatorial(jobs, rigs):
            continue
        time = start - timedelta(minutes=round(minutes * share, 1))
        advice: dict[str, Any] = {"words": words}
        if name == "power-and-disk":
            advice |= need | {"hours": round(_hours(arrive, jobs), 2)}
        found.append(_step(name, stamp, time, advice))
        notes += _remarks(name, time, share * minutes, set_up, zone)
    return found, [*notes, *_short(need)]


def _step(name: str, stamp: str, time: datetime, advice: dict[str, Any]) -> Step:
    return Step(
        id=f"set-up-{name}-{stamp}",
        event="ready",
        time=time,
        subject="set-up",
        advice=advice,
    )


def _equatorial(jobs: Sequence[Job], rigs: Sequence[Rig]) -> bool:
    busy = {job.rig for job in jobs}
    return any(r.mount.kind == "equatorial" and r.name in busy for r in rigs)


def _hours(arrive: datetime, jobs: Sequence[Job]) -> float:
    last = max(job.stop for job in jobs)
    return (last - arrive).total_seconds() / 3600.0


def _remarks(
    name: str, time: datetime, minutes: float, set_up: SetUp, zone: tzinfo
) -> Iterator[Note]:
    if name == "cool-down" and minutes < _COOLING_MIN - 1.0:
        yield Note(
            severity="caution",
            text=f"The optics have {minutes:.0f} min to cool; they want at least 60.",
        )
    stars = set_up.stars_from
    if name == "polar-alignment" and stars is not None and time < stars:
        yield Note(
            severity="caution",
            text=f"At {clock(time, zone)} the sky is still too bright for a polar "
            f"alignment on stars; they show from {clock(stars, zone)}.",
        )


def _need(jobs: Sequence[Job], rigs: Sequence[Rig]) -> dict[str, Any]:
    """Gigabytes that each rig will write, as far as they are known, and has free."""
    by_name = {rig.name: rig for rig in rigs}
    need: dict[str, float] = defaultdict(float)
    for job in jobs:
        gigabytes = job.gigabytes
        rig = by_name.get(job.rig)
        if job.event.kind == SUB and rig is not None:
            gigabytes = rig.width_px * rig.height_px * _BYTES_PER_PX / 1e9
        if not isnan(gigabytes):
            need[job.rig] += gigabytes
    free = {n: by_name[n].free_gb for n in need if n in by_name}
    return {
        "disk_gb": {name: round(value, 1) for name, value in sorted(need.items())},
        "free_gb": {n: v for n, v in sorted(free.items()) if not isnan(v)},
    }


def _short(need: dict[str, Any]) -> Iterator[Note]:
    for name, wanted in need["disk_gb"].items():
        free = need["free_gb"].get(name)
        if free is not None and wanted > free:
            yield Note(
                severity="caution",
                text=f"Rig {name} will write {wanted:.0f} GB tonight and has "
                f"{free:.0f} GB free.",
            )
