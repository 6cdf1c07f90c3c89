"""Orbit mean-elements messages (CCSDS 502.0-B): from fields to columns.

A record is a mapping of the standard's keywords to text or numbers, whatever form it
came in.  The sgp4 package's own reader refuses numbers from 340000 up, a ``Z`` behind
the epoch and days of the year; the conversions here equal its to the last bit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from math import nan, pi
from typing import Any

import numpy as np

from passes.elements.catalogue import Floats
from passes.elements.parsed import Parsed, impossible, printable

#: Largest catalogue number: nine digits (CCSDS 502.0-B gives no limit).
LAST_NUMBER = 999_999_999
#: Julian date of midnight on the day before ``date.fromordinal(1)``.
_ORDINAL_JD = 1721424.5
#: Years in which an epoch makes sense: the first satellite, and a century to come.
_YEARS = range(1957, 2100)
# The sgp4 package's own factors; see NDOT and NDDOT of Spacetrack Report 3.
_RADIANS = pi / 180.0
_NDOT_UNITS = 1036800.0 / pi
_NDDOT_UNITS = 2985984000.0 / 2.0 / pi
#: The fields that become columns after the epoch, in the order of ELEMENT_COLUMNS.
_NUMBERS = (
    "INCLINATION",
    "RA_OF_ASC_NODE",
    "ECCENTRICITY",
    "ARG_OF_PERICENTER",
    "MEAN_ANOMALY",
    "MEAN_MOTION",
    "BSTAR",
    "MEAN_MOTION_DOT",
    "MEAN_MOTION_DDOT",
)
#: SGP4 does not use these two; where they are left out they count as 0.
_OPTIONAL = frozenset({"MEAN_MOTION_DOT", "MEAN_MOTION_DDOT"})
#: What these fields must say, where they are given at all.
_WANTED = {
    "CENTER_NAME": ("EARTH",),
    "REF_FRAME": ("TEME",),
    "TIME_SYSTEM": ("UTC",),
    "MEAN_ELEMENT_THEORY": ("SGP4", "SGP/SGP4", "SGP"),
}
#: The EPHEMERIS_TYPE of elements for SGP4-XP, which SGP4 would get wrong.
_FOREIGN_THEORY = "4"
#: The drag and light pressure terms of SGP4-XP, in place of BSTAR.
_XP_TERMS = frozenset({"BTERM", "AGOM"})
_EPOCH = re.compile(
    r"\s*(\d{4})-(?:(\d\d)-(\d\d)|(\d{3}))"
    r"[T ](\d\d):(\d\d):(\d\d(?:\.\d*)?)(?:Z|\+00:00)?\s*",
    re.ASCII,
)

Record = Mapping[str, Any]


def convert(records: Sequence[Record], form: str) -> tuple[Parsed, dict[int, str]]:
    """Columns of all records, and why some of them (by row) cannot be used.

    The rows of those hold nonsense and must be dropped (:meth:`Parsed.keep`).
    """
    faults: dict[int, str] = {}
    columns = np.empty((len(records), 2 + len(_NUMBERS)))
    for place, key in enumerate(_NUMBERS, start=2):
        columns[:, place] = values = _floats(records, key, faults)
        for row in np.flatnonzero(~np.isfinite(values)).tolist():
            faults.setdefault(row, f"{key} is not a finite number")
    _to_sgp4_units(columns)
    columns[:, :2] = [_epoch(row, r, faults) for row, r in enumerate(records)] or 0.0
    for row, reason in impossible(columns):
        faults.setdefault(row, reason)
    numbers = [_number(row, record, faults) for row, record in enumerate(records)]
    faults |= _foreign(records)
    parsed = Parsed(
        form=form,
        numbers=np.array(numbers, dtype=np.int64),
        names=[_text(record, "OBJECT_NAME") for record in records],
        designators=[_text(record, "OBJECT_ID") for record in records],
        columns=columns,
        satrecs=[None] * len(records),
        details=[_details(record) for record in records],
        records=len(records),
    )
    return parsed, faults


def name_of(record: Record) -> tuple[int | None, str]:
    """Number and name of a record that may be damaged, for a message."""
    faults: dict[int, str] = {}
    number = _number(0, record, faults)
    return (None if faults else number), _text(record, "OBJECT_NAME")


def _to_sgp4_units(columns: Floats) -> None:
    """Degrees and revolutions a day become radians and rad/min, in place."""
    with np.errstate(invalid="ignore", over="ignore"):
        for place in (2, 3, 5, 6):
            columns[:, place] *= _RADIANS
        columns[:, 7] = columns[:, 7] / 720.0 * pi
        columns[:, 9] /= _NDOT_UNITS
        columns[:, 10] /= _NDDOT_UNITS


def _floats(records: Sequence[Record], key: str, faults: dict[int, str]) -> Floats:
    """One field of all records, ``(n,)``; what is no number is told, and nan."""
    values: list[Any] = [record.get(key) for record in records]
    kinds = set(map(type, values))
    try:
        if kinds <= {float, int}:
            return np.array(values, dtype=np.float64)
        if kinds == {str} and "_" not in "".join(values):
            return np.array(list(map(float, values)))
    except (ValueError, OverflowError):
        pass  # one by one, to say which
    return np.array([_float(row, key, v, faults) for row, v in enumerate(values)])


def _float(row: int, key: str, value: Any, faults: dict[int, str]) -> float:
    if value is None or value == "":
        if key not in _OPTIONAL:
            faults.setdefault(row, f"{key} is missing")
        return 0.0
    try:
        if isinstance(value, bool) or (isinstance(value, str) and "_" in value):
            raise ValueError
        return float(value)
    except (TypeError, ValueError, OverflowError):
        faults.setdefault(row, f"{key} {shown(value)} is not a number")
        return nan


def _number(row: int, record: Record, faults: dict[int, str]) -> int:
    value = record.get("NORAD_CAT_ID")
    if isinstance(value, str) and value.strip().isdecimal() and value.isascii():
        value = int(value) if len(value) < 20 else LAST_NUMBER + 1
    if value is None or value == "":
        faults[row] = "NORAD_CAT_ID is missing"
    elif isinstance(value, bool) or not isinstance(value, int):
        faults[row] = f"NORAD_CAT_ID {shown(value)} is not a catalogue number"
    elif not 0 <= value <= LAST_NUMBER:
        faults[row] = f"NORAD_CAT_ID {shown(value)} is out of range (nine digits)"
    else:
        return value
    return 0


def _epoch(row: int, record: Record, faults: dict[int, str]) -> tuple[float, float]:
    """The epoch as a Julian date in two parts: midnight, and fraction of the day."""
    value = record.get("EPOCH")
    match = _EPOCH.fullmatch(value) if isinstance(value, str) else None
    try:
        if match is None:
            raise ValueError
        year, month, day, of_year, hour, minute, second = match.groups()
        days = _ordinal(int(year), month, day, of_year)
        seconds = int(hour) * 3600 + int(minute) * 60 + float(second)
        if int(hour) > 23 or int(minute) > 59 or float(second) >= 61.0:
            raise ValueError
    except ValueError:
        missing = value is None or value == ""
        faults[row] = (
            "EPOCH is missing" if missing else f"EPOCH {shown(value)} is not a time"
        )
        return 0.0, 0.0
    return _ORDINAL_JD + days, seconds / 86400.0


def _ordinal(year: int, month: str | None, day: str | None, of_year: str | None) -> int:
    if year not in _YEARS:
        raise ValueError
    if month and day:
        return date(year, int(month), int(day)).toordinal()
    days = int(of_year or 0)
    if not 1 <= days <= 366:
        raise ValueError
    return date(year, 1, 1).toordinal() + days - 1


def _foreign(records: Sequence[Record]) -> dict[int, str]:
    """Records made for something else than SGP4 around the Earth, TEME and UTC."""
    faults: dict[int, str] = {}
    for key, wanted in _WANTED.items():
        for row, said in _unlike(records, key, {"", *wanted}):
            faults[row] = f"{key} is {shown(said)}, want {wanted[0]}"
    for row, said in _unlike(records, "EPHEMERIS_TYPE", {"", "0", "2", "3"}):
        if said == _FOREIGN_THEORY:
            faults[row] = "made for SGP4-XP (EPHEMERIS_TYPE 4), not for SGP4"
    for row, record in enumerate(records):
        given = not _XP_TERMS.isdisjoint(record) and not record.get("BSTAR")
        if given and any(record.get(key) for key in _XP_TERMS):
            faults[row] = "made for SGP4-XP (BTERM, AGOM), not for SGP4"
    return faults


def _unlike(
    records: Sequence[Record], key: str, known: set[str]
) -> Iterator[tuple[int, str]]:
    """Rows in which a field says something else than what is known."""
    values: list[Any] = [record.get(key) for record in records]
    try:
        different = {value for value in set(values) if _said(value) not in known}
    except TypeError:  # a list or an object among them
        different = None
    if different != set():
        for row, value in enumerate(values):
            if _said(value) not in known:
                yield row, _said(value)


def _said(value: Any) -> str:
    return "" if value is None else str(value).strip().upper()


def _text(record: Record, key: str) -> str:
    value = record.get(key)
    return printable(value if isinstance(value, str) else str(value or ""))


def _details(record: Record) -> tuple[int, int, str]:
    """Set number, revolution and classification; what is odd counts as left out."""
    return (
        _count(record.get("ELEMENT_SET_NO")),
        _count(record.get("REV_AT_EPOCH")),
        _text(record, "CLASSIFICATION_TYPE")[:1] or "U",
    )


def _count(value: Any) -> int:
    if isinstance(value, str) and value.isascii() and value.strip().isdecimal():
        value = int(value[:12])
    whole = isinstance(value, int | float) and not isinstance(value, bool)
    return int(value) if whole and 0 <= value < 2**31 else 0


def shown(value: Any, most: int = 30) -> str:
    """A value as a message quotes it: short, and safe for a terminal."""
    text = printable(str(value)) if isinstance(value, str) else repr(value)
    text = text[:most] + "…" if len(text) > most else text
    return repr(text) if isinstance(value, str) else text
