"""What crosses a frame, each crossing once, as it is drawn and listed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.marks import VERDICTS, Mark

if TYPE_CHECKING:
    from passes_plugins.streaks.assessing import Assessment, Judged

#: More trails than this in one frame cannot be told apart.
_MOST_TRAILS = 16
#: Middles of dithered frames are no further apart, in the frame's shorter side.
_NEAR = 0.1
#: The same object again after this is another crossing.
_APART = timedelta(minutes=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """One crossing as drawn: its mark in the sub that it harms most, and all subs."""

    mark: Mark
    subs: tuple[int, ...]

    @property
    def verdict(self) -> str:
        """The verdict, or that it is not lit."""
        return self.mark.verdict or "unlit"

    @property
    def name(self) -> str:
        """What it is called."""
        return self.mark.crossing.name or str(self.mark.crossing.catalog_number)

    @property
    def said(self) -> str:
        """Its verdict and its subs in words."""
        word = "sub" if len(self.subs) == 1 else "subs"
        ends = f"{min(self.subs)}"
        ends += f"–{max(self.subs)}" if len(self.subs) > 1 else ""
        return f"{self.verdict}, {word} {ends}"


def frame_of_target(found: Assessment, target: str = "") -> Judged | None:
    """The first sub whose frame is known, of that target if one is named."""
    return next(
        (
            one
            for one in found.judged
            if one.frame is not None and target in ("", one.sub.target.name)
        ),
        None,
    )


def frames_apart(found: Assessment) -> list[Judged]:
    """The first sub of each field, in order of time; dithers and the flip are none."""
    first: list[Judged] = []
    for one in found.judged:
        frame = one.frame
        if frame is not None and not any(
            other.frame is not None and _about(other.frame, frame) for other in first
        ):
            first.append(one)
    return first


def trails_in(found: Assessment, frame: Frame) -> list[Trail]:
    """Every crossing of subs with about this frame, once, in order of time.

    Dithered frames differ a little, and have each its own piece of one crossing.
    """
    seen = [
        (mark, one.sub.index)
        for one in found.judged
        if one.frame is not None and _about(one.frame, frame)
        for mark in one.marks
        if mark.here
    ]
    seen.sort(key=lambda pair: (pair[0].crossing.catalog_number, _entry(pair[0])))
    runs: list[list[tuple[Mark, int]]] = []
    for mark, index in seen:
        if runs and _one_run(runs[-1][-1][0], mark):
            runs[-1].append((mark, index))
        else:
            runs.append([(mark, index)])
    trails = [
        Trail(
            mark=max((mark for mark, _ in run), key=_rank),
            subs=tuple(sorted({index for _, index in run})),
        )
        for run in runs
    ]
    return sorted(trails, key=lambda one: _entry(one.mark))


def _about(one: Frame, other: Frame) -> bool:
    """Whether two frames show mostly the same."""
    near = _NEAR * min(other.size_deg)
    return one.same_field(other) or (
        one.size_px == other.size_px and one.away_deg(other) < near
    )


def _entry(mark: Mark) -> datetime:
    return mark.crossing.entry.time


def _one_run(before: Mark, after: Mark) -> bool:
    """Whether two marks are of one crossing of one object, in order of entry."""
    if before.crossing.catalog_number != after.crossing.catalog_number:
        return False
    return _entry(after) - before.crossing.exit.time < _APART


def most_harmful(trails: list[Trail]) -> list[Trail]:
    """As many as can be told apart, in order of time.

    Where there are too many, lit ones alone, the most harmful first.
    """
    lit = [one for one in trails if one.verdict != "unlit"]
    if len(trails) > _MOST_TRAILS and lit:
        trails = lit
    kept = sorted(trails, key=lambda one: -_rank(one.mark))[:_MOST_TRAILS]
    return sorted(kept, key=lambda one: one.mark.crossing.entry.time)


def _rank(mark: Mark) -> int:
    return VERDICTS.index(mark.verdict) if mark.verdict else -1
