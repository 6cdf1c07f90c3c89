"""Making the list that the gate answers from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from math import isfinite

from passes.model import Crossing
from passes_plugins.streaks.assessing import Assessment, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.gating import ROOM_S, VERDICTS, Closed, GateList
from passes_plugins.streaks.planning import Planned
from passes_plugins.streaks.worth import Threats, threats

#: The list reaches so far before and after the plan's subs, s: nights drift.
_REACH_S = 3480.0
#: Paths with less chance than this to lead through the field close nothing.
_SIDEWAYS = 0.05
#: A bound where none is known, s (common practice).
_UNKNOWN_BOUND_S = 10.0


def made(ready: Planned, plan_key: str, choices: Choices) -> GateList:
    """Search the plan's fields and note when each should not be exposed."""
    wider = replace(choices, margin_s=_REACH_S + 120.0)
    found = assess(ready.session, ready.services, wider)
    subs = [one.sub for one in found.judged]
    reach = timedelta(seconds=_REACH_S)
    start = (subs[0].start - reach).replace(microsecond=0)
    end = (max(sub.end for sub in subs) + reach).replace(microsecond=0)
    closed: dict[str, list[Closed]] = {sub.target.name: [] for sub in subs}
    shift = (subs[0].start - start).total_seconds()
    for target, one in _all(found, shift):
        closed[target].append(one)
    starts = [((sub.start - start).total_seconds(), sub.target.name) for sub in subs]
    changes = [
        pair for i, pair in enumerate(starts) if not i or pair[1] != starts[i - 1][1]
    ]
    return GateList(
        start=start,
        end=end,
        plan=plan_key,
        settle_s=ready.plan.overheads.settle_s,
        starts=((0.0, changes[0][1]), *changes[1:]),
        closed={name: tuple(sorted(some, key=_when)) for name, some in closed.items()},
        demo=ready.services.demo,
    )


def _when(one: Closed) -> float:
    return one.start_s


def _all(found: Assessment, shift: float) -> Iterator[tuple[str, Closed]]:
    """Every crossing of every look that marks a sub, once for each target's kind."""
    frames = {one.sub.index: one.frame for one in found.judged}
    for look in found.found:
        kinds = {
            (s.target.name, s.filter, s.gain, s.exposure_s) for s in look.look.subs
        }
        for kind in kinds:
            subs = [
                s
                for s in look.look.subs
                if (s.target.name, s.filter, s.gain, s.exposure_s) == kind
            ]
            frame = frames[subs[0].index]
            if frame is None:
                continue
            for one in _closed(threats(found, look, frame, subs), shift):
                yield kind[0], one


def _closed(some: Threats, shift: float) -> Iterator[Closed]:
    """When crossings that mark a sub keep its field shut."""
    for i, crossing in enumerate(some.crossings):
        verdict = some.verdicts[i]
        if verdict in VERDICTS and some.sideways[i] >= _SIDEWAYS:
            room = ROOM_S + _bound_s(crossing)
            yield Closed(
                start_s=round(float(some.entry_s[i]) + shift - room, 3),
                end_s=round(float(some.exit_s[i]) + shift + room, 3),
                name=crossing.name or str(crossing.catalog_number),
                catalog_number=crossing.catalog_number,
                verdict=str(verdict),
            )


def _bound_s(crossing: Crossing) -> float:
    """The 95 % bound of a crossing's time, or what stands in for it."""
    if isfinite(crossing.timing_bound_s):
        return crossing.timing_bound_s
    return _UNKNOWN_BOUND_S
