"""The session reporter of kind ``placing``: when a session's subs should open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from passes.contributions import SessionBriefing
from passes.model import Event, Note, Overheads, Report, Session
from passes.plans import Plan, fixed
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.document import iso
from passes_plugins.streaks.placing import Hold, Placed, placed
from passes_plugins.streaks.placing_page import reason
from passes_plugins.streaks.planning import Planned

_KIND, _NAME = "placing", "streak-placing"


def report(briefing: SessionBriefing) -> Report:
    """Place the subs of each of a session's rigs; events are the holds that pay.

    Rows give every sub's ``planned`` and ``placed`` start (null for one that is left
    out), its ``rig``, the chores ``before`` it and how its frame is turned.  An event
    lasts from when a sub could open to when it should; its details hold the ``steps``,
    and ``sub``, ``rig`` and what it waits ``for``.  Its weight is 0: there is nothing
    to record.
    """
    found = [_placed(briefing, some) for some in _by_rig(briefing.session)]
    if not found:
        said = "No subs are planned, so none are placed."
        return Report(kind=_KIND, reporter=_NAME, notes=(Note(text=said),))
    return Report(
        kind=_KIND,
        reporter=_NAME,
        events=tuple(event for one in found for event in _events(one)),
        rows=tuple(row for one in found for row in _rows(one)),
        notes=tuple(_note(one, many=len(found) > 1) for one in found),
        summary=_summary(found),
    )


def _by_rig(session: Session) -> Iterator[Session]:
    """The session of each rig that has subs; none where no rig is known."""
    subs = sorted(session.subs, key=lambda one: one.start)
    for name in dict.fromkeys(sub.rig for sub in subs):
        rigs = [rig for rig in session.rigs if rig.name == name] or session.rigs[:1]
        if rigs:
            mine = tuple(sub for sub in subs if sub.rig == name)
            yield replace(session, rigs=tuple(rigs), subs=mine)


def _placed(briefing: SessionBriefing, session: Session) -> Placed:
    ready = Planned(plan=_plan(session), session=session, services=briefing.services)
    return placed(ready, Choices.of(briefing.settings))


def _plan(session: Session) -> Plan:
    """The session as a plan; its starts are fixed where no overheads are known."""
    subs = session.subs
    targets = {sub.target.name: sub.target for sub in subs}
    return Plan(
        where="session",
        rig=subs[0].rig,
        start=subs[0].start,
        dither_arcsec=session.dither_arcsec,
        targets=tuple(targets.values()),
        rotations=frozenset(targets),
        overheads=session.overheads or Overheads(),
        subs=() if session.overheads else fixed(subs),
    )


def _summary(found: Sequence[Placed]) -> dict[str, Any]:
    """All rigs together."""
    return {
        "leave_it": all(one.leave_it for one in found),
        "gain_s": round(sum(one.gain_s for one in found), 1),
        "held_s": sum(one.held_s for one in found),
        "later_s": round(max(one.later_s for one in found), 1),
    }


def _note(found: Placed, *, many: bool) -> Note:
    """What comes of the placing; its rig where there are several."""
    whose = f"{found.planned[0].rig}: " if many else ""
    if found.leave_it:
        return Note(text=f"{whose}Subs left as planned: {reason(found)}.")
    words = f"{found.gain_s:.0f} s more of exposure kept for {found.held_s:.0f} s of "
    more = f"; {found.left_out} left out at the end" if found.left_out else ""
    return Note(
        text=f"{whose}Subs placed: {words}waiting{more}.",
        values={"gain_s": round(found.gain_s, 1), "held_s": found.held_s},
    )


def _events(found: Placed) -> Iterator[Event]:
    planned = {sub.index: sub.start for sub in found.planned}
    for hold in found.holds:
        stamp = f"{planned[hold.sub.index]:%Y%m%dT%H%M%S}"
        yield _event(hold, f"hold-{stamp}-{hold.sub.rig}".rstrip("-"))


def _event(hold: Hold, name: str) -> Event:
    """The event of a hold; its id is kept by fresher elements."""
    sub, crossing = hold.sub, hold.crossing
    due = sub.start - timedelta(seconds=hold.seconds)
    details: dict[str, Any] = {
        "sub": sub.index,
        "rig": sub.rig,
        "held_s": float(hold.seconds),
        "steps": (
            {"event": "hold", "time": iso(due)},
            {"event": "resume", "time": iso(sub.start)},
        ),
    }
    if crossing is not None:
        details["for"] = crossing.name or str(crossing.catalog_number)
    return Event(
        id=name,
        kind=_KIND,
        subject=sub.target.name,
        start=due,
        best=sub.start,
        end=sub.start,
        weight=0.0,
        details=details,
    )


def _rows(found: Placed) -> Iterator[dict[str, Any]]:
    opened = {sub.index: sub for sub in found.subs}
    for sub in found.planned:
        one = opened.get(sub.index)
        yield {
            "sub": sub.index,
            "rig": sub.rig,
            "planned": iso(sub.start),
            "placed": None if one is None else iso(one.start),
            "before": " ".join(one.before) if one is not None else "",
            "position_angle_deg": (one or sub).target.position_angle_deg,
        }
