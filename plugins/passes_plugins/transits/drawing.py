"""Which transit is drawn, and as what."""

from __future__ import annotations

from dataclasses import replace
from math import nan
from typing import TYPE_CHECKING

from passes.errors import PassesError

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Event, Rig
    from passes.options import Chart
    from passes_plugins.transits.finding import Transits

#: How far strips are looked for where only a chart of one is asked for, km.
_REACH_KM = 100.0


def draw(services: Services, chart: Chart, found: Transits, rig: Rig | None) -> None:
    """Draw the first transit found; PassesError where there is none to draw."""
    from passes_plugins.transits.chart import disc_chart
    from passes_plugins.transits.chart_of_strip import strip_chart

    event = _strip(services, found) if chart.figure == "strip" else _disc(found)
    demo = services.demo
    chart.write(
        {
            "disc": lambda palette: disc_chart(
                palette, event, found.site, rig=rig, demo=demo
            ),
            "strip": lambda palette: strip_chart(palette, event, found.site, demo=demo),
        },
        described=f"{event.subject}, {event.id}",
    )


def _disc(found: Transits) -> Event:
    central = [e for e in found.events if not e.details.get("near_miss")]
    if not central:
        raise PassesError("no transit to draw: none was found")
    return central[0]


def _strip(services: Services, found: Transits) -> Event:
    """The first transit with a strip; strips are looked for if that was not asked."""
    from passes_plugins.transits.finding import find

    events = found.events
    if not found.wanted.strips:
        nearby = replace(found.wanted, reach_km=_REACH_KM, within_deg=nan)
        events = find(services, nearby).events
    there = [e for e in events if e.details.get("strip")]
    if not there:
        raise PassesError(
            "no strip to draw: none within reach; try a longer --reach KM, or --until"
        )
    return there[0]
