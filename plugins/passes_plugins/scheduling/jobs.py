"""One recording of one event by one rig: from when to when, and with what advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite
from typing import Any

from passes.model import Advice, Event, Pointing
from passes_plugins.scheduling.leads import Leads

#: Kinds of event that are to be kept out of a recording, not recorded.
AVOIDED = frozenset({"streak"})
#: The kind of a session's own exposures, and of the waits between placed ones.
SUB, PLACING = "sub", "placing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A rig's recording; ``start`` and ``stop`` are widened already."""

    event: Event
    rig: str
    start: datetime
    stop: datetime
    advice: dict[str, Any]
    gigabytes: float = float("nan")

    @property
    def id(self) -> str:
        """Kept by fresher elements, as far as the event's own id is."""
        return f"{self.event.id}/{self.rig}" if self.rig else self.event.id

    @property
    def chores(self) -> tuple[str, ...]:
        """What is done before a session's exposure and takes time."""
        return tuple(self.event.details.get("before", ()))

    @property
    def field(self) -> str:
        """What the rig must look at; a session's exposures of one target share it."""
        return self.event.subject if self.event.kind == SUB else self.id


def is_recorded(event: Event) -> bool:
    """Whether an event is something to record, not to avoid or to be told of."""
    return event.weight > 0.0 and event.kind not in (*AVOIDED, PLACING)


def bound_s(event: Event, leads: Leads) -> float:
    """The 95 % bound of an event's time, or what stands in for it."""
    if event.kind == SUB:
        return 0.0
    if isfinite(event.timing_bound_s):
        return event.timing_bound_s
    return leads.unknown_bound_s


def job_of(event: Event, rig: str, advice: Advice | None, leads: Leads) -> Job:
    """The recording: the event with lead, tail and bound, and whatever advice adds."""
    if event.kind == SUB:
        return Job(
            event=event,
            rig=rig,
            start=to_ms(event.start),
            stop=to_ms(event.end),
            advice=about(event) | _sub(event),
        )
    bound = bound_s(event, leads)
    start = event.start - timedelta(seconds=leads.lead_s + bound)
    stop = event.end + timedelta(seconds=leads.tail_s + bound)
    if advice is not None and advice.start is not None:
        start = min(start, advice.start)
    if advice is not None and advice.stop is not None:
        stop = max(stop, advice.stop)
    return Job(
        event=event,
        rig=rig,
        start=to_ms(start),
        stop=to_ms(stop),
        advice=about(event) | ({} if advice is None else compact(advice)),
        gigabytes=_gigabytes(advice),
    )


def about(event: Event) -> dict[str, Any]:
    """What kind of thing it is, when it is best, and where, before any advice."""
    found: dict[str, Any] = {"kind": event.kind, "best": plainest(to_ms(event.best))}
    body = event.details.get("body")
    if isinstance(body, str) and body:
        found["body"] = body
    if isfinite(event.magnitude):
        found["magnitude"] = round(event.magnitude, 2)
    if isfinite(event.timing_bound_s):
        found["timing_bound_s"] = round(event.timing_bound_s, 3)
    if event.pointing is not None:
        found["pointing"] = _pointing(event.pointing)
    return found


def _pointing(pointing: Pointing) -> dict[str, Any]:
    return {
        name: plainest(getattr(pointing, name))
        for name in pointing.__dataclass_fields__
    }


def to_ms(time: datetime) -> datetime:
    """To whole milliseconds, as files hold times."""
    return time.replace(microsecond=time.microsecond // 1000 * 1000)


def _sub(event: Event) -> dict[str, Any]:
    names = ("exposure_s", "filter", "gain", "ra_deg", "dec_deg", "position_angle_deg")
    found = {
        name: plainest(event.details[name]) for name in names if event.details[name]
    }
    before = " ".join(event.details.get("before", ()))
    return found | ({"before": before} if before else {})


def _gigabytes(advice: Advice | None) -> float:
    """What a recording takes on disk, where its adviser says so."""
    recording = {} if advice is None else advice.settings.get("recording") or {}
    value = recording.get("gigabytes") if hasattr(recording, "get") else None
    return float(value) if isinstance(value, int | float) else float("nan")


# --- advice as a step carries it ---------------------------------------------------


def compact(advice: Advice) -> dict[str, Any]:
    """What a script needs of an advice: plain JSON values, the unknown left out.

    The table along the pass and nested settings stay behind: ``passes advise`` has
    them.
    """
    found = {
        "adviser": advice.adviser,
        "exposure_s": advice.exposure_s,
        "frame_rate_hz": advice.frame_rate_hz,
        "region_px": list(advice.region_px) if advice.region_px else None,
        "gain": advice.gain,
        "limit": advice.limit,
        "image_scale_arcsec_px": advice.image_scale_arcsec_px,
    }
    for name, value in advice.settings.items():
        if isinstance(value, str | int | float | bool):
            found.setdefault(name, value)
    if advice.pointing is not None:
        found["pointing"] = _pointing(advice.pointing)
    notes = [n.text for n in advice.notes if n.severity != "info"]
    found["cautions"] = notes or None
    plain = {name: plainest(value) for name, value in found.items()}
    return {name: value for name, value in plain.items() if value not in (None, "")}


def plainest(value: Any) -> Any:
    """A value as JSON has it; nan is null, times are text."""
    from passes.plans.schedule import iso

    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, float):
        return float(f"{value:.9g}") if isfinite(value) else None
    return value
