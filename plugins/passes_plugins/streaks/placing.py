"""A plan placed anew: starts and chores where most exposure is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil

import numpy as np
from numpy.typing import NDArray

from passes import sky
from passes.model import Sub
from passes.placing import Chore, Placement, place
from passes.plans import Plan, PlannedSub
from passes_plugins.streaks.assessing import Assessment, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.planning import Planned
from passes_plugins.streaks.worth import expected_weight, threats

Floats = NDArray[np.float64]

#: Waited at most in all, and how much later than planned the last sub may end, s.
MOST_HELD_S = 1800
#: A placement that gains less than this part of a sub is not worth a change.
_WORTH = 0.1
#: A focus run may come earlier by so much of its interval, a dither by so much of its.
_EARLY_FOCUS, _EARLY_DITHER = 0.25, 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A plan, the same plan placed, and what that is worth; seconds.

    ``kept_before_s`` and ``kept_after_s`` are the exposure expected to be kept; the
    cost is ``held_s`` of waiting, and ``later_s`` by which the session ends later.
    ``leave_it`` says that the plan should be left as it is.
    """

    plan: Plan
    before: Assessment
    kept_before_s: float
    kept_after_s: float
    held_s: float
    later_s: float
    left_out: int
    moved_chores: int
    leave_it: bool

    @property
    def gain_s(self) -> float:
        """What is gained, waiting not counted."""
        return self.kept_after_s - self.kept_before_s


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """The plan as the kernel takes it; chores by kind, then by their order."""

    steps: list[int]
    chains: list[list[Chore]]
    planned: list[list[int]]


def placed(ready: Planned, choices: Choices, most_held_s: int = MOST_HELD_S) -> Placed:
    """Find the best starts, on whole seconds from the plan's first."""
    wider = replace(choices, margin_s=choices.margin_s + most_held_s)
    found = assess(
        ready.session,
        ready.services,
        wider,
        loose_deg=ready.loose_deg,
        notes=ready.notes,
    )
    subs = [one.sub for one in found.judged]
    until_s = _until(ready, subs, most_held_s)
    grid = np.arange(0.0, until_s + 1.0)
    values, which = _values(found, grid, until_s)
    task = _task(ready, subs)
    best = place(values, which, task.steps, chains=task.chains, most_held=most_held_s)
    origin = subs[0].start
    opens = [round((sub.start - origin).total_seconds()) for sub in subs]
    before = float(sum(_kept(values, c, t) for c, t in zip(which, opens, strict=True)))
    after = best.value + best.held
    last = max(
        (t + sub.exposure_s for t, sub in zip(best.starts, subs, strict=True) if t >= 0)
    )
    leave = best.value - before < _WORTH * max(sub.exposure_s for sub in subs)
    return Placed(
        plan=ready.plan if leave else _rewritten(ready, subs, best),
        before=found,
        kept_before_s=before,
        kept_after_s=before if leave else after,
        held_s=0.0 if leave else float(best.held),
        later_s=0.0 if leave else last - (opens[-1] + subs[-1].exposure_s),
        left_out=0 if leave else sum(t < 0 for t in best.starts),
        moved_chores=0 if leave else _moved(task, best),
        leave_it=leave,
    )


def _kept(values: Floats, which: int, opens: int) -> float:
    value = values[which, opens] if opens < values.shape[1] else -np.inf
    return float(value) if np.isfinite(value) else 0.0


def _until(ready: Planned, subs: Sequence[Sub], most_held_s: int) -> float:
    """Latest end, seconds from the first start: not into a dawn the plan avoids."""
    end = max(sub.end for sub in subs)
    latest = end + timedelta(seconds=most_held_s)
    dark = ready.services.night.dark
    if dark is not None and dark.start <= end <= dark.end:
        latest = min(latest, dark.end)
    return (latest - subs[0].start).total_seconds()


def _values(
    found: Assessment, grid: Floats, until_s: float
) -> tuple[Floats, list[int]]:
    """Exposure expected to be kept by kind of sub and second of opening."""
    kinds: dict[tuple[str, str, str, float], list[Sub]] = {}
    keys = []
    for one in found.judged:
        sub = one.sub
        keys.append((sub.target.name, sub.filter, sub.gain, sub.exposure_s))
        kinds.setdefault(keys[-1], []).append(sub)
    rows = {key: row for row, key in enumerate(kinds)}
    values = np.array([_worth(found, subs, grid, until_s) for subs in kinds.values()])
    return values, [rows[key] for key in keys]


