"""Values out of a TOML table, each refused in one line that says where and why."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from difflib import get_close_matches
from math import isfinite
from typing import Any

from passes.errors import InputError

_SEXAGESIMAL = re.compile(
    r"\s*([+\-−]?)\s*(\d{1,3})(?:[h°d:\s]\s*|\s+)(\d{1,2})(?:[m′':\s]\s*(\d{1,2}(?:\.\d*)?)"
    r"\s*[s″\"]?)?\s*\Z"
)

#: Years in which anybody plans: the first satellite, and a century to come.
_YEARS = range(1957, 2100)


class Table:
    """One table of a plan: where it stands, and what may stand in it."""

    def __init__(self, values: Any, where: str, known: tuple[str, ...]) -> None:
        if not isinstance(values, Mapping):
            raise InputError(f"{where}: want a table of keys")
        for key in values:
            if key not in known:
                near = get_close_matches(str(key), known, n=1, cutoff=0.5)
                hint = (
                    f"did you mean {near[0]!r}?"
                    if near
                    else f"known are {', '.join(known)}"
                )
                raise InputError(f"{where}: unknown key {key!r}; {hint}")
        self.values, self.where = values, where

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def text(self, key: str, default: str = "") -> str:
        """A text; a number is taken as its text (a gain of 100)."""
        value = self.values.get(key, default)
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise InputError(f"{self.where} {key}: want text in quotes, not {value!r}")
        return str(value)

    def number(
        self,
        key: str,
        low: float,
        high: float,
        default: float | None = None,
        unit: str = "",
    ) -> float:
        """A number within limits."""
        value = self._given(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(f"{self.where} {key}: want a number, not {value!r}")
        if not isfinite(value) or not low <= value <= high:
            raise InputError(
                f"{self.where} {key}: {value:g}{unit} is impossible "
                f"({low:g} to {high:g})"
            )
        return float(value)

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number within limits."""
        value = self.number(key, low, high, default)
        if value != int(value):
            raise InputError(f"{self.where} {key}: want a whole number, not {value:g}")
        return int(value)

    def time(self, key: str, default: datetime | None = None) -> datetime:
        """A time with its zone, as TOML writes it or as text."""
        value = self._given(key, default)
        if isinstance(value, str):
            try:
                value = datetime.fromisoformat(value.strip())
            except ValueError:
                raise InputError(
                    f"{self.where} {key}: {value!r} is no time; write it as "
                    "2029-03-17T20:00:00Z"
                ) from None
        if not isinstance(value, datetime):
            raise InputError(
                f"{self.where} {key}: want a date and a time, as 2029-03-17T20:00:00Z, "
                f"not {value}"
            )
        if value.tzinfo is None:
            raise InputError(
                f"{self.where} {key}: {value.isoformat()} has no zone; add Z for UTC, "
                "or an offset such as +02:00"
            )
        if value.year not in _YEARS:
            raise InputError(
                f"{self.where} {key}: the year {value.year} is impossible "
                f"({_YEARS.start} to {_YEARS.stop - 1})"
            )
        return value.astimezone(UTC)

    def angle(self, key: str, low: float, high: float, *, hours: bool) -> float:
        """Degrees, or sexagesimal text: hours for right ascension."""
        value = self._given(key, None)
        if isinstance(value, str):
            value = sexagesimal_deg(value, f"{self.where} {key}", hours=hours)
            return Table({key: value}, self.where, (key,)).number(
                key, low, high, unit="°"
            )
        return self.number(key, low, high, unit="°")

    def words(self, key: str, known: tuple[str, ...]) -> tuple[str, ...]:
        """A word or a list of them, each of which must be known."""
        value = self.values.get(key, [])
        found = value if isinstance(value, list) else [value]
        for one in found:
            if one not in known:
                raise InputError(
                    f"{self.where} {key}: {one!r} is none of {', '.join(known)}"
                )
        return tuple(found)

    def _given(self, key: str, default: Any) -> Any:
        value = self.values.get(key, default)
        if value is None:
            raise InputError(f"{self.where}: the key {key!r} is missing")
        return value


def sexagesimal_deg(text: str, where: str, *, hours: bool) -> float:
    """Degrees of ``09h55m33s``, ``09:55:33`` or ``+69 03 55``.

    Raises InputError, naming ``where``, for what is no such text.
    """
    match = _SEXAGESIMAL.match(text)
    if match is None:
        example = "09h55m41s" if hours else "+69°21′00″"
        raise InputError(f"{where}: {text!r} is no angle; write degrees, or {example}")
    sign, whole, minutes, seconds = match.groups()
    if int(minutes) >= 60 or float(seconds or 0.0) >= 60.0:
        raise InputError(f"{where}: {text!r} has 60 minutes or seconds, or more")
    value = int(whole) + int(minutes) / 60.0 + float(seconds or 0.0) / 3600.0
    return (-value if sign in ("-", "−") else value) * (15.0 if hours else 1.0)
