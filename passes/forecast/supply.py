"""Where the element sets of a request come from: files, the demo, the archive."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from functools import cached_property

import numpy as np

from passes import elements, objects
from passes.elements import Catalogue, Skipped
from passes.errors import NothingToSearch, UnknownName
from passes.forecast.attaching import Attached
from passes.forecast.demo import Demo
from passes.forecast.kept import KeptSets, decayed
from passes.forecast.lateness import made_late
from passes.forecast.measured import Measured, measured_in
from passes.forecast.operators import Operators
from passes.forecast.request import Request
from passes.model import Span

#: An element set further than this from the window is left out, days.
USABLE_DAYS = 30.0
#: How the reason ends where that is so.
TOO_FAR = "days away from the window"


class Supply:
    """Element sets for any window, read once."""

    def __init__(self, request: Request, demo: Demo | None) -> None:
        self._request, self._demo = request, demo
        self._reading: elements.Reading | None = None
        given = demo is not None or request.element_files
        self._kept = None if given else KeptSets(request)
        self.operators = Operators(request)

    def reading(self) -> elements.Reading:
        """Everything the request's files (or the demo) hold."""
        if self._reading is None:
            self._reading = self._read()
        return self._reading

    def _read(self) -> elements.Reading:
        request = self._request
        if self._demo is not None:
            return elements.read_text(self._demo.elements, "demo")
        limits: elements.Limits = {}
        if request.max_bytes is not None:
            limits = elements.limits(request.max_bytes)
        return elements.read(
            list(request.element_files),
            strict=request.strict,
            stdin=request.stdin,
            **limits,
        )

    @property
    def rejected(self) -> tuple[Skipped, ...]:
        """What could not be read in the request's files."""
        return () if self._kept else self.reading().rejected

    def why_empty(self) -> str:
        """Why no set can be used: the first fault, by file and line, and how many."""
        if not self.rejected:
            return "the element files hold no element sets"
        first, others = self.rejected[0], len(self.rejected) - 1
        more = f"; {others} more records could not be used either" if others else ""
        return f"{first.where}: {first.reason}; no element set is left{more}"

    def catalogue(
        self, window: Span, names: tuple[str, ...] = (), late_by_s: float | None = None
    ) -> Catalogue:
        """One set an object, nearest to the window's middle; the too old left out."""
        attached = Attached(
            self._sets(window.start + (window.end - window.start) / 2),
            self.operators.published,
            self._request.objects,
        )
        chosen = attached.catalogue
        measured = late_by_s is not None
        late = _numbers(chosen, self._request.objects) if measured else set()
        if names:
            chosen = named(chosen, names)
        usable, skipped = _usable(chosen, window)
        usable &= ~attached.own(chosen)
        rows = np.flatnonzero(usable)
        up, fallen = decayed(chosen.take(rows), window)
        usable[rows[~up]] = False
        found = attached.finished(chosen, window, usable, [*skipped, *fallen])
        return made_late(found, late_by_s, late)

    def _sets(self, middle: datetime) -> Catalogue:
        """One set an object, nearest to a time; none where only ephemerides serve."""
        if self._kept is None:
            return elements.nearest(self.reading().catalogue, middle)
        try:
            return self._kept.nearest(middle)
        except NothingToSearch:
            if not self.operators:
                raise
            return elements.as_catalogue([])

    @cached_property
    def measured(self) -> Measured | None:
        """What successive sets of the same objects say of errors; None without any."""
        if self._kept is None:
            return measured_in(self.reading().catalogue)
        older, newer = self._kept.pairs()
        return Measured(older, newer) if len(older) else None

    def history(self, catalog_number: int) -> list[elements.ElementSet]:
        """Every set of one object, by epoch."""
        if self._kept is not None:
            return list(self._kept.history(catalog_number))
        catalogue = self.reading().catalogue
        sets = catalogue.take(catalogue.catalog_number == catalog_number)
        return sorted(sets, key=lambda one: one.epoch)


def named(catalogue: Catalogue, names: tuple[str, ...]) -> Catalogue:
    """The objects a person named, by catalogue number or by (part of) a name."""
    rows: list[int] = []
    for name in names:
        found = _find(catalogue, name)
        if not found:
            raise UnknownName("object", name, near=similar(catalogue.name, name))
        rows.extend(row for row in found if row not in rows)
    return catalogue.take(np.array(rows, dtype=np.int64))


def _numbers(catalogue: Catalogue, names: tuple[str, ...]) -> set[int]:
    """The numbers of all objects that go by these names."""
    rows = [row for name in names for row in _find(catalogue, name)]
    return set(catalogue.catalog_number[rows].tolist())


def _find(catalogue: Catalogue, name: str) -> list[int]:
    if name.strip().isdigit():
        return np.flatnonzero(catalogue.catalog_number == int(name)).tolist()
    wanted = name.strip().casefold()
    folded = [one.casefold() for one in catalogue.name]
    exact = [row for row, one in enumerate(folded) if one == wanted]
    return exact or [row for row, one in enumerate(folded) if wanted in one]


def similar(names: Iterable[str], name: str) -> list[str]:
    """Up to five of these names that are like one that nobody has."""
    from difflib import get_close_matches

    return get_close_matches(name.upper(), list(names), n=5, cutoff=0.5)


def _usable(catalogue: Catalogue, window: Span) -> tuple[np.ndarray, list[Skipped]]:
    """Rows whose epoch is near enough to the window, and the others with why."""
    length = (window.end - window.start).total_seconds()
    age_s = np.maximum(
        -catalogue.epoch_s(window.start), catalogue.epoch_s(window.start) - length
    )
    usable = age_s <= USABLE_DAYS * 86400.0
    days = (np.abs(age_s) / 86400.0).round().astype(int)
    return usable, [
        Skipped(
            catalog_number=int(catalogue.catalog_number[row]),
            name=catalogue.name[row],
            reason=f"its elements are {days[row]} {TOO_FAR}",
        )
        for row in np.flatnonzero(~usable).tolist()
    ]


def classes_of(catalogue: Catalogue) -> dict[str, int]:
    """How many objects of each class, the most numerous first."""
    classes = objects.object_class(catalogue.name, catalogue.designator)
    return dict(Counter(classes).most_common())
