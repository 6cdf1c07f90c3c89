"""What every reader of a form hands over, and which values are impossible."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import degrees, pi, radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.elements.catalogue import (
    ELEMENT_COLUMNS,
    Catalogue,
    Floats,
    Ints,
    Skipped,
)
from passes.errors import ElementsError

MINUTES_PER_DAY = 1440.0
#: How each element is called in a message; the order is that of ELEMENT_COLUMNS.
WORDS = (
    "epoch",
    "epoch",
    "inclination",
    "right ascension of the node",
    "eccentricity",
    "argument of perigee",
    "mean anomaly",
    "mean motion",
    "drag term",
    "first derivative of mean motion",
    "second derivative of mean motion",
)

#: The largest sizes that are let in, beyond any orbit's, in the order of
#: ELEMENT_COLUMNS: what two lines can hold, what no calculation stumbles over.
_MOST_DEG, _MOST_REV_DAY, _MOST = 1000.0, 100.0, 1e9
_TURN = radians(_MOST_DEG)
_FAST = _MOST_REV_DAY * 2.0 * pi / MINUTES_PER_DAY
_LARGEST = np.array(
    [_MOST, _MOST, _TURN, _TURN, _MOST, _TURN, _TURN, _FAST, _MOST, _MOST, _MOST]
)


class NotElements(ElementsError):
    """A whole file is no element sets; another file may be."""


@dataclass(slots=True, kw_only=True)
class Parsed:
    """Element sets of one file: good ones as lists and columns ``(n, 11)``.

    ``columns`` follows ELEMENT_COLUMNS; ``satrecs`` may hold None; ``records`` counts
    what was tried, good or bad; ``details`` are as in a catalogue; ``rejected`` is in
    the order of the file.
    """

    form: str
    numbers: Ints
    names: list[str]
    designators: list[str]
    columns: Floats
    satrecs: list[Any]
    details: list[tuple[int, int, str]] = field(default_factory=list)
    rejected: list[Skipped] = field(default_factory=list)
    records: int = 0
    notes: list[str] = field(default_factory=list)

    def keep(self, good: NDArray[np.bool_]) -> None:
        """Drop the rows that are not good ``(n,)``."""
        if good.all():
            return
        rows = np.flatnonzero(good).tolist()
        self.numbers, self.columns = self.numbers[good], self.columns[good]
        self.names = [self.names[i] for i in rows]
        self.designators = [self.designators[i] for i in rows]
        self.satrecs = [self.satrecs[i] for i in rows]
        self.details = [self.details[i] for i in rows] if self.details else []


def join(parts: Sequence[tuple[str, Parsed]]) -> Catalogue:
    """One catalogue of the parts, each with its origin, in their order."""
    columns = [part.columns for _, part in parts] or [np.empty((0, len(WORDS)))]
    numbers = [part.numbers for _, part in parts] or [np.empty(0, np.int64)]
    together = np.concatenate(columns)
    elements: dict[str, Any] = {
        c: together[:, i] for i, c in enumerate(ELEMENT_COLUMNS)
    }
    return Catalogue(
        catalog_number=np.concatenate(numbers),
        name=tuple(name for _, part in parts for name in part.names),
        designator=tuple(text for _, part in parts for text in part.designators),
        origin=tuple(origin for origin, part in parts for _ in part.names),
        satrecs=[satrec for _, part in parts for satrec in part.satrecs],
        details=_details(parts),
        **elements,
    )


def _details(parts: Sequence[tuple[str, Parsed]]) -> tuple[tuple[int, int, str], ...]:
    """Those of all parts, if any part has them; records of two lines have their own."""
    from passes.elements.publishing import details_in

    if not any(part.details for _, part in parts):
        return ()
    return tuple(
        one
        for _, part in parts
        for one in (part.details or [details_in(satrec) for satrec in part.satrecs])
    )


def impossible(columns: Floats) -> Iterator[tuple[int, str]]:
    """Rows of columns ``(n, 11)`` that no orbit can have, and why."""
    inclination, eccentricity, motion = columns[:, 2], columns[:, 4], columns[:, 7]
    with np.errstate(invalid="ignore"):
        bad = ~np.isfinite(columns).all(axis=1)
        bad |= (inclination < 0.0) | (inclination > pi * (1 + 1e-12))
        bad |= (eccentricity < 0.0) | (eccentricity >= 1.0) | (motion <= 0.0)
        bad |= (np.abs(columns) > _LARGEST).any(axis=1)
    for row in np.flatnonzero(bad).tolist():
        yield row, _why(columns[row])


def _beyond(row: Floats) -> str:
    """What is said of the first value that is too large."""
    place = int((np.abs(row) > _LARGEST).argmax())
    if _LARGEST[place] == _TURN:
        value, most = f"{degrees(row[place]):g}°", _MOST_DEG
    elif _LARGEST[place] == _FAST:
        value, most = f"{row[place] / _FAST * _MOST_REV_DAY:g} rev/day", _MOST_REV_DAY
    else:
        return f"{WORDS[place]} is impossibly large"
    return f"{WORDS[place]} {value} is impossible (up to {most:g})"


def _why(row: Floats) -> str:
    finite = np.isfinite(row)
    if not finite.all():
        return f"{WORDS[int(finite.argmin())]} is not a finite number"
    if (np.abs(row) > _LARGEST).any():
        return _beyond(row)
    if row[7] <= 0.0:
        rate = row[7] * MINUTES_PER_DAY / (2 * pi)
        return f"mean motion {rate:g} rev/day is impossible (must be above 0)"
    if not 0.0 <= row[4] < 1.0:
        return f"eccentricity {row[4]:g} is impossible (0 to below 1)"
    return f"inclination {degrees(row[2]):g}° is impossible (0 to 180)"


def too_many(where: str, most: int) -> ElementsError:
    """The refusal of a file that holds more records than are read at once."""
    return ElementsError(
        where,
        f"more than {most:,} records; give fewer or smaller files at a time, or allow"
        " more by --max-size",
    )


def printable(text: str) -> str:
    """The text with everything that could steer a terminal made visible."""
    text = text.strip()
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