def _worth(
    found: Assessment, subs: Sequence[Sub], grid: Floats, until_s: float
) -> Floats:
    weight = np.ones(grid.size)
    frames = {one.sub.index: one.frame for one in found.judged}
    indices = {sub.index for sub in subs}
    for look in found.found:
        mine = [sub for sub in look.look.subs if sub.index in indices]
        frame = frames[mine[0].index] if mine else None
        if frame is not None:
            some = threats(found, look, frame, mine)
            weight *= expected_weight(some, mine[0], grid)
    value = subs[0].exposure_s * weight
    return np.where(grid + subs[0].exposure_s <= until_s, value, -np.inf)


# --- chores ---------------------------------------------------------


def _task(ready: Planned, subs: Sequence[Sub]) -> _Task:
    if ready.plan.subs:  # its gaps are kept as they are
        gaps = [(b.start - a.start).total_seconds() for a, b in pairwise(subs)]
        last = subs[-1].exposure_s + ready.plan.overheads.download_s
        steps = [max(ceil(gap - 1e-6), 1) for gap in [*gaps, last]]
        return _Task(steps=steps, chains=[], planned=[])
    over = ready.plan.overheads
    busy = [max(ceil(sub.exposure_s + over.download_s - 1e-6), 1) for sub in subs]
    kinds = [_dithers(ready, subs), _focus(ready, subs), *_flips(ready, subs)]
    kinds = [pairs for pairs in kinds if pairs]
    return _Task(
        steps=busy,
        chains=[[chore for chore, _ in pairs] for pairs in kinds],
        planned=[[k for _, k in pairs] for pairs in kinds],
    )


#: A chore, and after how many subs the plan has it.
_Pairs = list[tuple[Chore, int]]


def _dithers(ready: Planned, subs: Sequence[Sub]) -> _Pairs:
    """A settling time after so many subs; up to half of them earlier."""
    over = ready.plan.overheads
    steps = ceil(over.settle_s - 1e-6)
    if steps < 1:
        return []
    early = int(_EARLY_DITHER * (over.dither_every - 1) + 0.5)
    after = range(over.dither_every, len(subs), over.dither_every)
    return [(Chore(steps=steps, first=k - early, last=k), k) for k in after]


def _focus(ready: Planned, subs: Sequence[Sub]) -> _Pairs:
    """Focus runs of the plan; a quarter of their interval earlier at most."""
    over = ready.plan.overheads
    steps = ceil(over.focus_s - 1e-6)
    found: _Pairs = []
    focused = subs[0].start
    for k, sub in enumerate(subs):
        begun = sub.start - timedelta(seconds=over.focus_s)
        due = steps >= 1 and begun - focused >= timedelta(minutes=over.focus_every_min)
        if k and due:
            length = (sub.start - subs[0].start).total_seconds() / k
            early = int(_EARLY_FOCUS * 60.0 * over.focus_every_min / length)
            first = max(k - early, found[-1][1] + 1 if found else 1)
            found.append((Chore(steps=steps, first=first, last=k), k))
            focused = sub.start
    return found


def _flips(ready: Planned, subs: Sequence[Sub]) -> list[_Pairs]:
    """Each target's flip: due once it has crossed the meridian, never before."""
    steps = ceil(ready.plan.overheads.flip_s - 1e-6)
    rig = ready.session.rigs[0]
    if steps < 1 or rig.mount.kind == "alt-azimuth":
        return []
    names: dict[str, list[int]] = {}
    for k, sub in enumerate(subs):
        names.setdefault(sub.target.name, []).append(k)
    found = []
    for indices in names.values():
        target = subs[indices[0]].target
        start = subs[0].start
        site = ready.services.site
        when = sky.next_transit(site, target.ra_deg, target.dec_deg, start)
        if when is not None:
            due = ceil((when - start).total_seconds())
            chore = Chore(
                steps=steps,
                first=indices[0],
                last=indices[-1],
                not_before=due,
                due=due,
            )
            found.append([(chore, -1)])
    return found


def _moved(task: _Task, best: Placement) -> int:
    """How many dithers and focus runs come after fewer subs than planned."""
    moved = 0
    for times, planned in zip(best.chores, task.planned, strict=True):
        for time, k in zip(times, planned, strict=True):
            if k >= 0 and time >= 0:
                moved += sum(0 <= start < time for start in best.starts) < k
    return moved


def _rewritten(ready: Planned, subs: Sequence[Sub], best: Placement) -> Plan:
    """The plan with its starts fixed."""
    origin: datetime = subs[0].start
    fixed = tuple(
        PlannedSub(
            start=origin + timedelta(seconds=opens),
            exposure_s=sub.exposure_s,
            target=sub.target.name,
            filter=sub.filter,
            gain=sub.gain,
        )
        for sub, opens in zip(subs, best.starts, strict=True)
        if opens >= 0
    )
    return replace(
        ready.plan,
        site=ready.plan.site or ready.services.site.name,
        rig=ready.session.rigs[0].name,
        start=origin,
        groups=(),
        subs=fixed,
    )
