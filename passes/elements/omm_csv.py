"""Orbit mean elements as a table: keywords of the standard in its first row.

The standard (CCSDS 502.0-B) knows no such form, but its keywords are published so.
Columns may come in any order; those that are not known are passed over.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from passes.elements.omm_gather import Entry, gather
from passes.elements.parsed import Parsed
from passes.elements.source import decoded

FORM = "OMM as CSV"
_SEPARATORS = ",;\t"
#: A first row that names two of these is a heading.
_TELLING = frozenset(
    {"NORAD_CAT_ID", "EPOCH", "MEAN_MOTION", "ECCENTRICITY", "INCLINATION", "BSTAR"}
)
_LONGEST_HEADING = 65536


def matches(data: bytes) -> bool:
    """Whether the first row names columns by the standard's keywords."""
    first = data[:_LONGEST_HEADING].lstrip().split(b"\n", 1)[0]
    text = first.decode("latin-1").strip()
    return len(_TELLING & set(_heading(text, _separator(text)))) >= 2


def parse(data: bytes, where: str, max_records: int) -> Parsed:
    """Read every row of a table; bad ones are told, never lost.

    Raises ElementsError for other encodings than UTF-8 and beyond ``max_records``.
    """
    return gather(_entries(decoded(data, where), where), FORM, where, max_records)


def _separator(heading: str) -> str:
    return max(_SEPARATORS, key=heading.count)


def _heading(text: str, separator: str) -> list[str]:
    return [cell.strip().strip('"').strip().upper() for cell in text.split(separator)]


def _entries(text: str, where: str) -> Iterator[Entry]:
    before = text[: len(text) - len(text.lstrip())].count("\n")
    stream = io.StringIO(text.lstrip(), newline="")
    first = stream.readline().strip()
    separator = _separator(first)
    names = _heading(first, separator)
    rows = csv.reader(stream, delimiter=separator, skipinitialspace=True)
    while True:
        line = before + rows.line_num + 2
        try:
            cells = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            yield Entry(f"{where}:{line}", fault=f"damaged CSV ({error})")
            continue
        if any(cell.strip() for cell in cells):
            yield _entry(names, cells, f"{where}:{line}")


def _entry(names: list[str], cells: list[str], where: str) -> Entry:
    entry = Entry(where)
    for name, cell in zip(names, cells, strict=False):
        if name:
            entry.put(name, cell.strip())
    extra = [cell for cell in cells[len(names) :] if cell.strip()]
    if extra:
        entry.fault = f"{len(cells)} cells under {len(names)} headings"
    return entry
