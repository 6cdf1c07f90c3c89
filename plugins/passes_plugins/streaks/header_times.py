"""When an exposure began, from its header (FITS 4.0, section 9)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isfinite
from typing import Any

from passes.errors import InputError
from passes_plugins.streaks.headers import number_of, text_of, value_of

_DATE = re.compile(
    r"\s*(?P<date>\d{4}-\d{2}-\d{2})"
    r"(?:[T ](?P<clock>\d{2}:\d{2}(?::\d{2}(?:\.\d*)?)?)"
    r"(?P<zone>Z|[+-]\d{2}:?\d{2})?)?\s*\Z"
)
#: TAI − UTC by the date from which it holds (IERS Bulletin C).
_LEAPS = (
    (datetime(2017, 1, 1, tzinfo=UTC), 37.0),
    (datetime(2015, 7, 1, tzinfo=UTC), 36.0),
    (datetime(2012, 7, 1, tzinfo=UTC), 35.0),
    (datetime(2009, 1, 1, tzinfo=UTC), 34.0),
    (datetime(2006, 1, 1, tzinfo=UTC), 33.0),
    (datetime(1999, 1, 1, tzinfo=UTC), 32.0),
)
#: How far each time scale is ahead of TAI, seconds (IAU; GPS by ICD 200).
_AHEAD_OF_TAI_S = {
    "TAI": 0.0,
    "IAT": 0.0,
    "GPS": -19.0,
    **dict.fromkeys(("TT", "TDT", "ET", "TDB", "TCB", "TCG"), 32.184),
}
_UTC = ("UTC", "UT", "GMT", "UT1", "")
_MJD_EPOCH = datetime(1858, 11, 17, tzinfo=UTC)
#: What a comment beside DATE-OBS may say.
_WHERE = re.compile(
    r"\b(?:(?P<middle>mid\w*|cent(?:er|re))|(?P<end>end(?:s|ed|ing)?)|"
    r"(?P<start>start\w*|begin\w*))\b",
    re.IGNORECASE,
)
_PARTS = {"start": 0.0, "middle": 0.5, "end": 1.0}
#: Times that ought to agree may differ by so much, seconds.
_SLACK_S = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Start, length, and how finely the start is told, seconds; remarks beside."""

    start: datetime
    exposure_s: float
    resolution_s: float
    remarks: tuple[str, ...] = ()


def exposure_of(header: Mapping[str, Any], comments: Mapping[str, str]) -> Exposure:
    """When the shutter was open; InputError says what is missing or impossible."""
    remarks: list[str] = []
    exposure_s = _exposure_s(header, remarks)
    scale = text_of(header, "TIMESYS").upper()
    found = _starts(header, comments, scale, exposure_s)
    if not found:
        raise InputError("no time of exposure: neither DATE-OBS nor DATE-BEG")
    name, start, resolution_s = found[0]
    for other, time, _ in found[1:]:
        apart = abs((time - start).total_seconds())
        if apart > max(_SLACK_S, 0.02 * exposure_s):
            remarks.append(
                f"{other} puts the start {apart:.1f} s away from {name}, which is taken"
            )
    return Exposure(
        start=start,
        exposure_s=exposure_s,
        resolution_s=resolution_s,
        remarks=tuple(remarks),
    )


def _exposure_s(header: Mapping[str, Any], remarks: list[str]) -> float:
    """Seconds from XPOSURE (FITS 4.0), EXPTIME or EXPOSURE."""
    given = {}
    for key in ("XPOSURE", "EXPTIME", "EXPOSURE"):
        value = value_of(header, key)
        if value is not None:
            try:
                given[key] = float(value)
            except ValueError:
                raise InputError(f"{key} is no number: {value!r}") from None
    if not given:
        raise InputError("no exposure time: none of EXPTIME, XPOSURE, EXPOSURE")
    name, value = next(iter(given.items()))
    if not isfinite(value) or not 0.0 < value <= 86400.0:
        raise InputError(f"{name} {value:g} s is impossible")
    for other, seconds in given.items():
        if abs(seconds - value) > 0.01 * value:
            remarks.append(
                f"{other} is {seconds:g} s, {name} {value:g} s; {name} is taken"
            )
    return value


def _starts(
    header: Mapping[str, Any],
    comments: Mapping[str, str],
    scale: str,
    exposure_s: float,
) -> list[tuple[str, datetime, float]]:
    """Each keyword's idea of the start, the most trusted first."""
    found = []
    for key, part in (
        ("DATE-BEG", 0.0),
        ("DATE-OBS", _said(comments.get("DATE-OBS", ""))),
        ("DATE-AVG", 0.5),
        ("DATE-END", 1.0),
    ):
        value = value_of(header, key)
        if value is None:
            continue
        text = str(value)
        if key == "DATE-OBS" and not {"T", ":"} & set(text):
            text = f"{text.strip()}T{_clock(header)}"
        time, resolution_s = _time(text, key, scale)
        back = timedelta(seconds=part * exposure_s)
        found.append((key, time - back, resolution_s))
    for key in ("MJD-BEG", "MJD-OBS"):
        days = number_of(header, key)
        if not found and 0.0 < days < 200_000.0:
            time = _MJD_EPOCH + timedelta(days=days)
            found.append((key, _as_utc(time, scale), 0.001))
    return found


def _said(comment: str) -> float:
    """The part of the exposure that DATE-OBS stands at; its start unless told."""
    match = _WHERE.search(comment)
    return _PARTS[match.lastgroup or "start"] if match else 0.0


def _clock(header: Mapping[str, Any]) -> str:
    """The time of day where DATE-OBS has only a date."""
    for key in ("TIME-OBS", "UT", "UTC", "UTSTART"):
        value = value_of(header, key)
        if value is not None:
            return str(value).strip()
    raise InputError("DATE-OBS is a date without a time of day")


def _time(text: str, key: str, scale: str) -> tuple[datetime, float]:
    """An instant in UTC and its resolution."""
    match = _DATE.match(text)
    if match is None or not match["clock"]:
        raise InputError(f"{key} is no FITS time: {text.strip()!r}")
    clock = match["clock"]
    if clock.startswith("24:"):
        raise InputError(
            f"{key} {text.strip()}: hours run from 00 to 23 (midnight is T00:00:00 of "
            "the next day)"
        )
    whole, _, decimals = clock.partition(".")
    try:
        time = datetime.fromisoformat(f"{match['date']}T{whole}")
    except ValueError as error:
        raise InputError(f"{key} {text.strip()}: {error}") from None
    time += timedelta(seconds=float(f"0.{decimals or 0}"))
    zone = match["zone"]
    if zone and zone != "Z":
        time = datetime.fromisoformat(f"{time.isoformat()}{zone}").astimezone(UTC)
    else:
        time = _as_utc(time.replace(tzinfo=UTC), scale)
    return time, 10.0 ** -len(decimals) if decimals else 1.0


def _as_utc(time: datetime, scale: str) -> datetime:
    """A time read in a scale, in UTC."""
    if scale in _UTC:
        return time
    if scale not in _AHEAD_OF_TAI_S:
        raise InputError(
            f"TIMESYS {scale!r} is no time scale that leads to UTC; local time cannot "
            "be used"
        )
    leap_s = next((leap for since, leap in _LEAPS if time >= since), 32.0)
    return time - timedelta(seconds=leap_s + _AHEAD_OF_TAI_S[scale])
