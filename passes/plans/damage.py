"""What is amiss in a file of steps: counted, and told in one line for each kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any, Protocol, TypeVar

#: How many lines that are amiss are told one by one.
_SHOWN = 20


class _Entry(Protocol):
    @property
    def step(self) -> Any: ...
    @property
    def document(self) -> Any: ...


E = TypeVar("E", bound=_Entry)


class Damage:
    """Gathers what is amiss; ``where`` names the file."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._told: list[str] = []
        self._fields: dict[str, int] = {}

    def lost(self, number: int, why: str) -> None:
        """A line that holds no step."""
        self._told.append(f"{self._where}:{number}: {why}; the line is left out")

    def kept(self, number: int, what: str) -> None:
        """A line whose step is kept all the same."""
        self._told.append(f"{self._where}:{number}: {what}")

    def fields(self, number: int, names: Iterable[str]) -> None:
        """Fields that nobody knows; each is told once."""
        for name in names:
            self._fields.setdefault(name, number)

    def first(self) -> str:
        """The first thing amiss, to end a message with."""
        if not self._told:
            return ""
        return ": " + self._told[0].removeprefix(self._where).lstrip(":")

    def unique(self, entries: Iterable[E], rename: Callable[[E, str], E]) -> list[E]:
        """Entries under an id each: a repeated line goes, a namesake is renamed."""
        by_id: dict[str, E] = {}
        kept: list[E] = []
        for entry in entries:
            name = entry.step.id
            if name in by_id:
                if by_id[name].document == entry.document:
                    self._told.append(
                        f"{self._where}: step {name!r} stands there twice; done once"
                    )
                    continue
                entry = rename(entry, _free(name, by_id))
                self._told.append(
                    f"{self._where}: two steps are called {name!r}; the second is "
                    f"now {entry.step.id!r}"
                )
            by_id[entry.step.id] = entry
            kept.append(entry)
        return kept

    def ordered(self, entries: Sequence[E]) -> tuple[E, ...]:
        """Entries in order of time; says so where they were not."""
        moved = sum(
            later.step.time < earlier.step.time for earlier, later in pairwise(entries)
        )
        if moved:
            self._told.append(
                f"{self._where}: out of order in {moved} place{'s' * (moved > 1)}; "
                "taken in order of time"
            )
        return tuple(sorted(entries, key=lambda entry: entry.step.time))

    def problems(self) -> tuple[str, ...]:
        """One line for each thing amiss."""
        told = self._told[:_SHOWN]
        if len(self._told) > _SHOWN:
            told.append(
                f"{self._where}: and {len(self._told) - _SHOWN} more like these"
            )
        for name, number in self._fields.items():
            told.append(
                f"{self._where}:{number}: field {name[:40]!r} is unknown; passed on as "
                "it stands"
            )
        return tuple(told)


def _free(name: str, taken: dict[str, Any]) -> str:
    number = 2
    while f"{name}~{number}" in taken:
        number += 1
    return f"{name}~{number}"
