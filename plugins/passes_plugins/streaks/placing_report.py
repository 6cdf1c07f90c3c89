"""The session reporter of kind ``placing``: when to hold a session's subs."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from passes.contributions import SessionBriefing
from passes.model import Event, Note, Report, Sub
from passes.plans import Plan, PlannedSub
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.document import iso
from passes_plugins.streaks.placing import Placed, placed
from passes_plugins.streaks.planning import Planned

_KIND, _NAME = "placing", "streak-placing"


def report(briefing: SessionBriefing) -> Report:
    """Place the subs of a session's one rig; events are the holds that pay.

    An event lasts from when a sub would open, all holds before it made, to when it
    should; its details hold the ``steps``, and ``sub`` and ``rig``.  Its weight is 0:
    there is nothing to record.  Rows give every sub's start as planned and as placed.
    """
    session = briefing.session
    plan = _plan(briefing)
    if plan is None or not session.rigs:
        said = "No subs of one rig are planned, so none are placed."
        return Report(kind=_KIND, reporter=_NAME, notes=(Note(text=said),))
    ready = Planned(plan=plan, session=session, services=briefing.services)
    found = placed(ready, Choices.of(briefing.settings))
    opens = _opens(found)
    subs = [one.sub for one in found.before.judged]
    return Report(
        kind=_KIND,
        reporter=_NAME,
        events=tuple(_events(subs, opens)),
        rows=tuple(_rows(subs, opens)),
        notes=(_note(found),),
        summary={
            "leave_it": found.leave_it,
            "gain_s": round(found.gain_s, 1),
            "held_s": found.held_s,
            "later_s": round(found.later_s, 1),
        },
    )


def _plan(briefing: SessionBriefing) -> Plan | None:
    """The session as a plan whose starts are fixed; None for more rigs than one."""
    subs = sorted(briefing.session.subs, key=lambda one: one.start)
    if not subs or len({sub.rig for sub in subs}) > 1:
        return None
    targets = {sub.target.name: sub.target for sub in subs}
    fixed = tuple(
        PlannedSub(
            start=sub.start,
            exposure_s=sub.exposure_s,
            target=sub.target.name,
            filter=sub.filter,
            gain=sub.gain,
        )
        for sub in subs
    )
    return Plan(
        where="session",
        rig=subs[0].rig,
        start=subs[0].start,
        targets=tuple(targets.values()),
        rotations=frozenset(targets),
        subs=fixed,
    )


def _opens(found: Placed) -> list[datetime | None]:
    """When each sub should open; None for those left out at the end."""
    opens: list[datetime | None] = [one.start for one in found.plan.subs]
    return [*opens, *[None] * (len(found.before.judged) - len(opens))]


def _note(found: Placed) -> Note:
    if found.leave_it:
        return Note(text="Leave the subs as planned: stacking handles the streaks.")
    return Note(
        text=f"Holding subs for {found.held_s:.0f} s in all keeps "
        f"{found.gain_s:.0f} s more of exposure.",
        values={"gain_s": round(found.gain_s, 1), "held_s": found.held_s},
    )


def _events(subs: list[Sub], opens: list[datetime | None]) -> Iterator[Event]:
    late = subs[0].start - subs[0].start
    for sub, when in zip(subs, opens, strict=True):
        if when is None:
            continue
        due = sub.start + late
        if when > due:
            yield _event(sub, due, when)
        late = when - sub.start


def _event(sub: Sub, due: datetime, opens: datetime) -> Event:
    return Event(
        id=f"sub-{sub.index}-{due:%Y%m%dT%H%M%S}-placing",
        kind=_KIND,
        subject=sub.target.name,
        start=due,
        best=opens,
        end=opens,
        weight=0.0,
        details={
            "sub": sub.index,
            "rig": sub.rig,
            "held_s": (opens - due).total_seconds(),
            "steps": (
                {"event": "hold", "time": iso(due)},
                {"event": "resume", "time": iso(opens)},
            ),
        },
    )


def _rows(subs: list[Sub], opens: list[datetime | None]) -> Iterator[dict[str, Any]]:
    for sub, when in zip(subs, opens, strict=True):
        yield {
            "sub": sub.index,
            "planned": iso(sub.start),
            "placed": None if when is None else iso(when),
        }
