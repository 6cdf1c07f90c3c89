"""Operators' ephemerides put to the objects of a catalogue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from passes.elements import (
    ELEMENT_COLUMNS,
    Catalogue,
    ElementSet,
    Skipped,
    as_catalogue,
)
from passes.ephemeris import Flight
from passes.ephemeris.osculating import osculating
from passes.forecast.changeover import BySgp4, Joined, Source
from passes.forecast.operators import Published
from passes.model import Span

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Objects that no catalogue knows get numbers from here on, by their designator.
OWN_NUMBERS = 900_000_000
_OWN_ROOM = 99_999_999
_UNIX_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
_UNIX_EPOCH_JD = 2440587.5
_AROUND_S = np.array([-0.5, 0.0, 0.5])


class Attached:
    """A catalogue with whatever was published of its objects.

    Objects that are not in the catalogue get a row of their own behind it.  ``names``
    are those that a person asked for: where that is one catalogue number and one
    ephemeris belongs to nobody else, it is taken for that object's.
    """

    def __init__(
        self, catalogue: Catalogue, published: Sequence[Published], names: Sequence[str]
    ) -> None:
        numbers = _numbers(catalogue, published, names)
        self._by_number: dict[int, Published] = {}
        for number, one in zip(numbers, published, strict=True):
            known_as = self._by_number.get(number)
            self._by_number[number] = known_as.joined(one) if known_as else one
        known = set(catalogue.catalog_number.tolist())
        self._own = {number for number in numbers if number not in known}
        strangers = [_stranger(n, self._by_number[n]) for n in sorted(self._own)]
        self.catalogue = _together(catalogue, strangers) if strangers else catalogue

    def finished(
        self,
        chosen: Catalogue,
        window: Span,
        usable: Bools,
        skipped: Sequence[Skipped],
    ) -> Catalogue:
        """Rows of a catalogue that have places in a window, and where they take them.

        ``usable`` ``(n,)`` says whose elements serve; ``skipped`` tells of the others.
        """
        if not self._by_number:
            told = (*chosen.skipped, *skipped)
            return replace(chosen.take(usable), skipped=told)
        kept = usable | self.reached(chosen, window)
        served = self._own | set(chosen.catalog_number[kept].tolist())
        told = tuple(one for one in skipped if one.catalog_number not in served)
        return replace(
            chosen.take(kept),
            skipped=(*chosen.skipped, *told, *self.silent(window)),
            ephemerides=self.sources(chosen.take(kept), window, usable[kept]),
        )

    def reached(self, catalogue: Catalogue, window: Span) -> Bools:
        """Rows ``(n,)`` of which something is published within the window."""
        numbers = catalogue.catalog_number.tolist()
        return np.array([self._reaches(one, window) for one in numbers], dtype=bool)

    def own(self, catalogue: Catalogue) -> Bools:
        """Rows ``(n,)`` that have no elements at all."""
        return np.isin(catalogue.catalog_number, list(self._own))

    def _reaches(self, number: int, window: Span) -> bool:
        found = self._by_number.get(number)
        return found is not None and found.meets(window)

    def sources(
        self, catalogue: Catalogue, window: Span, usable: Bools
    ) -> dict[int, Source] | None:
        """Where rows take their places from, by row; elements only where ``usable``."""
        found: dict[int, Source] = {}
        for row in np.flatnonzero(self.reached(catalogue, window)).tolist():
            source: Source | None = None
            if usable[row]:
                bare = replace(catalogue, late_s=None, growth=(), skipped=())
                source = BySgp4(bare.take([row]))
            published = self._by_number[int(catalogue.catalog_number[row])]
            for flight in published.flights:
                source = Joined(flight, source)
            assert source is not None
            found[row] = source
        return found or None

    def silent(self, window: Span) -> list[Skipped]:
        """Objects without elements whose ephemerides do not reach into the window."""
        strangers = [(number, self._by_number[number]) for number in sorted(self._own)]
        return [
            Skipped(
                catalog_number=number,
                name=one.name,
                reason=f"its ephemeris serves {one.spans}, not this window",
                where=one.where,
            )
            for number, one in strangers
            if not one.meets(window)
        ]


def _numbers(
    catalogue: Catalogue, published: Sequence[Published], names: Sequence[str]
) -> list[int]:
    """The catalogue number of each published object."""
    found = [_known(catalogue, one) for one in published]
    asked = names[0].strip() if len(names) == 1 else ""
    strangers = [i for i, number in enumerate(found) if number is None]
    if asked.isdecimal() and len(strangers) == 1 and int(asked) not in found:
        own = _own_number(published[strangers[0]])
        found[strangers[0]] = own if int(asked) == own else int(asked)
    return [
        _own_number(one) if number is None else number
        for one, number in zip(published, found, strict=True)
    ]


def _known(catalogue: Catalogue, one: Published) -> int | None:
    """The number of the object with that number, designator or name."""
    if one.number is not None and (catalogue.catalog_number == one.number).any():
        return one.number
    for column, wanted in (
        (catalogue.designator, one.designator),
        (catalogue.name, one.name),
    ):
        folded = wanted.casefold()
        for row, said in enumerate(column):
            if said and said.casefold() == folded:
                return int(catalogue.catalog_number[row])
    return None


def _own_number(one: Published) -> int:
    if one.number is not None:
        return one.number
    key = one.designator or one.name
    return OWN_NUMBERS + crc32(key.upper().encode()) % _OWN_ROOM


def _stranger(number: int, one: Published) -> ElementSet:
    """A row for an object without elements: the orbit it flies when it is first told.

    Good for the kind of orbit; its places come from the ephemeris alone, whose making
    is what its age counts from.
    """
    flight: Flight = one.flights[-1]
    first = flight.segments[0].start + timedelta(seconds=1)
    around = flight.positions(first, _AROUND_S)
    velocity = (around[2] - around[0]) / (_AROUND_S[2] - _AROUND_S[0])
    elapsed = flight.created - _UNIX_EPOCH
    return ElementSet(
        catalog_number=number,
        name=one.name,
        designator=one.designator,
        epoch_jd=_UNIX_EPOCH_JD + elapsed.days,
        epoch_fraction=(elapsed - timedelta(days=elapsed.days)) / timedelta(days=1),
        bstar=0.0,
        origin=one.where,
        **osculating(around[1], velocity),
    )


def _together(catalogue: Catalogue, more: list[ElementSet]) -> Catalogue:
    """A catalogue with further rows behind it."""
    added = as_catalogue(more)
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(catalogue, name), getattr(added, name)])
        for name in ("catalog_number", *ELEMENT_COLUMNS)
    }
    for words in ("name", "designator", "origin", "satrecs"):
        columns[words] = [*getattr(catalogue, words), *getattr(added, words)]
    if catalogue.details:
        columns["details"] = (*catalogue.details, *((0, 0, "U") for _ in more))
    return replace(catalogue, growth=(), **columns)
