"""Local time along an axis, whatever the zone and the span; points of the compass."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, Any

from passes.charts.paper import SMALL
from passes.charts.theme import Palette
from passes.model import Span

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Under this a span's ticks need seconds.
_FINE_S = 180.0


def zone_of(name: str) -> tzinfo:
    """The time zone of that name; UTC where there is none."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return UTC


def zone_words(time: datetime, zone: tzinfo) -> str:
    """How times are meant, such as ``Europe/Madrid, UTC+1``."""
    minutes = round((time.astimezone(zone).utcoffset() or timedelta()).seconds / 60)
    if not minutes:
        return "UTC"
    minutes -= 1440 if minutes > 840 else 0
    hours, rest = divmod(abs(minutes), 60)
    shift = f"{'+' if minutes > 0 else '−'}{hours}" + (f":{rest:02d}" if rest else "")
    return f"{getattr(zone, 'key', 'local time')}, UTC{shift}"


def clock(time: datetime, zone: tzinfo, *, seconds: bool = False) -> str:
    """Local time of day, to the nearest minute or second."""
    step = 1.0 if seconds else 60.0
    rounded = time + timedelta(seconds=step / 2)
    return f"{rounded.astimezone(zone):%H:%M:%S}"[: 8 if seconds else 5]


def compass(azimuth_deg: float) -> str:
    """The nearest of eight points."""
    points = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
    return points[round(azimuth_deg / 45.0) % 8]


def time_axis(axes: Axes, palette: Palette, span: Span, zone: tzinfo) -> None:
    """Local time of day along the x axis; the zone is named below it."""
    from matplotlib import dates

    untyped: Any = dates
    axes.set_xlim(numbers(span.start), numbers(span.end))
    fine = span.duration_s < _FINE_S
    most = 4 if fine else 7
    locator = untyped.AutoDateLocator(tz=zone, minticks=3, maxticks=most)
    axes.xaxis.set_major_locator(locator)
    form = "%H:%M:%S" if fine else "%H:%M"
    axes.xaxis.set_major_formatter(untyped.DateFormatter(form, zone))
    axes.set_xlabel(zone_words(span.start, zone), color=palette.ink, fontsize=SMALL)


def numbers(times: Any) -> Any:
    """Times as numbers of an axis."""
    from matplotlib import dates

    untyped: Any = dates
    return untyped.date2num(times)
