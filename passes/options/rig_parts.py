"""How the parts of a rig are typed: gains, filters, video modes, pairs of numbers."""

from __future__ import annotations

import re
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType

_SIZE = re.compile(r"(\d+)\s*[x×]\s*(\d+)\Z")
_SHUTTERS = ("rolling", "global", "unknown")


def number(text: str, what: str, low: float = 0.0, high: float = 1e12) -> float:
    """A number within limits; empty is unknown.  ValueError names ``what``."""
    if not text.strip():
        return nan
    try:
        value = float(text)
    except ValueError as error:
        raise ValueError(f"{what}: {text.strip()!r} is not a number") from error
    if not isfinite(value) or not low <= value <= high:
        raise ValueError(f"{what} {text.strip()} is impossible")
    return value


def whole(text: str, what: str, low: int, high: int) -> int:
    """A whole number within limits.  ValueError names ``what``."""
    value = number(text, what, low, high)
    if not value.is_integer():
        raise ValueError(f"{what}: {text.strip()!r} is not a whole number")
    return int(value)


class Part(ParamType):
    """Values separated by commas, made into a record by :meth:`made`."""

    want = ""
    least = 1
    most = 1

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Any:
        if not isinstance(value, str):
            return value
        parts = [part.strip() for part in value.split(",")]
        try:
            if not self.least <= len(parts) <= self.most:
                raise ValueError(f"want {self.want}")
            return self.made(parts)
        except ValueError as error:
            self.fail(f"{value!r}: {error}", param, ctx)

    def made(self, parts: list[str]) -> Any:
        """The record of the parts; ValueError says what is wrong."""
        raise NotImplementedError


class GainPart(Part):
    """``NAME,E_PER_ADU,READ_NOISE_E,FULL_WELL_E[,BITS]``."""

    name = "gain"
    want = "NAME,E_PER_ADU,READ_NOISE_E,FULL_WELL_E[,BITS]"
    least, most = 4, 5

    def made(self, parts: list[str]) -> Any:
        from passes.model import Gain

        return Gain(
            name=parts[0],
            electrons_per_adu=number(parts[1], "electrons an ADU", 1e-4, 1e4),
            read_noise_e=number(parts[2], "read noise", 0.0, 1e4),
            full_well_e=number(parts[3], "full well", 1.0, 1e7),
            bit_depth=int(number(parts[4], "bits", 1, 32)) if len(parts) > 4 else 12,
        )


class FilterPart(Part):
    """``NAME,CENTRE_NM,WIDTH_NM[,PEAK]``."""

    name = "filter"
    want = "NAME,CENTRE_NM,WIDTH_NM[,PEAK]"
    least, most = 3, 4

    def made(self, parts: list[str]) -> Any:
        from passes.model import Filter

        return Filter(
            name=parts[0],
            centre_nm=number(parts[1], "centre", 200.0, 3000.0),
            width_nm=number(parts[2], "width", 0.1, 2000.0),
            peak=number(parts[3], "peak", 1e-3, 1.0) if len(parts) > 3 else 1.0,
        )


class ModePart(Part):
    """Three values and up to five more, as ``want`` names them."""

    name = "mode"
    want = (
        "NAME,WIDTHxHEIGHT,FRAMES_A_SECOND"
        "[,SHUTTER[,LINE_US[,SHORTEST_S[,BYTES[,BINNING]]]]]"
    )
    least, most = 3, 8

    def made(self, parts: list[str]) -> Any:
        from passes.model import VideoMode

        size = _SIZE.match(parts[1])
        if size is None:
            raise ValueError(f"{parts[1]!r} is no size such as 1936x1216")
        rest = [*parts[3:], "", "", "", "", ""]
        shutter = rest[0] or "unknown"
        if shutter not in _SHUTTERS:
            raise ValueError(f"shutter {shutter!r}: want {', '.join(_SHUTTERS)}")
        return VideoMode(
            name=parts[0],
            width_px=int(size[1]),
            height_px=int(size[2]),
            frame_rate_hz=number(parts[2], "frames a second", 1e-3, 1e5),
            shutter=shutter,  # type: ignore[arg-type]
            line_time_us=number(rest[1], "line time", 1e-3, 1e5),
            shortest_exposure_s=number(rest[2], "shortest exposure", 1e-7, 100.0),
            bytes_per_px=number(rest[3], "bytes a pixel", 0.1, 16.0),
            binning=whole(rest[4] or "1", "binning", 1, 16),
        )


class Pair(Part):
    """Two numbers, such as the limits of two axes."""

    name = "pair"
    least, most = 2, 2

    def __init__(self, want: str, low: float, high: float) -> None:
        self.want, self.low, self.high = want, low, high

    def made(self, parts: list[str]) -> tuple[float, float]:
        """The pair."""
        names = self.want.split(",")
        first, second = (
            number(part, name, self.low, self.high)
            for part, name in zip(parts, names, strict=True)
        )
        return first, second
