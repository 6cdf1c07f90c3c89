"""A plan's chores as the placing takes them, and what came of them once placed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import ceil

from passes import sky
from passes.model import Rig, Session, Sub
from passes.placing import Chore, Placement
from passes_plugins.streaks.planning import Planned

#: A focus run may come earlier by so much of its interval, a dither by so much of its.
_EARLY_FOCUS, _EARLY_DITHER = 0.25, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Chores of one kind in their order, and before which sub the plan has each."""

    word: str
    chores: tuple[Chore, ...]
    planned: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """How long each sub keeps the camera busy, whole seconds, and what else is due."""

    steps: tuple[int, ...]
    kinds: tuple[Kind, ...] = ()

    @property
    def chains(self) -> list[tuple[Chore, ...]]:
        """The chores by kind."""
        return [kind.chores for kind in self.kinds]

    def before(self, best: Placement) -> list[tuple[str, ...]]:
        """The chores before each sub, in order of time."""
        found: list[list[tuple[int, str]]] = [[] for _ in best.starts]
        for kind, times in zip(self.kinds, best.chores, strict=True):
            for time in times:
                if time >= 0:
                    found[_next(best, time)].append((time, kind.word))
        return [tuple(word for _, word in sorted(some)) for some in found]

    def held(self, best: Placement) -> list[int]:
        """Seconds waited before each sub, chores not counted."""
        spent = [0] * len(best.starts)
        for kind, times in zip(self.kinds, best.chores, strict=True):
            for chore, time in zip(kind.chores, times, strict=True):
                if time >= 0:
                    spent[_next(best, time)] += chore.steps
        ends = (0, *(a + b for a, b in zip(best.starts, self.steps, strict=True)))
        gaps = zip(best.starts, ends, spent, strict=False)
        return [start - end - some if start >= 0 else 0 for start, end, some in gaps]

    def moved(self, best: Placement) -> int:
        """How many chores come before another sub than planned."""
        return sum(
            time >= 0 and k >= 0 and _next(best, time) != k
            for kind, times in zip(self.kinds, best.chores, strict=True)
            for time, k in zip(times, kind.planned, strict=True)
        )


def _next(best: Placement, time: int) -> int:
    """The sub before which something at that step is done."""
    after = sum(0 <= start < time for start in best.starts)
    return min(after, len(best.starts) - 1)


def task_of(ready: Planned, subs: Sequence[Sub]) -> Task:
    """The plan's work; where its starts are fixed, their gaps are kept as they are."""
    over = ready.plan.overheads
    busy = [sub.exposure_s + over.download_s for sub in subs]
    if ready.plan.subs:
        gaps = ((b.start - a.start).total_seconds() for a, b in pairwise(subs))
        return Task(steps=_whole([*gaps, busy[-1]]))
    kinds = (_dithers(ready, subs), _focus(ready, subs), *_flips(ready, subs))
    return Task(steps=_whole(busy), kinds=tuple(kind for kind in kinds if kind.chores))


def _whole(seconds: Sequence[float]) -> tuple[int, ...]:
    """Whole seconds, rounded so that together they are less than one too long."""
    ends = [0, *(ceil(end - 1e-6) for end in accumulate(seconds))]
    return tuple(max(end - start, 1) for start, end in pairwise(ends))


def _planned(subs: Sequence[Sub], word: str) -> tuple[int, ...]:
    return tuple(k for k, sub in enumerate(subs) if word in sub.before)


def _dithers(ready: Planned, subs: Sequence[Sub]) -> Kind:
    """A settling time after so many subs; up to half of them earlier."""
    over = ready.plan.overheads
    steps = ceil(over.settle_s - 1e-6)
    early = int(_EARLY_DITHER * (over.dither_every - 1) + 0.5)
    planned = _planned(subs, "dither")
    chores = (Chore(steps=steps, first=k - early, last=k) for k in planned)
    return Kind(word="dither", chores=tuple(chores), planned=planned)


def _focus(ready: Planned, subs: Sequence[Sub]) -> Kind:
    """Focus runs of the plan; a quarter of their interval earlier at most."""
    over = ready.plan.overheads
    steps = ceil(over.focus_s - 1e-6)
    planned = _planned(subs, "focus")
    chores = []
    for before, k in pairwise((0, *planned)):
        length_s = (subs[k].start - subs[0].start).total_seconds() / k
        early = int(_EARLY_FOCUS * 60.0 * over.focus_every_min / length_s)
        first = max(k - early, before + 1)
        chores.append(Chore(steps=steps, first=first, last=k))
    return Kind(word="focus", chores=tuple(chores), planned=planned)


def _flips(ready: Planned, subs: Sequence[Sub]) -> Iterator[Kind]:
    """Each target's flip: never before the meridian, and as late as the mount may."""
    steps = ceil(ready.plan.overheads.flip_s - 1e-6)
    if steps < 1 or rig_of(ready.session, subs).mount.kind == "alt-azimuth":
        return
    names: dict[str, list[int]] = {}
    for k, sub in enumerate(subs):
        names.setdefault(sub.target.name, []).append(k)
    for indices in names.values():
        flips = [k for k in indices if "flip" in subs[k].before]
        longest_s = max(subs[k].exposure_s for k in indices)
        # the sub before the flip must have ended by then, not only begun
        within_s = 60.0 * ready.plan.overheads.flip_within_min - longest_s
        if flips[:1] == indices[:1]:  # past the meridian when the mount comes to it
            within_s = 0.0
        chore = _flip(ready, subs, indices, within_s, steps)
        if chore is not None:
            planned = flips[0] if flips else -1
            yield Kind(word="flip", chores=(chore,), planned=(planned,))


def _flip(
    ready: Planned,
    subs: Sequence[Sub],
    indices: Sequence[int],
    within_s: float,
    steps: int,
) -> Chore | None:
    target, start = subs[indices[0]].target, subs[0].start
    site = ready.services.site
    when = sky.next_transit(site, target.ra_deg, target.dec_deg, start)
    if when is None:
        return None
    meridian_s = (when - start).total_seconds()
    return Chore(
        steps=steps,
        first=indices[0],
        last=indices[-1],
        not_before=ceil(meridian_s),
        due=ceil(meridian_s + max(within_s, 0.0)),
    )


def rig_of(session: Session, subs: Sequence[Sub]) -> Rig:
    """The rig that takes these subs."""
    named = [rig for rig in session.rigs if rig.name == subs[0].rig]
    return (named or list(session.rigs))[0]
