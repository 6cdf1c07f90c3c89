"""When each sub of a plan opens: exposures and overheads run off one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from passes.errors import InputError
from passes.model import Sub, Target
from passes.plans.sessions import MOST_SUBS, Group, Plan, PlannedSub

#: When a target crosses the meridian next after a time; None where it never does.
Transit = Callable[[Target, datetime], datetime | None]


def subs_of(
    plan: Plan, *, transit: Transit | None = None, rotation_deg: float = 0.0
) -> tuple[Sub, ...]:
    """The subs of a plan, in order of time, counted from 1.

    Targets without a position angle of their own take ``rotation_deg`` (the rig's).
    With ``transit`` and a ``flip_s`` in the plan, the first sub that would begin after
    its target's transit waits for the flip, and from then on that target's frame is
    turned by 180°.  Raises InputError where there are too many subs.
    """
    targets = {
        one.name: one
        if one.name in plan.rotations
        else replace(one, position_angle_deg=rotation_deg)
        for one in plan.targets
    }
    if plan.subs:
        return _fixed(plan, targets, transit)
    return _Run(plan, targets, transit).subs()


def fixed(subs: Iterable[Sub]) -> tuple[PlannedSub, ...]:
    """Subs as a plan has them whose starts are fixed."""
    return tuple(
        PlannedSub(
            start=sub.start,
            exposure_s=sub.exposure_s,
            target=sub.target.name,
            filter=sub.filter,
            gain=sub.gain,
            before=sub.before,
        )
        for sub in subs
    )


def half_turned(target: Target) -> Target:
    """The target as a mount's flip at the meridian shows it: turned by 180°."""
    turned = (target.position_angle_deg + 180.0) % 360.0
    return replace(target, position_angle_deg=turned)


def _fixed(
    plan: Plan, targets: dict[str, Target], transit: Transit | None
) -> tuple[Sub, ...]:
    """Subs whose starts stand in the plan already, and perhaps their flips."""
    flip = _Flip(plan, transit, plan.subs[0].start)
    first = next(iter(targets))
    told = {one.target or first for one in plan.subs if "flip" in one.before}
    found = []
    for i, one in enumerate(plan.subs, 1):
        target = targets[one.target or first]
        unsaid = target.name not in told
        if "flip" in one.before or (unsaid and flip.due(target, one.start)):
            flip.done(target)
        found.append(_sub(plan, i, one, flip.frame(target)))
    return tuple(found)


def _sub(plan: Plan, index: int, one: PlannedSub, target: Target) -> Sub:
    return Sub(
        index=index,
        start=one.start,
        exposure_s=one.exposure_s,
        target=target,
        rig=plan.rig,
        filter=one.filter,
        gain=one.gain,
        start_jitter_s=plan.overheads.start_jitter_s,
        before=one.before,
    )


class _Flip:
    """Which targets have crossed the meridian, and which frames are turned."""

    def __init__(self, plan: Plan, transit: Transit | None, start: datetime) -> None:
        wanted = plan.overheads.flip_s > 0.0 and transit is not None
        self._transit = transit if wanted else None
        self._start = start
        self._times: dict[str, datetime | None] = {}
        self._turned: set[str] = set()

    def due(self, target: Target, time: datetime) -> bool:
        """Whether the mount must flip before an exposure at that time."""
        if self._transit is None or target.name in self._turned:
            return False
        if target.name not in self._times:
            self._times[target.name] = self._transit(target, self._start)
        when = self._times[target.name]
        return when is not None and time >= when

    def done(self, target: Target) -> None:
        """The flip has been made."""
        self._turned.add(target.name)

    def frame(self, target: Target) -> Target:
        """The target as the frame shows it now."""
        return half_turned(target) if target.name in self._turned else target


class _Run:
    """A plan being run off."""

    def __init__(
        self, plan: Plan, targets: dict[str, Target], transit: Transit | None
    ) -> None:
        assert plan.start is not None
        self._plan, self._targets = plan, targets
        self._flip = _Flip(plan, transit, plan.start)
        self._time = self._focused = plan.start

    def subs(self) -> tuple[Sub, ...]:
        over = self._plan.overheads
        found: list[Sub] = []
        for target, group in self._exposures():
            before = tuple(self._chores(target, len(found)))
            one = PlannedSub(
                start=self._time,
                exposure_s=group.exposure_s,
                filter=group.filter,
                gain=group.gain,
                before=before,
            )
            frame = self._flip.frame(target)
            found.append(_sub(self._plan, len(found) + 1, one, frame))
            self._time = found[-1].end + timedelta(seconds=over.download_s)
        return tuple(found)

    def _chores(self, target: Target, taken: int) -> Iterator[str]:
        """What is done before the next sub; the time goes on with it."""
        over = self._plan.overheads
        if over.settle_s and taken and taken % over.dither_every == 0:
            self._time += timedelta(seconds=over.settle_s)
            yield "dither"
        if self._flip.due(target, self._time):
            self._time += timedelta(seconds=over.flip_s)
            self._flip.done(target)
            yield "flip"
        waited = self._time - self._focused
        if over.focus_s and waited >= timedelta(minutes=over.focus_every_min):
            self._time += timedelta(seconds=over.focus_s)
            self._focused = self._time
            yield "focus"

    def _exposures(self) -> Iterator[tuple[Target, Group]]:
        """Each exposure in order: target after target, group after group."""
        plan, total = self._plan, 0
        for name, target in self._targets.items():
            for group in plan.groups:
                if group.target in ("", name):
                    total += group.count
                    if total > MOST_SUBS:
                        raise InputError(f"{plan.where}: more than {MOST_SUBS:,} subs")
                    yield from ((target, group) for _ in range(group.count))
