"""Tonight's passes as a page of text for a terminal."""

from __future__ import annotations

from datetime import datetime, tzinfo
from math import isfinite
from typing import TYPE_CHECKING

from passes.model import Span
from passes.objects import counted_classes
from passes.tables import text
from passes.tables.layout import Column, Screen, labelled, listing, paragraph

if TYPE_CHECKING:
    from passes.forecast import Searched, Tonight, TonightRow
    from passes.model import Moment, Night, Site

_COLUMNS = (
    Column("Object", elastic=True),
    Column("In view"),
    Column("Best", drop=3),
    Column("±", "right", drop=4),
    Column("Where", drop=1),
    Column("Mag", "right", drop=2),
    Column("Ends in", drop=5),
    Column("Age", "right", drop=6),
    Column("Highest", "right", drop=7),
    Column("Range", "right", drop=8),
    Column("Speed", "right", drop=9),
)
#: What ends a view, as the table says it.
_ENDINGS = {"horizon": "horizon", "shadow": "shadow", "dawn": "dawn", "fades": "fading"}
#: What every page of the demo says first.
DEMO = "Demo: the sites, the objects and the night are invented."


def tonight_page(tonight: Tonight, screen: Screen) -> str:
    """Everything ``passes tonight`` says to a person."""
    zone = text.zone_of(tonight.site.zone)
    lines = paragraph(DEMO, screen) if tonight.demo else []
    lines += labelled(_heading(tonight, zone), screen)
    lines.append("")
    rows = list(tonight.rows)  # made when looked at, so looked at once
    if rows:
        cells = [_row(row, zone) for row in rows]
        lines += [*listing(_COLUMNS, cells, screen), ""]
        lines += paragraph(_legend(tonight, rows, zone), screen)
    else:
        lines.append("Nothing to go outside for.")
    for note in tonight.notes:
        if note.text != tonight.night.note:  # that one stands in the heading
            lines += paragraph(f"- {text.plain(note.text, 600)}", screen, "  ")
    return screen.finish(lines)


def _heading(tonight: Tonight, zone: tzinfo) -> list[tuple[str, str]]:
    night = tonight.night
    evening = f"{night.date:%A} {night.date.day} {night.date:%B %Y}"
    pairs = [("Site", place(tonight.site)), ("Evening", evening)]
    if tonight.window != night.window:
        times = f"{_moment(tonight.window.start, zone)} to "
        pairs.append(("Window", times + _moment(tonight.window.end, zone)))
    pairs.append(("Dark", _darkness(night, zone)))
    pairs.append(("Moon", _moon(night, zone)))
    pairs.append(("Searched", searched(tonight.searched)))
    return pairs


def _moment(time: datetime, zone: tzinfo) -> str:
    local = time.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M}"


def place(site: Site) -> str:
    """A site's name and position."""
    east = (site.longitude_deg + 180.0) % 360.0 - 180.0
    where = (
        f"{abs(site.latitude_deg):.4f}° {'S' if site.latitude_deg < 0 else 'N'}, "
        f"{abs(east):.4f}° {'W' if east < 0 else 'E'}, {site.height_m:.0f} m"
    )
    return f"{text.plain(site.name, 60)} ({where})" if site.name else where


def _darkness(night: Night, zone: tzinfo) -> str:
    parts = []
    if night.dark is not None:
        parts.append(text.span(night.dark, zone))
    elif not night.note:
        parts.append("no full darkness")
    if night.note:
        parts.append(text.plain(night.note))
    if night.window.duration_s < 23 * 3600:
        parts.append(f"Sun down {text.span(night.window, zone)}")
    return "; ".join([*(part.rstrip(".") for part in parts[:-1]), *parts[-1:]])


def _moon(night: Night, zone: tzinfo) -> str:
    lit = night.moon_illuminated
    parts = [f"{100 * lit:.0f} % lit"] if isfinite(lit) else []
    up = " and ".join(text.span(one, zone) for one in night.moon_up)
    parts.append(f"up {up}" if up else "below the horizon all night")
    return ", ".join(parts)


def searched(what: Searched) -> str:
    """How many objects of which classes were searched, how old, what was left out."""
    counts = counted_classes(what.classes)
    said = _many(what.objects, "object") + (f": {counts}" if counts else "")
    if isfinite(what.median_age_days):
        said += f"; elements {what.median_age_days:.1f} days old (median)"
        said += f", the oldest {what.oldest_age_days:.1f}"
    if what.skipped:
        said += f"; {_many(len(what.skipped), 'object')} left out"
    if what.rejected:
        said += f"; {_many(len(what.rejected), 'record')} could not be read"
    return said


def _many(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n:,} {what}s"


def _row(row: TonightRow, zone: tzinfo) -> list[str]:
    passage = row.passage
    best = row.best or passage.culmination
    step = text.step_s(passage.timing_sigma_s)
    highest = passage.culmination.altitude_deg if passage.culmination else float("nan")
    return [
        _name(row),
        _in_view(row, zone),
        text.clock(best.time, zone, step) if best else text.UNKNOWN,
        text.seconds(passage.timing_sigma_s, 0.1).replace(" ", ""),
        _where(best),
        text.magnitude(row.best.magnitude, row.best.magnitude_sigma)
        if row.best
        else "unlit",
        _ENDINGS.get(row.ended_by, ""),
        text.number(passage.element_age_days, 1, "d"),
        text.number(highest, 0, "°"),
        text.number(best.range_km, 0, " km") if best else text.UNKNOWN,
        text.number(row.best.angular_rate_deg_s, 2, "°/s")
        if row.best
        else text.UNKNOWN,
    ]


def _name(row: TonightRow) -> str:
    name = text.plain(row.passage.name, 60) or str(row.passage.catalog_number)
    if len(row.group) > 1:
        return f"{len(row.group)} × {name}"
    return name


def _in_view(row: TonightRow, zone: tzinfo) -> str:
    """The visible span; in brackets the time above the limit where none is visible."""
    if row.span is not None:
        return text.span(row.span, zone, outward=True)
    up = Span(start=row.passage.start, end=row.passage.end)
    return f"({text.span(up, zone, outward=True)})"


def _where(best: Moment | None) -> str:
    if best is None:
        return text.UNKNOWN
    return f"{best.altitude_deg:.0f}° {text.compass(best.azimuth_deg)}"


def _legend(tonight: Tonight, rows: list[TonightRow], zone: tzinfo) -> str:
    name = text.plain(tonight.site.zone)
    first = text.offset(tonight.window.start, zone)
    last = text.offset(tonight.window.end, zone)
    local = name if name == first else f"{name} ({first})"
    if first != last:
        local = f"{name} ({first}, later {last}: the clocks change)"
    said = f"Times are {local}; ± is one sigma of time and of magnitude."
    if any(row.span is None for row in rows):
        said += " In brackets: up, but not visible to the eye."
    if any(len(row.group) > 1 for row in rows):
        said += " N ×: so many fly in file, the first is named."
    return said
