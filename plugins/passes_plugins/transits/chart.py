"""The chart of one transit: the disc with the chord across it, north up, east left."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import clock, zone_of, zone_words
from passes.charts.paper import (
    SMALL,
    USUAL,
    WIDTH_IN,
    headed,
    listed,
    new_figure,
    plain,
    plate,
    wrapped,
)
from passes_plugins.transits.disc_geometry import (
    chip_outline,
    dark_part,
    spot,
    ticks_s,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.model import Event, Rig, Site

Floats = NDArray[np.float64]

#: A chip that reaches further than so many radii would make the disc too small.
_WIDEST = 4.0
#: Words stand so far off their tick, points; less than this aside is straight.
_TICK_PT, _STRAIGHT = 7.0, 0.38
#: Without a chip so many radii are shown.
_AROUND = 1.3


def disc_chart(
    palette: Palette,
    event: Event,
    site: Site,
    *,
    rig: Rig | None = None,
    demo: bool = False,
) -> Figure:
    """The disc, its dark part, the way of the object with its seconds, the chip."""
    details, reach = event.details, _AROUND
    outline = None
    if rig is not None:
        outline = chip_outline(details, rig)
        reach = max(reach, 1.12 * float(np.abs(outline).max()))
    words = _words(event, site)
    if rig is not None and reach > _WIDEST:
        words += f"\nThe chip of {plain(rig.name, 14)} reaches beyond the picture."
        outline, reach = None, _AROUND
    lines = words.count("\n") + 1
    figure = new_figure(palette, WIDTH_IN + 0.45 + 0.15 * lines)
    axes = figure.add_subplot(1, 1, 1)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    _disc(axes, palette, details)
    _chord(axes, palette, event, reach)
    if rig is not None and outline is not None:
        _chip(axes, palette, outline, rig, details)
    _points(axes, palette, details)
    headed(figure, palette, _title(event), demo=demo)
    figure.supxlabel(words, color=palette.ink, fontsize=SMALL, ha="center")
    return figure


def _title(event: Event) -> str:
    body = str(event.details["body"]).capitalize()
    return f"{event.subject} in front of the {body}"


def _disc(axes: Axes, palette: Palette, details: Any) -> None:
    from matplotlib.patches import Circle

    axes.add_patch(
        Circle((0, 0), 1.0, facecolor=palette.panel, edgecolor=palette.ink, lw=1.4)
    )
    lit, limb = (
        details.get("illuminated"),
        details.get("bright_limb_position_angle_deg"),
    )
    if lit is None or limb is None:
        return
    x, y = dark_part(float(lit), float(limb))
    axes.fill(
        x,
        y,
        facecolor=palette.fill,
        edgecolor=palette.quiet,
        hatch="////",
        linewidth=0.8,
        label="_dark",
    )


def _chord(axes: Axes, palette: Palette, event: Event, reach: float) -> None:
    """The way across, drawn out beyond the limb, with seconds from the middle."""
    details = event.details
    middle = spot(details["offset_position_angle_deg"], details["offset_radii"])
    along = spot(details["chord_position_angle_deg"], 1.0)
    half = float(np.sqrt(max(0.0, 1.0 - details["offset_radii"] ** 2)))
    ends = np.array([middle - (half + 0.2) * along, middle + (half + 0.2) * along])
    axes.plot(ends[:, 0], ends[:, 1], color=palette.strong, lw=2.2, label="_chord")
    axes.annotate(
        "",
        xy=tuple(ends[1] + 0.05 * along),
        xytext=tuple(ends[1] - 0.02 * along),
        arrowprops={
            "arrowstyle": "-|>",
            "color": palette.strong,
            "mutation_scale": 15,
        },
    )
    _object(axes, palette, details, middle)
    duration_s = float(details.get("duration_s") or nan)
    if isfinite(duration_s) and half > 0.0:
        places = {
            second: middle + along * (2.0 * half * second / duration_s)
            for second in ticks_s(duration_s)
        }
        _seconds(axes, palette, places, _outward(along, middle), reach / _AROUND)


def _outward(along: Floats, middle: Floats) -> Floats:
    """The side of the chord that is away from the disc's centre."""
    side = np.array([along[1], -along[0]])
    return -side if side @ middle < 0.0 else side


