"""Which transit is drawn, as what, and what a drawing is in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from math import nan
from typing import TYPE_CHECKING

from passes.errors import PassesError
from passes.model import Picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.contributions import Services
    from passes.model import Event, Rig, Site
    from passes.options import Chart
    from passes_plugins.transits.finding import Transits

#: How far strips are looked for where only a chart of one is asked for, km.
REACH_KM = 100.0
#: A report has pictures of no more transits than this, the earliest.
_MOST = 6


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
        nearby = replace(found.wanted, reach_km=REACH_KM, within_deg=nan)
        events = find(services, nearby).events
    there = [e for e in events if e.details.get("strip")]
    if not there:
        raise PassesError(
            "no strip to draw: none within reach; try a longer --reach KM, or --until"
        )
    return there[0]


# --- as part of a report -----------------------------------------------------------


def pictures_of(found: Transits, rigs: Sequence[Rig]) -> tuple[Picture, ...]:
    """Disc and strip of every transit, drawn when asked for; the chip of a lone rig."""
    rig = rigs[0] if len(rigs) == 1 else None
    events = [e for e in found.events if not e.details.get("near_miss")][:_MOST]
    return tuple(p for event in events for p in _pictures(found, event, rig))


def _pictures(found: Transits, event: Event, rig: Rig | None) -> Iterator[Picture]:
    site, demo = found.site, found.demo
    yield Picture(
        name="disc",
        about=event.id,
        described=_disc_words(event),
        draw=partial(_draw_disc, event=event, site=site, rig=rig, demo=demo),
    )
    if event.details.get("strip"):
        yield Picture(
            name="strip",
            about=event.id,
            described=_strip_words(event),
            draw=partial(_draw_strip, event=event, site=site, demo=demo),
        )


def _draw_disc(
    palette: Palette, *, event: Event, site: Site, rig: Rig | None, demo: bool
) -> Figure:
    from passes_plugins.transits.chart import disc_chart

    return disc_chart(palette, event, site, rig=rig, demo=demo)


def _draw_strip(palette: Palette, *, event: Event, site: Site, demo: bool) -> Figure:
    from passes_plugins.transits.chart_of_strip import strip_chart

    return strip_chart(palette, event, site, demo=demo)


def _disc_words(event: Event) -> str:
    """What the disc shows, for those who do not see it."""
    details = event.details
    words = f"The disc of the {str(details['body']).capitalize()}, north up, east left."
    ends = (details["entry_position_angle_deg"], details["exit_position_angle_deg"])
    if None not in ends:
        words += (
            f" {event.subject} enters at position angle {ends[0]:.0f}° and leaves at "
            f"{ends[1]:.0f}°"
        )
        if details.get("duration_s"):
            words += f" after {details['duration_s']:.2f} s"
        words += "."
    dark = details.get("terminator")
    return f"{words} The Moon is {dark}." if dark else words


def _strip_words(event: Event) -> str:
    """What the grid shows, for those who do not see it."""
    strip = event.details["strip"]
    near = strip["nearest"]
    return (
        f"The strip on the ground from which {event.subject} crosses the "
        f"{str(event.details['body']).capitalize()}: {strip['width_km']:.1f} km wide, "
        f"its nearest point {near['distance_km']:.1f} km from the site towards "
        f"{near['bearing_deg']:.0f}°; at 95 % it lies within "
        f"{strip['shift_km']:.1f} km of that."
    )
