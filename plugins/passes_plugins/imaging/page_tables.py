"""The table along the pass, and the ranking of a week."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

from passes.tables import (
    BESIDE_SUN,
    UNKNOWN,
    Column,
    Screen,
    clock,
    compass,
    listing,
    magnitude,
    offset,
    paragraph,
    plain,
    zone_of,
)
from passes.tables import number as shown
from passes_plugins.imaging.dial import dial
from passes_plugins.imaging.ranking import BY_DAY

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Advice
    from passes_plugins.imaging.ranking import Ranked, Ranking

_DEMO = "Demo: the sites, the objects and the rigs are invented."
_ALONG = (
    Column("Time"),
    Column("Az", "right"),
    Column("Alt", "right"),
    Column("km", "right", drop=7),
    Column("Size″", "right"),
    Column("px", "right", drop=4),
    Column("°/s", "right"),
    Column("Axis 1", "right", drop=3),
    Column("Axis 2", "right", drop=3),
    Column("Turn", "right", drop=5),
    Column("Mag", "right", drop=2),
    Column("Still", "right"),
    Column("Follow", "right", drop=1),
    Column("e⁻", "right", drop=6),
    Column(""),
)


def along(advice: Advice, zone: tzinfo, screen: Screen, several: bool) -> list[str]:
    """Rows along the pass; the last column marks what cannot be used or followed."""
    rows = [_row(advice, dict(row), zone) for row in advice.table]
    if not rows:
        return []
    following: Any = advice.settings.get("following") or {}
    axes = " and ".join(following.get("axes", ("azimuth", "altitude")))
    legend = (
        f"Axis 1 and 2: rates of {axes}, °/s; Turn: rotation of the field, °/s; Still "
        "and Follow: longest shutter; e⁻: electrons a pixel with the settings above. "
        "x: not lit, behind the horizon or near the Sun; !: faster than the mount."
    )
    title = [f"Along the pass, rig {plain(advice.rig, 40)}:"] if several else []
    return [*title, *listing(_ALONG, rows, screen), *paragraph(legend, screen)]


#: Columns of plain numbers after the time, and their decimals; ``{}`` is an axis.
_FIGURES = {
    "azimuth_deg": 1,
    "refracted_altitude_deg": 1,
    "range_km": 0,
    "size_arcsec": 1,
    "size_px": 0,
    "angular_rate_deg_s": 2,
    "{0}_rate_deg_s": 2,
    "{1}_rate_deg_s": 2,
    "field_rotation_deg_s": 2,
    "magnitude": 1,
}


def _row(advice: Advice, row: dict[str, Any], zone: tzinfo) -> list[str]:
    following: Any = advice.settings.get("following") or {}
    equatorial = "hour angle" in following.get("axes", ())
    axes = ("hour_angle", "dec") if equatorial else ("azimuth", "altitude")
    mark = "" if row["can_follow"] or advice.settings.get("way") != "follow" else "!"
    return [
        clock(datetime.fromisoformat(row["time"]), zone, 1.0),
        *(
            shown(_known(row, key.format(*axes)), decimals)
            for key, decimals in _FIGURES.items()
        ),
        _longest(row, "exposure_fixed_s"),
        _longest(row, "exposure_follow_s"),
        shown(_known(row, "electrons_px")),
        mark if row["usable"] else "x",
    ]


def _known(row: dict[str, Any], key: str) -> float:
    value = row.get(key)
    return float("nan") if value is None else float(value)


def _longest(row: dict[str, Any], key: str) -> str:
    """A shutter without its unit."""
    exposure_s = _known(row, key)
    return UNKNOWN if exposure_s != exposure_s else dial(exposure_s).removesuffix(" s")


#: What stands below a list in which something passes by day.
_SUN = f"- SUN: it is up in some of these. {BESIDE_SUN}"
_BEST = (
    Column("#", "right"),
    Column("Pass", elastic=True),
    Column("Night", drop=1),
    Column("Time"),
    Column("±", "right", drop=6),
    Column("Where"),
    Column("Size", "right", drop=2),
    Column("px", "right", drop=4),
    Column("Mag", "right", drop=3),
    Column("Rig", drop=5),
)


def best_page(services: Services, ranking: Ranking, screen: Screen) -> str:
    """The passes of the week worth preparing for, and the reasons."""
    zone = zone_of(services.site.zone)
    lines = paragraph(_DEMO, screen) if services.demo else []
    lines += paragraph(_looked_at(ranking, zone), screen)
    if not ranking.rows:
        told = "None of them gets that high while it is lit: nothing to prepare for."
        return screen.finish([*lines, *paragraph(told, screen)])
    rows = [_best(i, one, zone) for i, one in enumerate(ranking.rows, 1)]
    lines += ["", *listing(_BEST, rows, screen), ""]
    for i, one in enumerate(ranking.rows, 1):
        text = f"{i}. {one.passage.id}: {'; '.join(one.reasons)}."
        lines += paragraph(plain(text, 400), screen, "   ")
    clocks = f"{services.site.zone} ({offset(ranking.window.start, zone)})"
    closing = (
        f"Times are {clocks}, no finer than their 95 % bound. Ranked by resolution "
        "elements along the object, less on a bright sky or where the mount cannot "
        "keep up. Fetch fresh elements the day before."
    )
    lines += ["", *paragraph(closing, screen)]
    if any(BY_DAY in one.reasons for one in ranking.rows):
        lines += paragraph(_SUN, screen, "  ")
    return screen.finish(lines)


def _looked_at(ranking: Ranking, zone: tzinfo) -> str:
    """The week, and how much was looked at."""
    first, last = (
        moment.astimezone(zone) for moment in (ranking.window.start, ranking.window.end)
    )
    return (
        f"Worth preparing for from {first:%a %d %b} to {last:%a %d %b %Y}: "
        f"{_counted(ranking.passes, 'pass', 'es')} of "
        f"{_counted(ranking.searched, 'object', 's')}; lit, above "
        f"{ranking.lowest_deg:.0f}°."
    )


def _counted(number: int, what: str, ending: str) -> str:
    return f"one {what}" if number == 1 else f"{number} {what}{ending}"


def _span(seconds: float) -> str:
    """A length of time, coarsely."""
    if seconds != seconds:
        return UNKNOWN
    if seconds < 100.0:
        return f"{max(seconds, 1.0):.0f} s"
    return f"{seconds / 60.0:.0f} min"


def _best(place: int, one: Ranked, zone: tzinfo) -> list[str]:
    passage, moment = one.passage, one.moment
    return [
        str(place),
        plain(passage.name or passage.id, 60),
        f"{moment.time.astimezone(zone):%a %d %b}",
        clock(one.time, zone, one.step_s),
        _span(passage.timing_bound_s),
        f"{moment.altitude_deg:.0f}° {compass(moment.azimuth_deg)}",
        shown(one.size_arcsec, 0, "″"),
        shown(one.size_px),
        magnitude(one.magnitude, float("nan")),
        plain(one.rig, 20),
    ]
