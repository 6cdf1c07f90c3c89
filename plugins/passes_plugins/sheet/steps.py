"""A schedule's steps as a person reads them: what belongs together in one entry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from math import isfinite
from typing import Any

from passes.model import Step
from passes.tables import clock
from passes_plugins.sheet.shooting import shutter

#: Steps between which the rig works, and what that is called.
_SPANS = {"start": ("stop", "record"), "hold": ("resume", "hold")}
#: Steps before that, and what they are called.
_BEFORE = {"ready": "ready", "point": "point"}


@dataclass(slots=True)
class Entry:
    """Steps of one subject, whatever rigs they are for; or a rig's run of subs."""

    subject: str
    steps: list[Step] = field(default_factory=list)
    subs: bool = False


def entries(steps: Sequence[Step], local: tzinfo) -> list[dict[str, Any]]:
    """Time, what, and how in lines; in order of their first step."""
    return [
        {
            "time": clock(entry.steps[0].time, local, 1.0),
            "what": _what(entry),
            "how": _subs(entry, local) if entry.subs else _rigs(entry, local),
        }
        for entry in _grouped(steps)
    ]


def _grouped(steps: Iterable[Step]) -> list[Entry]:
    """Steps of one event together; subs of one target run on until another's."""
    events: dict[str, Entry] = {}
    running: dict[str, Entry] = {}
    found: list[Entry] = []
    for step in sorted(steps, key=lambda one: one.time):
        if _is_sub(step):
            entry = running.get(step.rig)
            if entry is None or entry.subject != step.subject:
                entry = running[step.rig] = Entry(step.subject, subs=True)
                found.append(entry)
        else:
            key = _event_of(step)
            if key not in events:
                events[key] = Entry(step.subject)
                found.append(events[key])
            entry = events[key]
        entry.steps.append(step)
    return found


def _event_of(step: Step) -> str:
    """The id of what a step belongs to: without what it does and by which rig."""
    stem = step.id.removesuffix(f"/{step.event}")
    return stem.removesuffix(f"/{step.rig}") if step.rig else stem


def _is_sub(step: Step) -> bool:
    """Whether a step is of a session's own exposure; its end carries no advice."""
    kind = (step.advice or {}).get("kind")
    return kind == "sub" or (kind is None and step.id.startswith("sub-"))


def _what(entry: Entry) -> str:
    """What it is about: a thing that only happens is told in its own words."""
    if entry.subs:
        count = sum(step.event == "start" for step in entry.steps)
        return f"{count} {'sub' if count == 1 else 'subs'} of {entry.subject}"
    words = _words(entry.steps[0])
    held = any(step.event == "hold" for step in entry.steps)
    if held:
        return f"Hold: {entry.subject}"
    return words or entry.subject


def _words(step: Step) -> str:
    words = (step.advice or {}).get("words")
    return words if isinstance(words, str) else ""


def _subs(entry: Entry, local: tzinfo) -> list[str]:
    """One line: the rig, from when to when, and the exposure."""
    first = next((s for s in entry.steps if s.event == "start"), entry.steps[0])
    words = f"{clock(first.time, local, 1.0)}–{clock(entry.steps[-1].time, local, 1.0)}"
    return [": ".join(p for p in (first.rig, ", ".join([words, *_look(first)])) if p)]


def _rigs(entry: Entry, local: tzinfo) -> list[str]:
    """A line for each rig: before, from when to when, and with what."""
    rigs = dict.fromkeys(step.rig for step in entry.steps)
    lines = []
    for rig in rigs:
        steps = [step for step in entry.steps if step.rig == rig]
        words = _times(steps, local)
        if words:
            lines.append(f"{rig}: {words}" if rig else words)
    if not lines and _words(entry.steps[0]) and entry.subject:
        return [entry.subject]
    return lines


def _times(steps: Sequence[Step], local: tzinfo) -> str:
    """What one rig does when, in a few words."""
    at: dict[str, datetime] = {}
    for step in steps:
        at.setdefault(step.event, step.time)
    if set(at) == {"ready"} and not steps[0].rig:
        return ""
    said = [
        f"{words} {clock(at[event], local, 1.0)}"
        for event, words in _BEFORE.items()
        if event in at
    ]
    for begin, (end, words) in _SPANS.items():
        if begin in at:
            until = f"–{clock(at[end], local, 1.0)}" if end in at else ""
            said.append(f"{words} {clock(at[begin], local, 1.0)}{until}")
    begun = next((step for step in steps if step.event == "start"), None)
    return ", ".join(said + (_look(begun) if begun is not None else []))


def _look(step: Step) -> list[str]:
    """Shutter, frame rate and gain of a step's advice, those that it has."""
    advice = step.advice or {}
    found = []
    exposure, rate, gain = (
        advice.get(name) for name in ("exposure_s", "frame_rate_hz", "gain")
    )
    if isinstance(exposure, int | float) and isfinite(exposure) and exposure > 0.0:
        found.append(shutter(float(exposure)))
    if isinstance(rate, int | float) and isfinite(rate):
        found.append(f"{rate:.3g} frames/s")
    if isinstance(gain, str) and gain:
        found.append(f"gain {gain}")
    return found
