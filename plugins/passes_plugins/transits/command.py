"""``passes transits``: in front of the Moon or the Sun, and where to drive."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite, nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError
from passes.options import (
    Chart,
    Evening,
    Finite,
    Moment,
    Output,
    asks,
    draws,
    writes,
)

if TYPE_CHECKING:
    from datetime import datetime

    from passes.contributions import Services
    from passes_plugins.transits.finding import Transits
    from passes_plugins.transits.wanted import Wanted

_BODIES = ("moon", "sun", "mercury", "venus", "mars", "jupiter", "saturn")
#: No strip is looked for further away, km.
MOST_REACH_KM = 1000.0

if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType


class Until(ParamType):
    """A day (its midnight, UTC) or a time with its zone."""

    name = "time"

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        from datetime import UTC, date, datetime, time

        if not isinstance(value, str):
            return value
        if len(value.strip()) > len("YYYY-MM-DD"):
            return Moment().convert(value, param, ctx)
        day: date = Evening().convert(value, param, ctx)
        return datetime.combine(day, time(), UTC)


@click.command("transits")
@click.option(
    "--body",
    "bodies",
    multiple=True,
    type=click.Choice(_BODIES, case_sensitive=False),
    help="In front of which body. Repeat. Default: Moon and Sun.",
)
@click.option("--all", "everything", is_flag=True, help="All objects, for one night.")
@click.option(
    "--reach",
    "reach_km",
    type=Finite(0.1, MOST_REACH_KM, " km"),
    metavar="KM",
    help="Also where to drive: strips so near the site.",
)
@click.option(
    "--area",
    "area_path",
    type=click.Path(path_type=Path),
    metavar="FILE.geojson",
    help="Strips inside these polygons.",
)
@click.option(
    "--height-at",
    "height_m",
    type=Finite(-500.0, 9000.0, " m"),
    metavar="METRES",
    help="Height of the ground there, in place of the site's.",
)
@click.option(
    "--within",
    "within_deg",
    type=Finite(0.01, 30.0, "°"),
    metavar="DEG",
    help="Near misses too, so far from the disc's centre.",
)
@click.option(
    "--min-altitude",
    "min_altitude_deg",
    type=Finite(0.0, 89.0, "°"),
    default=20.0,
    show_default=True,
    metavar="DEG",
    help="The body must stand higher.",
)
@click.option(
    "--until",
    type=Until(),
    metavar="DATE",
    help="Search so far ahead, however old the elements.",
)
@click.option("--anyway", is_flag=True, help="Even with elements too old for a strip.")
@writes("transits")
@draws("disc", "strip")
@asks(rigs=True)
@click.pass_obj
def command(services: Services, /, output: Output, chart: Chart, **given: Any) -> None:
    """In front of the Moon or the Sun, and where to drive to see it central.

    Stations and objects longer than 30 m, unless --object names others, from now for
    as long as their elements are good for a strip. With --reach or --area the strips
    on the ground; --output strip.geojson, .kml or .gpx for a map, .csv for
    way-points. With --rig how to shoot it.

    \b
    SUN: a certified full-aperture solar filter on every telescope, lens and
    finder; never look or point unfiltered; cover while slewing.

    \b
    Examples:
      passes transits --demo --body moon
      passes transits --demo --body sun --chart strip.pdf
      passes transits --demo --reach 100 --rig long
      passes transits --demo --body sun --reach 100 --output strip.gpx
      passes transits --body moon --all --date 2029-03-20
    """
    from passes_plugins.transits.finding import find

    found = find(services, _wanted(services, given))
    found = replace(found, advice=_advice(services, found))
    _write(output, found)
    _draw(services, chart, found)


def _draw(services: Services, chart: Chart, found: Transits) -> None:
    if chart.path is None:
        return
    from passes_plugins.transits.drawing import draw

    named = bool(click.get_current_context().params.get("rigs"))
    draw(services, chart, found, services.rigs[0] if named else None)


def _wanted(services: Services, given: dict[str, Any]) -> Wanted:
    """The choices typed; InputError for those that do not go together."""
    from passes_plugins.transits.wanted import Wanted

    params = click.get_current_context().params
    area, reach_km = None, _or_nan(given["reach_km"])
    if given["area_path"] is not None:
        area, reach_km = _area(services, given["area_path"], reach_km)
    strips = isfinite(reach_km)
    if strips and given["within_deg"] is not None:
        raise InputError("--within is about one place; leave it out with --reach")
    if not strips and given["height_m"] is not None:
        raise InputError("--height-at is about strips; add --reach or --area")
    if given["everything"] and params.get("objects"):
        raise InputError("--all and --object contradict each other")
    return Wanted(
        bodies=tuple(dict.fromkeys(b.lower() for b in given["bodies"]))
        or ("moon", "sun"),
        everything=given["everything"],
        named=bool(params.get("objects")),
        min_altitude_deg=given["min_altitude_deg"],
        within_deg=_or_nan(given["within_deg"]),
        reach_km=reach_km,
        area=area,
        height_m=_or_nan(given["height_m"]),
        until=_until(given["until"], params),
        whole_window=bool(params.get("start") or params.get("evening")),
        anyway=given["anyway"],
    )


def _or_nan(value: float | None) -> float:
    return nan if value is None else value


def _until(until: datetime | None, params: dict[str, Any]) -> datetime | None:
    if until is not None and (params.get("start") or params.get("evening")):
        raise InputError("--until goes with neither --date nor --from; leave one out")
    return until


def _area(services: Services, path: Path, reach_km: float) -> tuple[Any, float]:
    """The area, and how far from the site its furthest corner lies."""
    from passes.model import Site
    from passes_plugins.transits.area import read_area
    from passes_plugins.transits.strips import way

    area = read_area(path, services.site.longitude_deg)
    corners = (
        Site(latitude_deg=float(y), longitude_deg=(float(x) + 180.0) % 360.0 - 180.0)
        for x, y in area.corners
    )
    furthest = max(way(services.site, corner)[0] for corner in corners)
    if isfinite(reach_km):
        return area, min(reach_km, furthest)
    if furthest > MOST_REACH_KM:
        raise InputError(
            f"{path}: reaches {furthest:,.0f} km from the site, more than "
            f"{MOST_REACH_KM:,.0f}; choose a nearer site, or add --reach"
        )
    return area, max(furthest, 0.1)


def _advice(services: Services, found: Transits) -> dict[str, tuple[Any, ...]]:
    """What the advisers say of each transit, where rigs are named."""
    if not click.get_current_context().params.get("rigs"):
        return {}
    return {
        event.id: tuple(
            one for rig in services.rigs for one in services.advise(event, rig)
        )
        for event in found.events
        if not event.details["near_miss"]
    }


def _write(output: Output, found: Transits) -> None:
    from passes_plugins.transits import document
    from passes_plugins.transits.page import page

    strips = found.wanted.strips
    output.write(
        table=lambda screen: page(found, screen),
        document=lambda: document.document(found),
        records=lambda: document.records(found),
        columns=document.POINT_COLUMNS if strips else document.COLUMNS,
        items=lambda: found.events,
        site=found.site,
        window=found.window,
        demo=found.demo,
    )
