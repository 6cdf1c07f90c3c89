"""Positions and times from a receiver's NMEA 0183 sentences (GGA, RMC).

Checksums (XOR of what stands between ``$`` and ``*``) are verified; a sentence without
one is refused.  Source: NMEA 0183 as described in receiver manuals; the standard
itself is not public.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import reduce
from math import nan

_SENTENCE = re.compile(r"[$!]([^*$\r\n]*)\*([0-9A-Fa-f]{2})")
#: No sentence is longer: 82 characters by the standard, receivers stretch it.
_LONGEST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """One sentence that holds a position; ``time`` is None where it has no date.

    ``height_m`` is above the WGS 84 ellipsoid, ``sea_level_m`` above mean sea level;
    nan is unknown.  ``clock`` is the UTC time of day.
    """

    latitude_deg: float
    longitude_deg: float
    height_m: float = nan
    sea_level_m: float = nan
    clock: time | None = None
    time: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """What a receiver said: fixes, and why other lines gave none (with line number)."""

    fixes: tuple[Fix, ...]
    problems: tuple[tuple[int, str], ...]
    sentences: int

    @property
    def best(self) -> Fix | None:
        """The last fix, with a height from the last that had one."""
        if not self.fixes:
            return None
        with_height = [fix for fix in self.fixes if fix.height_m == fix.height_m]
        return (with_height or list(self.fixes))[-1]


def read_nmea(text: str) -> Received:
    """Read sentences, one a line; what stands between them is ignored."""
    fixes: list[Fix] = []
    problems: list[tuple[int, str]] = []
    sentences = 0
    day: date | None = None
    for number, line in enumerate(text.splitlines(), 1):
        if "$" not in line:
            continue
        sentences += 1
        try:
            fix, day = sentence(line, day)
        except ValueError as error:
            problems.append((number, str(error)))
            continue
        if fix is not None:
            fixes.append(fix)
    return Received(fixes=tuple(fixes), problems=tuple(problems), sentences=sentences)


def sentence(line: str, day: date | None = None) -> tuple[Fix | None, date | None]:
    """The fix in one line (None for other kinds of sentence), and the date by then.

    ``day`` is the date an earlier RMC gave, for GGA has none.  Raises ValueError
    saying what is wrong.
    """
    fields = _checked(line)
    kind = fields[0][-3:]
    if kind == "GGA":
        return _gga(fields, day), day
    if kind == "RMC":
        fix = _rmc(fields)
        return fix, fix.time.date() if fix.time else day
    return None, day


def checksum(body: str) -> int:
    """XOR of the characters between ``$`` and ``*``."""
    return reduce(lambda total, character: total ^ ord(character), body, 0)


def _checked(line: str) -> list[str]:
    if len(line) > _LONGEST:
        raise ValueError("the sentence is too long")
    match = _SENTENCE.search(line)
    if match is None:
        raise ValueError("cut off, or without a checksum")
    body, told = match[1], int(match[2], 16)
    found = checksum(body)
    if found != told:
        raise ValueError(f"checksum {found:02X}, the sentence says {told:02X}")
    return body.split(",")


def _gga(fields: list[str], day: date | None) -> Fix:
    if len(fields) < 12:
        raise ValueError("GGA with too few fields")
    if fields[6] in ("", "0"):
        raise ValueError("the receiver has no fix yet")
    clock = _clock(fields[1])
    sea_level, geoid = _number(fields[9]), _number(fields[11])
    return Fix(
        latitude_deg=_angle(fields[2], fields[3], 90.0),
        longitude_deg=_angle(fields[4], fields[5], 180.0),
        height_m=sea_level + geoid,
        sea_level_m=sea_level,
        clock=clock,
        time=datetime.combine(day, clock, UTC) if day and clock else None,
    )


def _rmc(fields: list[str]) -> Fix:
    if len(fields) < 10:
        raise ValueError("RMC with too few fields")
    if fields[2] != "A":
        raise ValueError("the receiver has no fix yet")
    clock, day = _clock(fields[1]), _day(fields[9])
    return Fix(
        latitude_deg=_angle(fields[3], fields[4], 90.0),
        longitude_deg=_angle(fields[5], fields[6], 180.0),
        clock=clock,
        time=datetime.combine(day, clock, UTC) if day and clock else None,
    )


def _angle(text: str, letter: str, limit: float) -> float:
    """Degrees from ``dddmm.mmmm`` and a hemisphere."""
    match = re.fullmatch(r"(\d{1,3})(\d{2}(?:\.\d+)?)", text)
    if match is None or letter not in ("N", "S", "E", "W"):
        raise ValueError(f"cannot read {text},{letter} as a position")
    minutes = float(match[2])
    degrees = float(match[1]) + minutes / 60.0
    if minutes >= 60.0 or degrees > limit:
        raise ValueError(f"the position {text},{letter} is impossible")
    return -degrees if letter in "SW" else degrees


def _clock(text: str) -> time | None:
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2})(\.\d+)?", text)
    if match is None:
        return None
    hour, minute, second = (int(part) for part in match.groups()[:3])
    if hour > 23 or minute > 59 or second > 60:
        raise ValueError(f"the time {text} is impossible")
    fraction = timedelta(seconds=float(match[4] or 0))
    # a leap second is shown as the second before it
    return time(hour, minute, min(second, 59), fraction.microseconds, tzinfo=UTC)


def _day(text: str) -> date | None:
    """The date from ``ddmmyy``; years from 80 on are of the last century."""
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2})", text)
    if match is None:
        return None
    day, month, year = (int(part) for part in match.groups())
    try:
        return date(year + (1900 if year >= 80 else 2000), month, day)
    except ValueError as error:
        raise ValueError(f"the date {text} is impossible") from error


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return nan
