"""The session reporter: what a schedule or a sheet is told of streaks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from passes.contributions import SessionBriefing
from passes.model import Crossing, Event, Note, Report
from passes_plugins.streaks.assessing import Assessment, Judged, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.document import sub_document, summary_document
from passes_plugins.streaks.drawing import pictures_of
from passes_plugins.streaks.frames import frames_of
from passes_plugins.streaks.looks import Found, looks_of
from passes_plugins.streaks.marks import Mark
from passes_plugins.streaks.summing import summary_of

#: What a verdict weighs among events that want the same rig.
_WEIGHTS = {"removable": 0.3, "spoiled": 1.0}


def report(briefing: SessionBriefing) -> Report:
    """Judge a session; events are the trails that cost pixels or subs."""
    session = briefing.session
    if not session.subs:
        note = Note(text="No subs are planned, so no streaks are looked for.")
        return Report(kind="streak", reporter="streaks", notes=(note,))
    choices = Choices.of(briefing.settings)
    found = assess(session, briefing.services, choices, given=_given(briefing))
    summary = summary_of(found)
    return Report(
        kind="streak",
        reporter="streaks",
        events=tuple(_events(found)),
        rows=tuple(sub_document(one) for one in found.judged),
        notes=found.notes,
        summary=summary_document(found, summary),
        pictures=pictures_of(found, summary, demo=briefing.services.demo),
    )


def _given(briefing: SessionBriefing) -> list[Found] | None:
    """Crossings the host has found already; None where they are too few.

    It may have left a sub out, and knows nothing of what dithers bring in.
    """
    session, crossings = briefing.session, briefing.crossings
    if session.dither_arcsec > 0.0 or any(
        sub.index not in crossings for sub in session.subs
    ):
        return None
    looks = looks_of(session, frames_of(session))
    found = []
    for look in looks:
        every: dict[Any, Crossing] = {}
        for sub in look.subs:
            for one in crossings[sub.index]:
                every[one.catalog_number, one.entry.time] = one
        some = sorted(every.values(), key=lambda one: one.entry.time)
        found.append(Found(look, some))
    return found


def _events(found: Assessment) -> Iterator[Event]:
    """One event a crossing that costs something, with every sub that it marks."""
    groups: dict[str, list[tuple[Judged, Mark]]] = {}
    for one in found.judged:
        for mark in one.marks:
            if mark.here and mark.verdict in _WEIGHTS:
                groups.setdefault(_id(mark), []).append((one, mark))
    for some in groups.values():
        yield _event(some)


def _id(mark: Mark) -> str:
    crossing = mark.crossing
    return f"{crossing.catalog_number}-{crossing.closest.time:%Y%m%dT%H%M%S}-streak"


def _event(some: Sequence[tuple[Judged, Mark]]) -> Event:
    """The event of one crossing, judged by the sub that it harms most."""
    worst, mark = max(some, key=lambda pair: _WEIGHTS[str(pair[1].verdict)])
    crossing = mark.crossing
    return Event(
        id=_id(mark),
        kind="streak",
        subject=crossing.name or str(crossing.catalog_number),
        catalog_number=crossing.catalog_number,
        start=crossing.entry.time,
        best=min(max(crossing.closest.time, crossing.entry.time), crossing.exit.time),
        end=crossing.exit.time,
        timing_sigma_s=crossing.timing_sigma_s,
        timing_bound_s=crossing.timing_bound_s,
        magnitude=crossing.magnitude,
        weight=_WEIGHTS[str(mark.verdict)],
        flags=crossing.flags,
        details={
            "sub": worst.sub.index,
            "subs": [one.sub.index for one, _ in some],
            "rig": worst.sub.rig,
            "verdict": mark.verdict,
            "chance": round(mark.chance, 4),
            "signal_to_noise": round(mark.signal_to_noise, 2),
        },
    )
