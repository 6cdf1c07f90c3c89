"""Where the element sets of a request come from: files, the demo, the archive."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from passes import elements, objects
from passes.elements import Catalogue, Skipped
from passes.errors import NothingToSearch, UnknownName
from passes.forecast.demo import Demo
from passes.forecast.request import Request
from passes.model import Span

#: An element set further than this from the window is left out, days.
USABLE_DAYS = 30.0


class Supply:
    """Element sets for any window, read once."""

    def __init__(self, request: Request, demo: Demo | None) -> None:
        self._request, self._demo = request, demo
        self._reading: elements.Reading | None = None

    def reading(self) -> elements.Reading:
        """Everything the request's files (or the demo) hold."""
        if self._reading is None:
            self._reading = self._read()
        return self._reading

    def _read(self) -> elements.Reading:
        request = self._request
        if self._demo is not None:
            return elements.read_text(self._demo.elements, "demo")
        if request.element_files:
            return elements.read(
                list(request.element_files), strict=request.strict, stdin=request.stdin
            )
        raise NothingToSearch(
            "no element sets: give --elements FILE (TLE or OMM), or try --demo"
        )

    def catalogue(
        self, window: Span, names: tuple[str, ...] = (), late_by_s: float | None = None
    ) -> Catalogue:
        """One set an object, nearest to the window's middle; the too old left out."""
        middle = window.start + (window.end - window.start) / 2
        nearest = elements.nearest(self.reading().catalogue, middle)
        if names:
            nearest = named(nearest, names)
        usable, skipped = _usable(nearest, window)
        catalogue = nearest.take(usable)
        late = None if late_by_s is None else np.full(len(catalogue), late_by_s)
        return replace(catalogue, skipped=(*catalogue.skipped, *skipped), late_s=late)

    def history(self, catalog_number: int) -> list[elements.ElementSet]:
        """Every set of one object, by epoch."""
        catalogue = self.reading().catalogue
        sets = catalogue.take(catalogue.catalog_number == catalog_number)
        return sorted(sets, key=lambda one: one.epoch)


def named(catalogue: Catalogue, names: tuple[str, ...]) -> Catalogue:
    """The objects a person named, by catalogue number or by (part of) a name."""
    rows: list[int] = []
    for name in names:
        found = _find(catalogue, name)
        if not found:
            raise UnknownName("object", name, _similar(catalogue, name))
        rows.extend(row for row in found if row not in rows)
    return catalogue.take(np.array(rows, dtype=np.int64))


def _find(catalogue: Catalogue, name: str) -> list[int]:
    if name.strip().isdigit():
        return np.flatnonzero(catalogue.catalog_number == int(name)).tolist()
    wanted = name.strip().casefold()
    folded = [one.casefold() for one in catalogue.name]
    exact = [row for row, one in enumerate(folded) if one == wanted]
    return exact or [row for row, one in enumerate(folded) if wanted in one]


def _similar(catalogue: Catalogue, name: str) -> list[str]:
    from difflib import get_close_matches

    return get_close_matches(name.upper(), catalogue.name, n=5, cutoff=0.5)


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
            reason=f"its elements are {days[row]} days away from the window",
        )
        for row in np.flatnonzero(~usable).tolist()
    ]


def classes_of(catalogue: Catalogue) -> dict[str, int]:
    """How many objects of each class, the most numerous first."""
    classes = objects.object_class(catalogue.name, catalogue.designator)
    return dict(Counter(classes).most_common())


def around(middle: datetime, hours: float) -> Span:
    """A window of some hours around a time."""
    half = timedelta(hours=hours / 2)
    return Span(start=middle - half, end=middle + half)
