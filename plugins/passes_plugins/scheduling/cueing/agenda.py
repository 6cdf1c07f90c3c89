"""The steps still to be given out, their lateness by subject, and what is next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from passes.model import Step
from passes.plans.schedule import Entry

#: A step this far behind its time is late, s: a restart takes less, and a recording has
#: a longer lead.
LATE_S = 5.0
#: What ends what was begun.
ENDS = {"stop": "start", "resume": "hold"}


@dataclass(slots=True)
class Item:
    """A step that waits; ``due`` in seconds since 1970, lead and lateness counted."""

    entry: Entry
    due: float

    @property
    def id(self) -> str:
        """The step's own id."""
        return self.entry.step.id


class Agenda:
    """Steps in order of when they are due.

    ``late_by`` are seconds by subject; the empty name stands for every subject.
    """

    def __init__(
        self, entries: Iterable[Entry], lead_s: float, late_by: Mapping[str, float]
    ) -> None:
        self.lead_s, self._late = lead_s, dict(late_by)
        self._items = [Item(entry, self._due(entry)) for entry in entries]
        self._sort()

    def _due(self, entry: Entry) -> float:
        step = entry.step
        return step.time.timestamp() - self.lead_s + self.late_s(step.subject)

    def late_s(self, subject: str) -> float:
        """By how much a subject's steps are moved."""
        return self._late.get(subject, self._late.get("", 0.0))

    def _sort(self) -> None:
        self._items.sort(key=lambda item: item.due)

    def __len__(self) -> int:
        return len(self._items)

    def items(self) -> tuple[Item, ...]:
        """All that is left, in order."""
        return tuple(self._items)

    def first(self) -> Item | None:
        """What is due next."""
        return self._items[0] if self._items else None

    def movable(self) -> Item | None:
        """What comes next of an object, which may be late; else what is due next."""
        objects = (i for i in self._items if i.entry.step.catalog_number is not None)
        return next(objects, self.first())

    def take(self, item: Item) -> None:
        """It has been given out, or skipped."""
        self._items.remove(item)

    def goes_on(self, step: Step, now: float) -> bool:
        """Whether what a late step belongs to can still be had, by what is left.

        A recording or a hold lasts until its end is due; an exposure of a session that
        opens late would run into the next.  Making ready and pointing count for the
        recording that they were for.
        """
        mine = [item for item in self._items if item.entry.step.rig == step.rig]
        if step.event in ENDS.values():
            return not _is_sub(step) and _lasts(step, mine, now)
        return step.event in ("ready", "point") and _wanted(step, mine, now)

    def shift(self, subject: str, seconds: float, now: float) -> float:
        """Move a subject's remaining steps; none of them into the past.

        Gives the subject's lateness after it.
        """
        self._late[subject] = self.late_s(subject) + seconds
        for item in self._items:
            if item.entry.step.subject == subject:
                wanted = self._due(item.entry)
                item.due = wanted if wanted >= now else max(min(item.due, now), wanted)
        self._sort()
        return self._late[subject]


def _is_sub(step: Step) -> bool:
    return (step.advice or {}).get("kind") == "sub"


def _lasts(step: Step, later: Iterable[Item], now: float) -> bool:
    """Whether the end of what a step begins is still to come."""
    for item in later:
        other = item.entry.step
        if other.subject == step.subject:
            if other.event == step.event:
                return False
            if ENDS.get(other.event) == step.event:
                return item.due > now
    return False


def _wanted(step: Step, later: Sequence[Item], now: float) -> bool:
    """Whether a recording for which a step prepares begins yet, or goes on."""
    for place, item in enumerate(later):
        other = item.entry.step
        if other.event == step.event:
            return False
        if other.event == "start":
            if other.subject != step.subject:
                return False
            rest = later[place + 1 :]
            ahead = item.due > now - LATE_S
            if ahead or (not _is_sub(other) and _lasts(other, rest, now)):
                return True
    return False
