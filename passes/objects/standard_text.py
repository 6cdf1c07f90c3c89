"""Reading a table of standard magnitudes from CSV text, bad lines named and skipped."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib import resources
from math import inf
from pathlib import Path

from passes.objects.classes import CLASSES
from passes.objects.launches import launch_range
from passes.objects.standard import StandardRow, StandardTable
from passes.photometry import CONVENTIONS

REQUIRED = ("value", "sigma", "convention")
MATCHES = ("catalog_number", "name", "object_class")
LIMITS = (
    "launched_from",
    "launched_to",
    "perigee_from_km",
    "perigee_to_km",
    "apogee_from_km",
    "apogee_to_km",
)
COLUMNS = (*MATCHES, *LIMITS, *REQUIRED, "basis", "source")
#: Brighter or fainter than any satellite at 1000 km: a slip of the pen.
_VALUE_RANGE = (-10.0, 25.0)
_SIGMA_RANGE = (0.01, 5.0)


@lru_cache(maxsize=1)
def class_averages() -> StandardTable:
    """The packaged averages by class and orbit; every class has a row for any orbit."""
    name = "class_magnitudes.csv"
    text = resources.files("passes").joinpath("data", name).read_text("utf-8")
    return read_standard_table(text, name)


def read_standard_file(path: Path) -> StandardTable:
    """Read a user's table; a file that cannot be read is a table with one problem."""
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        why = error.strerror or type(error).__name__
        return StandardTable((), [f"{path}: {why}; standard magnitudes not read"])
    except UnicodeDecodeError as error:
        return StandardTable((), [f"{path}: not UTF-8 text ({error.reason})"])
    except ValueError as error:  # a name that no file can have
        return StandardTable((), [f"{path}: {error}; standard magnitudes not read"])
    return read_standard_table(text, str(path))


def read_standard_table(text: str, origin: str) -> StandardTable:
    """Read CSV text; ``origin`` names it in problems.

    The first line names the columns (:data:`COLUMNS`, in any order; those of
    :data:`REQUIRED` must be there and one of :data:`MATCHES`).  Lines that start with
    ``#`` and empty lines are passed over.  Bad rows become problems, the rest serve.
    """
    problems: list[str] = []
    rows: list[StandardRow] = []
    header: list[str] | None = None
    for line, cells in _records(text, origin, problems):
        where = f"{origin}:{line}"
        if header is None:
            header = [cell.strip().lower() for cell in cells]
            if fault := _header_fault(header):
                return StandardTable((), [*problems, f"{where}: {fault}"])
            continue
        try:
            if len(cells) > len(header):
                raise ValueError(f"{len(cells)} cells under {len(header)} columns")
            rows.append(_row(dict(zip(header, cells, strict=False)), where))
        except ValueError as error:
            problems.append(f"{where}: {error}; row left out")
    if header is None:
        problems.append(f"{origin}: empty; the first line must name the columns")
    return StandardTable(rows, problems)


def _records(
    text: str, origin: str, problems: list[str]
) -> Iterator[tuple[int, list[str]]]:
    """Lines with something in them: line number and cells."""
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip(" \t,;") or line.lstrip().startswith("#"):
            continue
        try:
            yield number, next(csv.reader([line], strict=True))
        except csv.Error as error:
            problems.append(f"{origin}:{number}: {error}; row left out")


def _header_fault(header: list[str]) -> str:
    missing = [name for name in REQUIRED if name not in header]
    strange = [name for name in header if name not in COLUMNS]
    if missing:
        return f"no column {', '.join(missing)}; columns are {', '.join(COLUMNS)}"
    if strange:
        return f"unknown column {', '.join(strange)}; columns are {', '.join(COLUMNS)}"
    if not any(name in header for name in MATCHES):
        return f"no column tells which object; add one of {', '.join(MATCHES)}"
    return ""


def _row(cells: Mapping[str, str], where: str) -> StandardRow:
    """One row of cells as a record; ValueError says what is wrong with it."""
    cell = {name: cells.get(name, "").strip() for name in COLUMNS}
    if not any(cell[name] for name in MATCHES):
        raise ValueError(f"tells no object; fill in one of {', '.join(MATCHES)}")
    if cell["object_class"] not in ("", *CLASSES):
        raise ValueError(
            f"object_class {cell['object_class']!r}: use one of {', '.join(CLASSES)}"
        )
    if cell["convention"] not in CONVENTIONS:
        raise ValueError(
            f"convention {cell['convention']!r}: use one of {', '.join(CONVENTIONS)}"
        )
    return StandardRow(
        catalog_number=_catalog_number(cell["catalog_number"]),
        pattern=cell["name"],
        object_class=cell["object_class"],
        launched_from=launch_range(cell["launched_from"], end=False),
        launched_to=launch_range(cell["launched_to"], end=True),
        perigee_km=_limits(cell, "perigee"),
        apogee_km=_limits(cell, "apogee"),
        value_mag=_number(cell, "value", *_VALUE_RANGE),
        sigma_mag=_number(cell, "sigma", *_SIGMA_RANGE),
        convention=cell["convention"],
        basis=cell["basis"] or "own table",
        source=cell["source"],
        where=where,
    )


def _catalog_number(text: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and 0 < int(text) <= 999_999_999):
        raise ValueError(f"catalog_number {text!r}: a whole number up to nine digits")
    return int(text)


def _number(cell: Mapping[str, str], name: str, low: float, high: float) -> float:
    if not cell[name]:
        raise ValueError(f"{name} is missing")
    try:
        value = float(cell[name])
    except ValueError:
        raise ValueError(f"{name} {cell[name]!r}: not a number") from None
    if not low <= value <= high:
        raise ValueError(f"{name} {cell[name]}: impossible ({low:g} to {high:g})")
    return value


def _limits(cell: Mapping[str, str], what: str) -> tuple[float, float]:
    low = _height(cell, f"{what}_from_km", -inf)
    high = _height(cell, f"{what}_to_km", inf)
    if not low < high:
        raise ValueError(f"{what} from {low:g} to {high:g} km: the wrong way round")
    return low, high


def _height(cell: Mapping[str, str], name: str, otherwise: float) -> float:
    return _number(cell, name, -1000.0, 1e6) if cell[name] else otherwise
