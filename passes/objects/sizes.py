"""How large objects are, from a table whose every row names its source."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from passes.errors import InputError
from passes.objects.patterns import Patterns

#: No table of sizes is longer than this, bytes.
_MAX_BYTES = 4 * 1024 * 1024
#: Nothing in orbit is longer.
_LONGEST_M = 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Dimensions of one object or of one kind of object, metres.

    The outline is the rectangle ``length_m`` × ``width_m`` that holds the object seen
    face on, ``filled_fraction`` the part of it that is not empty sky.  ``structure_m``
    is the size of the largest part an image would show, named in ``structure``.
    """

    what: str
    catalog_number: int | None
    pattern: str
    length_m: float
    width_m: float
    filled_fraction: float
    structure_m: float
    structure: str
    source: str

    @property
    def area_m2(self) -> float:
        """What the object covers of the sky seen face on, m²."""
        return self.length_m * self.width_m * self.filled_fraction


@lru_cache(maxsize=1)
def sizes() -> tuple[Size, ...]:
    """Every row of the packaged size table, in its order."""
    text = resources.files("passes").joinpath("data", "sizes.csv").read_text("utf-8")
    return read_sizes(text)


def read_sizes(text: str) -> tuple[Size, ...]:
    """Rows of a size table in CSV, columns as in the packaged ``sizes.csv``.

    Lines that start with ``#`` are passed over.  For tables that ship with a program:
    a missing column is KeyError, a row that cannot be used ValueError.
    """
    # by the file's own line ends: other signs that end lines may stand in a cell
    lines = [line for line in io.StringIO(text, newline="") if line[0] != "#"]
    rows = csv.DictReader(lines, strict=True)
    return tuple(_checked(row, rows.line_num) for row in rows)


@lru_cache(maxsize=8)
def read_size_file(path: str) -> tuple[Size, ...]:
    """Rows of a person's own size table; none where no path is given.

    Raises InputError (file and reason) where it cannot be read.
    """
    if not path:
        return ()
    try:
        with open(os.path.expanduser(path), "rb") as file:
            text = file.read(_MAX_BYTES).decode("utf-8-sig")
        return read_sizes(text)
    except OSError as error:
        raise InputError(f"{path}: cannot be read: {error.strerror}") from error
    except KeyError as error:
        raise InputError(f"{path}: the column {error} is missing") from error
    except (csv.Error, ValueError) as error:
        raise InputError(f"{path}: not a table of sizes ({error})"[:300]) from error


def size_in(own: tuple[Size, ...], number: int, name: str) -> Size | None:
    """The size of an object by a person's own table first, then the packaged one."""
    found = size_of(number, name, own) if own else None
    return found or size_of(number, name)


def _checked(row: dict[str, str], line: int) -> Size:
    """One row of a table that ends at a line (those with ``#`` not counted)."""
    if None in row or None in row.values():
        raise ValueError(f"row ending at line {line}: too few or too many cells")
    size = _size(row)
    lengths = (size.length_m, size.width_m, size.structure_m)
    if not all(0.0 < one < _LONGEST_M for one in lengths):
        raise ValueError(f"row ending at line {line}: impossible (0 to 10000 m)")
    if not 0.0 < size.filled_fraction <= 1.0:
        raise ValueError(f"row ending at line {line}: filled_fraction is 0 to 1")
    return size


def _size(row: dict[str, str]) -> Size:
    number = row["catalog_number"]
    return Size(
        what=row["object"],
        catalog_number=int(number) if number else None,
        pattern=row["name"],
        length_m=float(row["length_m"]),
        width_m=float(row["width_m"]),
        filled_fraction=float(row["filled_fraction"]),
        structure_m=float(row["structure_m"]),
        structure=row["structure"],
        source=row["source"],
    )


@lru_cache(maxsize=8)
def _index(table: tuple[Size, ...]) -> tuple[dict[int, Size], Patterns]:
    numbered = {row.catalog_number: row for row in table if row.catalog_number}
    return numbered, Patterns([row.pattern for row in table])


def size_of(
    number: int, name: str, table: tuple[Size, ...] | None = None
) -> Size | None:
    """The size of an object by its catalogue number, else by its name.

    None where nothing is known.  Where a row has both, both must fit.  ``table`` is
    asked in place of the packaged one (:func:`read_sizes`).
    """
    rows = sizes() if table is None else table
    numbered, patterns = _index(rows)
    own = numbered.get(number)
    if own and not own.pattern:
        return own
    fitting = [rows[place] for place in patterns.matching(name)]
    if own and own in fitting:
        return own
    return next((size for size in fitting if size.catalog_number is None), None)


def larger_than(
    numbers: Sequence[int], names: Sequence[str], metres: float
) -> NDArray[np.bool_]:
    """Which objects are known to be longer than so many metres, ``(n,)``."""
    found = (size_of(int(n), name) for n, name in zip(numbers, names, strict=True))
    return np.array([s is not None and s.length_m > metres for s in found], dtype=bool)
