"""How places, evenings, times and numbers are typed on the command line."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType

#: Hemispheres are capitals and units small letters: 36 S is south, 36s are seconds.
_ANGLE = re.compile(
    r"""(?P<before>[NSEW])?\s*(?P<sign>[+\-−])?\s*(?P<degrees>\d+(\.\d+)?)
    (\s*[°d:\s]\s*(?P<minutes>\d+(\.\d+)?)
      (\s*['′m:\s]\s*(?P<seconds>\d+(\.\d+)?)\s*(["″s]|'')?|\s*['′m])?|\s*[°d])?
    \s*(?P<after>[NSEW])?\Z""",
    re.VERBOSE,
)
_HEIGHT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*m?\Z")
_EVENING = re.compile(r"\d{4}-\d{2}-\d{2}\Z")
_PASS_ID = re.compile(r"(\d{1,9})-(\d{8}T\d{4})\Z")


@dataclass(frozen=True, slots=True)
class PassId:
    """The parts of a pass's id: whose, and its highest moment to ten minutes."""

    catalog_number: int
    time: datetime


def angle_deg(text: str, hemispheres: str) -> float:
    """Degrees of a coordinate, decimal or sexagesimal, with a sign or a letter.

    ``hemispheres`` are the two letters for positive and negative, ``NS`` or ``EW``.
    Raises ValueError saying what is wrong.
    """
    match = _ANGLE.match(text.strip())
    if match is None:
        raise ValueError(f"cannot read {text.strip()!r} as an angle")
    letter = match["before"] or match["after"] or ""
    if match["before"] and match["after"]:
        raise ValueError(f"{text.strip()!r} has two letters")
    if letter and letter not in hemispheres:
        raise ValueError(
            f"{text.strip()!r} stands where {'/'.join(hemispheres)} belongs"
        )
    if letter and match["sign"]:
        raise ValueError(f"{text.strip()!r} has both a sign and a letter")
    minutes, seconds = float(match["minutes"] or 0), float(match["seconds"] or 0)
    if minutes >= 60 or seconds >= 60:
        raise ValueError(f"{text.strip()!r} has 60 minutes or seconds, or more")
    degrees = float(match["degrees"]) + minutes / 60 + seconds / 3600
    south_or_west = letter == hemispheres[1] or match["sign"] in ("-", "−")
    return -degrees if south_or_west else degrees


class Place(ParamType):
    """``LAT,LON[,HEIGHT_M]``: a site at that place, in the machine's time zone."""

    name = "place"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        from passes.errors import InputError
        from passes.model import Site

        if isinstance(value, Site):
            return value
        parts = str(value).split(",")
        if len(parts) not in (2, 3):
            self.fail(
                f"{value!r}: want LAT,LON or LAT,LON,HEIGHT_M, such as 37.1,-3.4,1900",
                param,
                ctx,
            )
        try:
            longitude = angle_deg(parts[1], "EW")
            return Site(
                latitude_deg=angle_deg(parts[0], "NS"),
                longitude_deg=longitude,
                height_m=_height_m(parts[2]) if len(parts) == 3 else 0.0,
                zone=machine_zone(),
            )
        except (InputError, ValueError) as error:
            self.fail(str(error), param, ctx)


def _height_m(text: str) -> float:
    match = _HEIGHT.match(text.strip())
    if match is None:
        raise ValueError(f"cannot read {text.strip()!r} as a height in metres")
    return float(match[1])


def machine_zone() -> str:
    """The IANA name of the zone this machine is set to; UTC where it has none."""
    from zoneinfo import ZoneInfo

    import tzlocal

    try:
        name = tzlocal.get_localzone_name() or "UTC"
        ZoneInfo(name)
    except (LookupError, ValueError, OSError):
        return "UTC"
    return "UTC" if name == "Etc/UTC" else name


class Evening(ParamType):
    """``YYYY-MM-DD``: the local evening on which a night begins."""

    name = "date"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        if isinstance(value, date):
            return value
        try:
            if not _EVENING.match(value):
                raise ValueError("want YYYY-MM-DD, the local evening")
            return date.fromisoformat(value)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)


class Moment(ParamType):
    """An ISO 8601 time with its zone: ``Z`` or an offset; no zone is refused."""

    name = "time"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        if isinstance(value, datetime):
            return value
        try:
            time = datetime.fromisoformat(value.strip())
            if time.tzinfo is None:
                raise ValueError("no zone; add Z, or an offset such as +02:00")
            return time.astimezone(UTC)
        except (ValueError, OverflowError) as error:
            self.fail(f"{value!r}: {error}", param, ctx)


class PassName(ParamType):
    """A pass's id as every list prints it, such as ``80001-20250914T2120``."""

    name = "id"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        if isinstance(value, PassId):
            return value
        match = _PASS_ID.match(value.strip())
        try:
            if match is None:
                raise ValueError("want an id such as 80001-20250914T2120")
            time = datetime.strptime(match[2], "%Y%m%dT%H%M").replace(tzinfo=UTC)
            return PassId(catalog_number=int(match[1]), time=time)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)


class Finite(ParamType):
    """A finite number within limits; the unit is for the message."""

    name = "number"

    def __init__(self, low: float, high: float, unit: str = "") -> None:
        self.low, self.high, self.unit = low, high, unit

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        try:
            number = float(value)
        except ValueError:
            self.fail(f"{value!r} is not a number", param, ctx)
        if not isfinite(number) or not self.low <= number <= self.high:
            self.fail(
                f"{value}{self.unit} is impossible ({self.low:g} to {self.high:g})",
                param,
                ctx,
            )
        return number
