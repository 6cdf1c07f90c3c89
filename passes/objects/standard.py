"""Tables of standard magnitudes: which row serves an object, and what a row says.

A table is CSV text.  One row: what it is for, a standard magnitude at 1000 km, how far
it can be trusted, by which convention (:mod:`passes.photometry`), and where it comes
from.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from math import inf
from typing import Protocol

from passes.objects.launches import Launch, launch_of
from passes.objects.patterns import Patterns


class Facts(Protocol):
    """What is known of an object; nan and ``""`` are unknown."""

    @property
    def catalog_number(self) -> int: ...
    @property
    def name(self) -> str: ...
    @property
    def designator(self) -> str: ...
    @property
    def object_class(self) -> str: ...
    @property
    def perigee_km(self) -> float: ...
    @property
    def apogee_km(self) -> float: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardRow:
    """One row; every match field that is given must fit the object.

    An object of unknown launch or height fits no row that asks for one.
    """

    catalog_number: int | None = None
    pattern: str = ""
    object_class: str = ""
    launched_from: Launch | None = None
    launched_to: Launch | None = None
    perigee_km: tuple[float, float] = (-inf, inf)
    apogee_km: tuple[float, float] = (-inf, inf)
    value_mag: float
    sigma_mag: float
    convention: str
    basis: str
    source: str
    where: str = ""

    @property
    def class_average(self) -> bool:
        """Whether the row speaks of a class and of no object in particular."""
        return self.catalog_number is None and not self.pattern

    def fits(self, facts: Facts) -> bool:
        """Whether the fields besides the name pattern fit an object."""
        return (
            self.catalog_number in (None, facts.catalog_number)
            and self.object_class in ("", facts.object_class)
            and _inside(facts.perigee_km, self.perigee_km)
            and _inside(facts.apogee_km, self.apogee_km)
            and self._launched(facts.designator)
        )

    def _launched(self, designator: str) -> bool:
        if self.launched_from is None and self.launched_to is None:
            return True
        launch = launch_of(designator)
        if launch is None:
            return False
        after = self.launched_from is None or self.launched_from <= launch
        return after and (self.launched_to is None or launch <= self.launched_to)


def _inside(value: float, limits: tuple[float, float]) -> bool:
    low, high = limits
    return (low == -inf and high == inf) or low <= value < high


class StandardTable:
    """Rows in the order they are tried: numbers, then name patterns, then classes.

    Among equals the order of the text decides.  ``problems`` are the lines that could
    not be used, one sentence each with file and line.
    """

    def __init__(
        self, rows: Iterable[StandardRow], problems: Iterable[str] = ()
    ) -> None:
        self.rows, self.problems = tuple(rows), tuple(problems)
        self._by_number: dict[int, list[int]] = defaultdict(list)
        self._by_class: dict[str, list[int]] = defaultdict(list)
        self._patterns = Patterns([row.pattern for row in self.rows])
        for place, row in enumerate(self.rows):
            if row.catalog_number is not None:
                self._by_number[row.catalog_number].append(place)
            elif not row.pattern:
                self._by_class[row.object_class].append(place)

    def row_for(self, facts: Facts) -> StandardRow | None:
        """The first row that fits an object; None where none does."""
        named = list(self._patterns.matching(facts.name))
        numbered = self._by_number.get(facts.catalog_number, ())
        general = self._by_class.get(facts.object_class, ())
        for place in chain(numbered, named, general):
            row = self.rows[place]
            if (not row.pattern or place in named) and row.fits(facts):
                return row
        return None


def rows_for(
    tables: Sequence[StandardTable], facts: Iterable[Facts]
) -> list[StandardRow | None]:
    """The row that serves each object: of the first table that has one for it."""
    if len(tables) == 1:
        return [tables[0].row_for(one) for one in facts]
    chosen: list[StandardRow | None] = []
    for one in facts:
        found = (table.row_for(one) for table in tables)
        chosen.append(next((row for row in found if row is not None), None))
    return chosen


def basis_counts(
    basis: Iterable[str], class_average: Iterable[bool]
) -> tuple[tuple[str, int, bool], ...]:
    """How often each basis of brightness was used, the most frequent first.

    Takes the two columns of a brightness answer; gives (words, objects, whether it is
    a class average).
    """
    counts = Counter(zip(basis, class_average, strict=True))
    return tuple((words, n, average) for (words, average), n in counts.most_common())
