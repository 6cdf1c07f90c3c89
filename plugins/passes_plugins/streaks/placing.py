"""A plan placed anew: starts and chores where most exposure is kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from passes.model import Crossing, Sub, Target
from passes.placing import Placement, place
from passes.plans import Plan, fixed, half_turned
from passes_plugins.streaks.assessing import Assessment, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.placing_chores import Task, rig_of, task_of
from passes_plugins.streaks.placing_worth import Kinds, kinds_of
from passes_plugins.streaks.planning import Planned

Floats = NDArray[np.float64]

#: Waited at most in all, and how much later than planned the last sub may end, s.
MOST_HELD_S = 1800
#: A placement that gains less than this part of a sub is not worth a change.
_WORTH = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A wait before a sub: it could open at ``sub.start`` less ``seconds``.

    ``crossing`` is what would have harmed it most; None where it only made room for
    what comes after.
    """

    sub: Sub
    seconds: int
    crossing: Crossing | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A plan, the same plan placed, and what that is worth; seconds.

    ``subs`` are those of ``plan``, the first of ``before``'s, with what is done before
    each; a sub left out at the end has none.  ``kept_before_s`` and ``kept_after_s``
    are the exposure expected to be kept; the cost is ``held_s`` of waiting, and
    ``later_s`` by which the session ends later.  ``leave_it`` says that the plan should
    be left as it is.
    """

    plan: Plan
    subs: tuple[Sub, ...]
    before: Assessment
    kept_before_s: float
    kept_after_s: float
    holds: tuple[Hold, ...] = ()
    moved_chores: int = 0
    leave_it: bool = True

    @property
    def gain_s(self) -> float:
        """What is gained, waiting not counted."""
        return self.kept_after_s - self.kept_before_s

    @property
    def held_s(self) -> float:
        """What is waited in all."""
        return float(sum(one.seconds for one in self.holds))

    @property
    def later_s(self) -> float:
        """By how much the last sub ends later; less than 0 where it ends earlier."""
        ends = [max(sub.end for sub in subs) for subs in (self.subs, self.planned)]
        return (ends[0] - ends[1]).total_seconds()

    @property
    def left_out(self) -> int:
        """How many subs are left out at the end."""
        return len(self.planned) - len(self.subs)

    @property
    def planned(self) -> list[Sub]:
        """The subs as they were planned."""
        return [one.sub for one in self.before.judged]

    @property
    def spoiled(self) -> int:
        """How many subs are spoiled as planned."""
        return sum(one.verdict == "spoiled" for one in self.before.judged)


def placed(ready: Planned, choices: Choices, most_held_s: int = MOST_HELD_S) -> Placed:
    """Find the best starts, on whole seconds from the plan's first."""
    found = _assessed(ready, choices, most_held_s)
    subs = [one.sub for one in found.judged]
    kinds = kinds_of(found, _until_s(ready, subs, most_held_s))
    task = task_of(ready, subs)
    best = place(
        kinds.values,
        kinds.which,
        task.steps,
        chains=task.chains,
        most_held=most_held_s,
    )
    kept_s = sum(kinds.kept(k, sub) for k, sub in enumerate(subs))
    as_planned = Placed(
        plan=ready.plan,
        subs=tuple(subs),
        before=found,
        kept_before_s=kept_s,
        kept_after_s=kept_s,
    )
    if best.value - kept_s < _WORTH * max(sub.exposure_s for sub in subs):
        return as_planned
    return _moved(as_planned, ready, task, best, kinds)


def _moved(
    planned: Placed, ready: Planned, task: Task, best: Placement, kinds: Kinds
) -> Placed:
    """The plan as it comes out."""
    subs = _opened(planned.subs, task, best)
    return replace(
        planned,
        plan=_rewritten(ready, subs),
        subs=subs,
        kept_after_s=best.value + best.held,
        holds=tuple(_holds(subs, task.held(best), kinds)),
        moved_chores=task.moved(best),
        leave_it=False,
    )


def _assessed(ready: Planned, choices: Choices, most_held_s: int) -> Assessment:
    """The plan judged, with what crosses its fields in the time it may take longer."""
    wider = replace(choices, margin_s=choices.margin_s + most_held_s)
    return assess(
        ready.session,
        ready.services,
        wider,
        notes=ready.notes,
    )


def _until_s(ready: Planned, subs: Sequence[Sub], most_held_s: int) -> float:
    """Latest end, seconds from the first start: not into a dawn the plan avoids."""
    end = max(sub.end for sub in subs)
    latest = end + timedelta(seconds=most_held_s)
    dark = ready.services.night.dark
    if dark is not None and dark.start <= end <= dark.end:
        latest = min(latest, dark.end)
    return (latest - subs[0].start).total_seconds()


def _opened(subs: Sequence[Sub], task: Task, best: Placement) -> tuple[Sub, ...]:
    """The subs that are taken, as they open now.

    Where the plan's starts were fixed, their chores stay where they were.
    """
    origin = subs[0].start
    chores = task.before(best) if task.kinds else [sub.before for sub in subs]
    frames = _frames(subs, chores)
    return tuple(
        replace(
            sub, start=origin + timedelta(seconds=opens), before=before, target=frame
        )
        for sub, opens, before, frame in zip(
            subs, best.starts, chores, frames, strict=True
        )
        if opens >= 0
    )


def _frames(subs: Sequence[Sub], chores: Sequence[tuple[str, ...]]) -> Iterator[Target]:
    """Each sub's frame, turned by half a turn from where its target's flip is now."""
    flips = {sub.target.name for sub in subs if "flip" in sub.before}
    now: dict[str, Target] = {}
    for sub, before in zip(subs, chores, strict=True):
        name = sub.target.name
        if name not in flips:
            yield sub.target
            continue
        if name not in now:
            first = "flip" in sub.before
            now[name] = half_turned(sub.target) if first else sub.target
        if "flip" in before:
            now[name] = half_turned(now[name])
        yield now[name]


def _holds(subs: Sequence[Sub], held: Sequence[int], kinds: Kinds) -> Iterator[Hold]:
    for k, (sub, seconds) in enumerate(zip(subs, held, strict=False)):
        if seconds > 0:
            yield Hold(sub=sub, seconds=seconds, crossing=kinds.worst(k, sub, seconds))


def _rewritten(ready: Planned, subs: Sequence[Sub]) -> Plan:
    """The plan with its starts fixed."""
    return replace(
        ready.plan,
        site=ready.plan.site or ready.services.site.name,
        rig=rig_of(ready.session, subs).name,
        start=subs[0].start,
        groups=(),
        subs=fixed(subs),
    )
