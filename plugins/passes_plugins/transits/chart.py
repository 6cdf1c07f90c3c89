"""The chart of one transit: the disc with the chord across it, north up, east left."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import clock, zone_of, zone_words
from passes.charts.paper import headed, new_figure, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.model import Event, Rig, Site

Floats = NDArray[np.float64]

#: A chip that reaches further than so many radii would make the disc too small.
_WIDEST = 4.0
_TICKS_S = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)


def spot(position_angle_deg: float, radius: float) -> Floats:
    """A place on the disc, (left is east, up is north), in its radii."""
    angle = np.radians(position_angle_deg)
    return np.array([-np.sin(angle), np.cos(angle)]) * radius


def disc_chart(
    palette: Palette,
    event: Event,
    site: Site,
    *,
    rig: Rig | None = None,
    demo: bool = False,
) -> Figure:
    """The disc, its dark part, the way of the object with its seconds, the chip."""
    details = event.details
    figure = new_figure(palette, 5.6, 6.6)
    axes = figure.add_subplot(1, 1, 1)
    axes.set_aspect("equal")
    axes.set_axis_off()
    _disc(axes, palette, details)
    _chord(axes, palette, event)
    reach = 1.35
    if rig is not None:
        reach = max(reach, _chip(axes, palette, details, rig))
    shown = reach if reach <= _WIDEST else 1.35
    axes.set_xlim(-shown, shown)
    axes.set_ylim(-shown, shown)
    _points(axes, palette, details)
    body = str(details["body"]).capitalize()
    headed(figure, palette, f"{event.subject} in front of the {body}", demo=demo)
    words = _words(event, site)
    if rig is not None and reach > _WIDEST:
        words += f"\nThe chip of {plain(rig.name, 20)} reaches beyond the picture."
    figure.supxlabel(words, color=palette.ink, fontsize=9, ha="center")
    return figure


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


def dark_part(illuminated: float, bright_limb_deg: float) -> tuple[Floats, Floats]:
    """The outline of a body's unlit part: a half limb and the terminator, ``(n,)``.

    The terminator is half an ellipse (the projection of a circle), whose short half
    axis is 1 − 2 × the lit fraction of the disc (geometry).
    """
    angle = np.linspace(0.0, np.pi, 91)
    across = np.concatenate([np.cos(angle), np.cos(angle)[::-1]])
    along = np.concatenate(
        [-np.sin(angle), (1.0 - 2.0 * illuminated) * np.sin(angle)[::-1]]
    )
    bright, side = spot(bright_limb_deg, 1.0), spot(bright_limb_deg + 90.0, 1.0)
    outline = across[:, None] * side + along[:, None] * bright
    return outline[:, 0], outline[:, 1]


def _chord(axes: Axes, palette: Palette, event: Event) -> None:
    """The way across, drawn out beyond the limb, with seconds from the middle."""
    details = event.details
    middle = spot(details["offset_position_angle_deg"], details["offset_radii"])
    along = spot(details["chord_position_angle_deg"], 1.0)
    half = float(np.sqrt(max(0.0, 1.0 - details["offset_radii"] ** 2)))
    duration_s = float(details.get("duration_s") or nan)
    ends = np.array([middle - (half + 0.22) * along, middle + (half + 0.22) * along])
    axes.plot(ends[:, 0], ends[:, 1], color=palette.strong, lw=2.4, label="_chord")
    axes.annotate(
        "",
        xy=tuple(ends[1] + 0.05 * along),
        xytext=tuple(ends[1] - 0.02 * along),
        arrowprops={
            "arrowstyle": "-|>",
            "color": palette.strong,
            "mutation_scale": 18,
        },
    )
    _object(axes, palette, details, middle)
    if not isfinite(duration_s) or half == 0.0:
        return
    side = np.array([along[1], -along[0]])
    if side @ middle < 0.0:
        side = -side
    for second in ticks_s(duration_s):
        at = middle + along * (2.0 * half * second / duration_s)
        axes.plot(
            *np.array([at - 0.03 * side, at + 0.03 * side]).T, color=palette.ink, lw=1.2
        )
        words = f"{second:+g} s".replace("-", "−") if second else "0"
        axes.text(
            float(at[0] + 0.11 * side[0]),
            float(at[1] + 0.11 * side[1]),
            words,
            ha="center",
            va="center",
            fontsize=8,
            color=palette.ink,
        )


def ticks_s(duration_s: float) -> list[float]:
    """Seconds from the middle at which the chord is marked, five or so of them."""
    step = next((s for s in _TICKS_S if duration_s / s <= 6.0), duration_s / 5.0)
    count = int(duration_s / 2.0 / step)
    return [round(i * step, 4) for i in range(-count, count + 1)]


def _object(axes: Axes, palette: Palette, details: Any, middle: Floats) -> None:
    """The object to scale, in the middle of its way."""
    from matplotlib.patches import Circle

    size, disc = details.get("size_arcsec"), details.get("disc_diameter_arcsec")
    if size and disc:
        axes.add_patch(
            Circle(tuple(middle), size / disc, facecolor=palette.ink, edgecolor="none")
        )


def _chip(axes: Axes, palette: Palette, details: Any, rig: Rig) -> float:
    """The chip's outline on the disc's centre, or on the chord where it is smaller."""
    from matplotlib.patches import Polygon

    radius_deg = float(details["disc_diameter_arcsec"]) / 7200.0
    width, height = (0.5 * side / radius_deg for side in rig.field_deg)
    up, right = spot(rig.rotation_deg, 1.0), spot(rig.rotation_deg - 90.0, 1.0)
    centre = np.zeros(2)
    if min(width, height) < 1.0:
        centre = spot(details["offset_position_angle_deg"], details["offset_radii"])
    corners = [
        centre + a * width * right + b * height * up
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    axes.add_patch(
        Polygon(
            corners,
            closed=True,
            fill=False,
            edgecolor=palette.second,
            lw=1.6,
            ls="--",
            label="_chip",
        )
    )
    reach = float(np.abs(corners).max())
    if reach > _WIDEST:
        return reach
    top = centre + height * up
    axes.annotate(
        f"chip of {plain(rig.name, 20)}",
        xy=tuple(top),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=8,
        color=palette.ink,
    )
    return 1.12 * reach


def _points(axes: Axes, palette: Palette, details: Any) -> None:
    """North, east, south, west around the disc, aside where the object enters."""
    for word, angle in (("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)):
        near = [
            abs((details[f"{end}_position_angle_deg"] - angle + 180.0) % 360.0 - 180.0)
            for end in ("entry", "exit")
        ]
        x, y = spot(angle + (12.0 if min(near) < 9.0 else 0.0), 1.13)
        axes.text(x, y, word, ha="center", va="center", fontsize=11, color=palette.ink)


def _words(event: Event, site: Site) -> str:
    """When, for how long, how sure, and what the marks mean."""
    zone, details = zone_of(site.zone), event.details
    local = event.best.astimezone(zone)
    time = f"{clock_tenths(event.best, zone)} on {local:%d %B %Y}"
    time += f", {zone_words(local, zone)}"
    said = []
    if details.get("duration_s"):
        said.append(f"{details['duration_s']:.2f} s across")
    if isfinite(event.timing_bound_s):
        said.append(f"at 95 % within {event.timing_bound_s:.1f} s")
    said.append("dot: the object to scale")
    if details.get("illuminated") is not None:
        said.append("hatched: the dark part")
    lines = [time, "; ".join(said), "North up, east left as in the sky."]
    if details["body"] == "sun":
        lines.append("SUN: certified full-aperture filter on every optic, always.")
    return "\n".join(lines)


def clock_tenths(time: datetime, zone: Any) -> str:
    """Local time of day to a tenth of a second."""
    rounded = time + timedelta(milliseconds=50)
    whole = clock(rounded.replace(microsecond=0), zone, seconds=True)
    return f"{whole}.{rounded.microsecond // 100_000}"