def _seconds(
    axes: Axes,
    palette: Palette,
    places: dict[float, Floats],
    side: Floats,
    scale: float,
) -> None:
    """A tick at each of these seconds from the middle, and its words."""
    for second, at in places.items():
        tick = np.array([at - 0.03 * scale * side, at + 0.03 * scale * side])
        axes.plot(*tick.T, color=palette.ink, lw=1.2, label="_second")
        if not second:
            continue  # the object itself stands there
        axes.annotate(
            f"{second:+g} s".replace("-", "−"),
            xy=tuple(at),
            xytext=tuple(_TICK_PT * side),
            textcoords="offset points",
            ha=_aside(side[0], "right", "left"),
            va=_aside(side[1], "top", "bottom"),
            fontsize=SMALL,
            color=palette.ink,
            bbox=plate(palette),
        )


def _aside(part: float, below: str, above: str) -> Any:
    """How words are aligned that stand off by that part of their whole distance."""
    if abs(part) < _STRAIGHT:
        return "center"
    return above if part > 0.0 else below


def _object(axes: Axes, palette: Palette, details: Any, middle: Floats) -> None:
    """The object to scale, in the middle of its way."""
    from matplotlib.patches import Circle

    size, disc = details.get("size_arcsec"), details.get("disc_diameter_arcsec")
    if size and disc:
        axes.add_patch(
            Circle(tuple(middle), size / disc, facecolor=palette.ink, edgecolor="none")
        )


def _chip(
    axes: Axes, palette: Palette, outline: Floats, rig: Rig, details: Any
) -> None:
    """The chip as a dashed outline, its name on the side without seconds."""
    from matplotlib.patches import Polygon

    axes.add_patch(
        Polygon(
            outline,
            closed=True,
            fill=False,
            edgecolor=palette.second,
            lw=1.6,
            ls="--",
            label="_chip",
        )
    )
    middle = spot(details["offset_position_angle_deg"], details["offset_radii"])
    along = spot(details["chord_position_angle_deg"], 1.0)
    below = _outward(along, middle)[1] > 0.0
    edge = outline[:, 1].min() if below else outline[:, 1].max()
    axes.annotate(
        f"chip of {plain(rig.name, 20)}",
        xy=(float(outline[:, 0].mean()), float(edge)),
        xytext=(0, -4 if below else 4),
        textcoords="offset points",
        ha="center",
        va="top" if below else "bottom",
        fontsize=SMALL,
        color=palette.ink,
        bbox=plate(palette),
    )


def _points(axes: Axes, palette: Palette, details: Any) -> None:
    """North, east, south, west around the disc, aside where the object enters."""
    for word, angle in (("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)):
        near = [
            abs((details[f"{end}_position_angle_deg"] - angle + 180.0) % 360.0 - 180.0)
            for end in ("entry", "exit")
        ]
        x, y = spot(angle + (12.0 if min(near) < 9.0 else 0.0), 1.12)
        axes.text(
            x, y, word, ha="center", va="center", fontsize=USUAL, color=palette.ink
        )


def _words(event: Event, site: Site) -> str:
    """When, for how long, how sure, and what the marks mean."""
    zone, details = zone_of(site.zone), event.details
    local = event.best.astimezone(zone)
    time = f"{clock_tenths(event.best, zone)} on {local:%d %B %Y}".replace(" 0", " ")
    said = [f"{time}, {zone_words(local, zone)}"]
    if not details.get("from_site", True):
        said.append(_elsewhere(details))
    if details.get("duration_s"):
        said.append(f"{details['duration_s']:.2f} s across")
    if isfinite(event.timing_bound_s):
        said.append(f"at 95 % within {event.timing_bound_s:.1f} s")
    said.append("dot: the object to scale")
    if details.get("illuminated") is not None:
        said.append("hatched: the dark part")
    said.append("north up, east left as in the sky")
    lines = [listed(said)]
    if details["body"] == "sun":
        lines.append("SUN: certified full-aperture filter on every optic.")
    return wrapped("\n".join(lines))


def _elsewhere(details: Any) -> str:
    """From where it is seen so, where that is not the site."""
    strip = details.get("strip") or {}
    near = strip.get("nearest") or {}
    if "distance_km" not in near:
        return "not as seen from the site"
    return f"as seen {near['distance_km']:.1f} km from the site"


def clock_tenths(time: datetime, zone: Any) -> str:
    """Local time of day to a tenth of a second."""
    rounded = time + timedelta(milliseconds=50)
    whole = clock(rounded.replace(microsecond=0), zone, seconds=True)
    return f"{whole}.{rounded.microsecond // 100_000}"
