"""Two-line sets, with and without names: from text to columns.

The numbers are read by the sgp4 package's parser; around it stand the checks that it
does not make: layout, checksum, both lines of one object, possible values.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from passes.elements import tle_grid as grid
from passes.elements.catalogue import Floats, Ints
from passes.elements.parsed import Parsed, impossible
from passes.elements.tle_lines import Sheet

FORM = "TLE"
#: Years of two digits: from here on they belong to the twentieth century.
YEAR_PIVOT = 57
#: Elements for another theory (SGP4-XP), which SGP4 would get wrong.
_FOREIGN_THEORY = "4"
_LOOKS_RIGHT = re.compile(rb"(?:\A|[\r\n])[ \t]*[12] [ A-Z\d][ \d]{3}\d")
_CENTURIES = {
    f"{y:02d}": f"{19 if y >= YEAR_PIVOT else 20}{y:02d}-" for y in range(100)
}
#: What the parser's record calls the columns of a catalogue, in their order.
_ATTRIBUTES = (
    "jdsatepoch",
    "jdsatepochF",
    "inclo",
    "nodeo",
    "ecco",
    "argpo",
    "mo",
    "no_kozai",
    "bstar",
    "ndot",
    "nddot",
)
#: Days of the year end before this one, leap years included.
_DAYS_END = 367.0

Cards = Sequence[str]
Fault = tuple[int, str]  # which of the two lines is at fault, and why


def matches(data: bytes) -> bool:
    """Whether some line looks like one of the two lines of a set."""
    return _LOOKS_RIGHT.search(data) is not None


def parse(data: bytes, where: str, max_records: int) -> Parsed:
    """Read every set of a text; bad ones are told, never lost.

    Raises ElementsError beyond ``max_records``.
    """
    sheet = Sheet.of(data, where, max_records)
    rows, first, second, faults = _sound(sheet)
    satrecs = _satrecs(first, second)
    columns = np.array(
        [[getattr(satrec, name) for satrec in satrecs] for name in _ATTRIBUTES]
    ).T
    faults |= {int(rows[i]): fault for i, fault in _impossible(columns, first)}
    rejected = {line: sheet.skip(line, *fault) for line, fault in faults.items()}
    rejected |= sheet.strays()
    names, notes = sheet.names(rows)
    parsed = Parsed(
        form=FORM,
        numbers=np.array([satrec.satnum for satrec in satrecs], dtype=np.int64),
        names=names,
        designators=[long_designator(card[9:17]) for card in first],
        columns=columns,
        satrecs=satrecs,
        rejected=[rejected[line] for line in sorted(rejected)],
        notes=notes,
    )
    parsed.keep(~np.isin(rows, list(faults)))
    parsed.records = len(parsed.names) + len(rejected)
    return parsed


def _sound(sheet: Sheet) -> tuple[Ints, list[str], list[str], dict[int, Fault]]:
    """Pairs that may be given to the parser, as rows ``(k,)`` and cards; the faulty."""
    rows = sheet.pairs
    faults = dict(_wrong_lengths(sheet, rows))
    rows = rows[~np.isin(rows, list(faults))]
    first, second = sheet.cards(rows), sheet.cards(rows + 1)
    wrong = dict(_wrong_layouts(first, second))
    if wrong:
        faults |= {int(rows[i]): fault for i, fault in wrong.items()}
        rows = rows[~np.isin(rows, list(faults))]
        first, second = sheet.cards(rows), sheet.cards(rows + 1)
    return rows, first, second, faults


def _wrong_lengths(sheet: Sheet, rows: Ints) -> Iterator[tuple[int, Fault]]:
    for which in (1, 0):
        lengths = sheet.ends[rows + which] - sheet.starts[rows + which]
        for i in np.flatnonzero(lengths != grid.WIDTH).tolist():
            reason = f"{lengths[i]} characters long, want {grid.WIDTH}"
            yield int(rows[i]), (which, reason)


def _wrong_layouts(first: Cards, second: Cards) -> Iterator[tuple[int, Fault]]:
    """Faults of cards; of several in one pair the last one told is the plainest."""
    for i in grid.holding(first, grid.EPHEMERIS_TYPE, _FOREIGN_THEORY):
        yield i, (0, "made for SGP4-XP (ephemeris type 4), not for SGP4")
    for i in grid.unlike(first, second, grid.NUMBER):
        both = f"{first[i][grid.NUMBER]} and {second[i][grid.NUMBER]}"
        yield i, (1, f"lines 1 and 2 are of different objects ({both})")
    sides = (1, second, grid.LINE_2), (0, first, grid.LINE_1)
    for which, cards, _ in sides:
        for i, reason in grid.wrong_checksums(cards).items():
            yield i, (which, reason)
    for which, cards, template in sides:
        for i, column in template.misfits(cards).items():
            yield i, (which, template.complaint(cards[i], column))


def _satrecs(first: Cards, second: Cards) -> list[Any]:
    from sgp4.api import Satrec

    return list(map(Satrec.twoline2rv, first, second))


def _impossible(columns: Floats, first: Cards) -> Iterator[tuple[int, Fault]]:
    """Rows of ``(k, 11)`` that no orbit can have, and days of no year."""
    for row, reason in impossible(columns):
        yield row, (1, reason)
    days = np.array([float(card[grid.DAY]) for card in first])
    for row in np.flatnonzero((days < 1.0) | (days >= _DAYS_END)).tolist():
        yield row, (0, f"day {days[row]:g} of the year is impossible")


def long_designator(short: str) -> str:
    """The international designator in its long form: ``98067A`` → ``1998-067A``.

    Anything else is given back as it stands, without padding.
    """
    century = _CENTURIES.get(short[:2], "")
    if century and short[2:5].isdigit():
        return century + short[2:].rstrip()
    return short.strip()
