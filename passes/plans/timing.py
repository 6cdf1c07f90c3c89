"""When each sub of a plan opens: exposures and overheads run off one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
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


def _flipped(target: Target) -> Target:
    turned = (target.position_angle_deg + 180.0) % 360.0
    return replace(target, position_angle_deg=turned)


def _fixed(
    plan: Plan, targets: dict[str, Target], transit: Transit | None
) -> tuple[Sub, ...]:
    """Subs whose starts stand in the plan already."""
    flip = _Flip(plan, transit, plan.subs[0].start)
    first = next(iter(targets))
    found = []
    for i, one in enumerate(plan.subs, 1):
        target = targets[one.target or first]
        if flip.due(target, one.start):
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
        return _flipped(target) if target.name in self._turned else target


@dataclass(slots=True)
class _Run:
    """A plan being run off."""

    plan: Plan
    targets: dict[str, Target]
    transit: Transit | None

    def subs(self) -> tuple[Sub, ...]:
        plan, over = self.plan, self.plan.overheads
        assert plan.start is not None
        time = focused = plan.start
        flip = _Flip(plan, self.transit, plan.start)
        found: list[Sub] = []
        for target, group in self._exposures():
            if flip.due(target, time):
                time += timedelta(seconds=over.flip_s)
                flip.done(target)
            if over.focus_s and time - focused >= timedelta(
                minutes=over.focus_every_min
            ):
                time += timedelta(seconds=over.focus_s)
                focused = time
            one = PlannedSub(
                start=time,
                exposure_s=group.exposure_s,
                filter=group.filter,
                gain=group.gain,
            )
            found.append(_sub(plan, len(found) + 1, one, flip.frame(target)))
            time = found[-1].end + timedelta(seconds=over.download_s)
            if len(found) % over.dither_every == 0:
                time += timedelta(seconds=over.settle_s)
        return tuple(found)

    def _exposures(self) -> Iterator[tuple[Target, Group]]:
        """Each exposure in order: target after target, group after group."""
        total = 0
        for name, target in self.targets.items():
            for group in self.plan.groups:
                if group.target in ("", name):
                    total += group.count
                    if total > MOST_SUBS:
                        raise InputError(
                            f"{self.plan.where}: more than {MOST_SUBS:,} subs"
                        )
                    yield from ((target, group) for _ in range(group.count))
