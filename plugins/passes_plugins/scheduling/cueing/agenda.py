"""The steps still to be given out, their lateness by subject, and what is next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from passes.plans.schedule import Entry


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

    def take(self, item: Item) -> None:
        """It has been given out, or skipped."""
        self._items.remove(item)

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
