"""What must be done before the first recording, counted back from it.

All durations and their order are common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from math import isnan
from typing import Any

from passes.model import Note, Rig, Step
from passes.tables import clock, plain
from passes_plugins.scheduling.jobs import SUB, Job

#: What is done, its words, and minutes before the first start when two hours are given
#: (common practice, no source).
_LIST = (
    ("cool-down", "Optics to cool (60–120 min)", 110.0),
    ("power-and-disk", "Power and disk", 85.0),
    ("dew-heaters", "Dew heaters on", 60.0),
    ("polar-alignment", "Polar alignment", 45.0),
    ("focus", "Focus on a star, lock it", 20.0),
)
_FULL_MIN = 120.0
#: Optics need at least so long, min (common practice, no source).
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
    arrive = start - timedelta(seconds=set_up.seconds)
    need = _need(jobs, rigs, arrive)
    stamp = f"{start:%Y%m%dT%H%M}"
    found = [_step("on-site", stamp, arrive, {"words": "On site"})]
    notes: list[Note] = []
    for name, words, minutes in _LIST:
        if name == "polar-alignment" and not _equatorial(jobs, rigs):
            continue
        time = start - timedelta(minutes=round(minutes * share, 1))
        advice: dict[str, Any] = {"words": words}
        if name == "power-and-disk":
            advice |= need | {"words": f"{words}: {_in_words(need)}"}
        found.append(_step(name, stamp, time, advice))
        notes += _remarks(name, time, share * minutes, set_up, zone)
    return found, [*notes, _told(need), *_short(need)]


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


# --- power and disk against tonight's need -------------------------------------------


def _need(jobs: Sequence[Job], rigs: Sequence[Rig], arrive: datetime) -> dict[str, Any]:
    """By rig what it will draw and write, as far as that is known, and what it has.

    Power is counted from on site to the end of the last recording.
    """
    hours = (max(job.stop for job in jobs) - arrive).total_seconds() / 3600.0
    by_name = {rig.name: rig for rig in rigs}
    disk: dict[str, float] = defaultdict(float)
    for job in jobs:
        gigabytes = job.gigabytes
        rig = by_name.get(job.rig)
        if job.event.kind == SUB and rig is not None:
            gigabytes = rig.width_px * rig.height_px * _BYTES_PER_PX / 1e9
        if not isnan(gigabytes):
            disk[job.rig] += gigabytes
    busy = [by_name[n] for n in sorted({job.rig for job in jobs}) if n in by_name]
    return {
        "hours": round(hours, 2),
        "power_wh": _known({rig.name: rig.power_w * hours for rig in busy}),
        "battery_wh": _known({rig.name: rig.battery_wh for rig in busy}),
        "disk_gb": _known(disk),
        "free_gb": _known({rig.name: rig.free_gb for rig in busy}),
    }


def _known(values: Mapping[str, float]) -> dict[str, float]:
    return {n: round(v, 1) for n, v in sorted(values.items()) if not isnan(v)}


#: What is needed, what there is of it, and its unit.
_SUPPLIES = (("power_wh", "battery_wh", "Wh"), ("disk_gb", "free_gb", "GB"))


def _in_words(need: Mapping[str, Any]) -> str:
    """The need of each rig that is known, with what there is, after the hours."""
    rigs: dict[str, list[str]] = {}
    for wanted, there, unit in _SUPPLIES:
        for name, value in need[wanted].items():
            room = need[there].get(name)
            of = "" if room is None else f" of {room:,.0f}"
            rigs.setdefault(name, []).append(f"{value:,.0f}{of} {unit}")
    each = [f"{plain(name, 20)} {', '.join(some)}" for name, some in rigs.items()]
    return "; ".join([f"{need['hours']:.1f} h", *each])


def _told(need: Mapping[str, Any]) -> Note:
    unknown = "" if need["power_wh"] else " No rig tells its draw (--power)."
    return Note(
        text=f"Power and disk tonight, from on site: {_in_words(need)}.{unknown}"
    )


def _short(need: Mapping[str, Any]) -> Iterator[Note]:
    """What will not do."""
    for wanted, there, unit in _SUPPLIES:
        verb = "draw" if unit == "Wh" else "write"
        for name, value in need[wanted].items():
            room = need[there].get(name)
            if room is not None and value > room:
                yield Note(
                    severity="caution",
                    text=f"Rig {name} will {verb} {value:.0f} {unit} tonight and has "
                    f"{room:.0f} {unit}{' free' * (unit == 'GB')}.",
                )
