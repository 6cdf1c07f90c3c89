"""The chart of a frame: what crosses it, and how much harm that does."""

from __future__ import annotations

from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import clock, zone_of
from passes.charts.paper import (
    SMALL,
    headed,
    listed,
    new_figure,
    plain,
    prepared,
)
from passes_plugins.streaks.chart_places import Way, along, compass, spread, within
from passes_plugins.streaks.trails import (
    Trail,
    frame_of_target,
    most_harmful,
    trails_in,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes_plugins.streaks.assessing import Assessment
    from passes_plugins.streaks.frames import Frame

Floats = NDArray[np.float64]

#: Line style and weight of a verdict: told apart without colour.
LOOKS: dict[str, tuple[Any, float]] = {
    "spoiled": ("-", 3.6),
    "removable": ("-", 1.6),
    "faint": ("--", 1.4),
    "unknown": ("-.", 1.4),
    "clean": (":", 1.3),
    "unlit": ((0, (1, 4)), 1.3),
}
#: Heights, inches: a line of words, what stands around the frame.
_LINE_IN, _AROUND_IN = 0.16, 1.1
#: A list has room for so many lines at least.
_FEWEST = 5.0
_WIDTH_IN = 3.35
#: How far beside its number a trail's arrow stands, as a part of the trail.
_AHEAD = 0.07


def frame_chart(
    palette: Palette, found: Assessment, *, target: str = "", demo: bool = False
) -> Figure:
    """The sensor with every trail that crosses it, and a list of them.

    The frame is that of the target named, else of the first sub.
    """
    judged = frame_of_target(found, target)
    if judged is None or judged.frame is None:
        return _no_frame(palette)
    frame = judged.frame
    every = trails_in(found, frame)
    trails = most_harmful(every)
    words = _remarks(len(trails), len(every) - len(trails))
    lines = _lines(trails, words)
    tall_in = _WIDTH_IN * frame.height_px / frame.width_px
    figure = new_figure(palette, tall_in + _AROUND_IN + _LINE_IN * lines)
    upper, lower = figure.subplots(
        2, 1, height_ratios=(tall_in + 0.4, _LINE_IN * lines)
    )
    _sensor(upper, palette, frame)
    ways = [_way(frame, one) for one in trails]
    for one, (x, y) in zip(trails, ways, strict=True):
        _line(upper, palette, one, x, y)
    seen = [within(way, frame) for way in ways]
    for number, at in enumerate(spread(seen, frame), 1):
        _number(upper, palette, seen[number - 1], at, number)
    compass(upper, palette, frame, seen)
    _list(lower, palette, trails, zone_of(found.site.zone), words)
    rig = f", rig {judged.sub.rig}" if judged.sub.rig else ""
    headed(figure, palette, f"What crosses {judged.sub.target.name}{rig}", demo=demo)
    return figure


def _no_frame(palette: Palette) -> Figure:
    figure = new_figure(palette, 1.0)
    axes = figure.add_subplot(1, 1, 1)
    axes.set_axis_off()
    axes.text(0.5, 0.5, "no frame is known", ha="center", color=palette.ink)
    return figure


def _remarks(drawn: int, left_out: int) -> str:
    """What else is to be said below the list."""
    if not drawn:
        return "nothing crosses it"
    words = ["cross: the target", "arrow: the way it goes", "mag at its nearest"]
    if left_out:
        words.append(f"{left_out} unlit or harmless ones are not drawn")
    return listed(words)


# --- the frame ---------------------------------------------------------------------


def _sensor(axes: Axes, palette: Palette, frame: Frame) -> None:
    """The outline, and the target in the middle."""
    from matplotlib.patches import Rectangle

    width, height = frame.size_px
    prepared(axes, palette, grid=False)
    axes.set_facecolor(palette.paper)
    axes.add_patch(
        Rectangle(
            (0.5, 0.5), width, height, facecolor=palette.panel, edgecolor=palette.ink
        )
    )
    axes.set_xlim(-0.03 * width, 1.03 * width)
    axes.set_ylim(-0.03 * height, 1.03 * height)
    axes.set_aspect("equal")
    axes.locator_params(nbins=5)
    axes.set_xlabel("pixel across", fontsize=SMALL)
    axes.set_ylabel("pixel up", fontsize=SMALL)
    axes.plot(
        width / 2,
        height / 2,
        marker="+",
        markersize=14,
        markeredgewidth=1.4,
        color=palette.ink,
        zorder=4,
        label="_target",
    )


def _way(frame: Frame, one: Trail) -> Way:
    """From entry over the nearest point to exit, pixels."""
    crossing = one.mark.crossing
    points = (crossing.entry, crossing.closest, crossing.exit)
    return frame.pixels(
        np.array([p.ra_deg for p in points]), np.array([p.dec_deg for p in points])
    )


def _colour(palette: Palette, verdict: str) -> str:
    if verdict == "spoiled":
        return palette.second
    return palette.ink if verdict == "unlit" else palette.strong


def _line(axes: Axes, palette: Palette, one: Trail, x: Floats, y: Floats) -> None:
    style, width = LOOKS[one.verdict]
    axes.plot(
        x,
        y,
        ls=style,
        lw=width,
        color=_colour(palette, one.verdict),
        label=f"_{one.verdict}",
    )


def _number(
    axes: Axes,
    palette: Palette,
    way: Way,
    part: float,
    number: int,
) -> None:
    """The trail's number in a ring, and an arrow the way it goes."""
    _arrow(axes, palette, way, part)
    x, y = along(way, part).tolist()
    axes.text(
        x,
        y,
        str(number),
        fontsize=SMALL,
        fontweight="bold",
        ha="center",
        va="center",
        color=palette.ink,
        zorder=5,
        bbox={
            "boxstyle": "circle,pad=0.2",
            "fc": palette.paper,
            "ec": palette.ink,
            "lw": 0.8,
        },
    )


def _arrow(axes: Axes, palette: Palette, way: Way, part: float) -> None:
    """A head ahead of a part of the way, or behind it near the end."""
    back = _AHEAD if part + 2.0 * _AHEAD < 1.0 else -2.0 * _AHEAD
    tail, tip = along(way, [part + back, part + back + 0.04])
    axes.annotate(
        "",
        xy=tuple(tip),
        xytext=tuple(tail),
        arrowprops={
            "arrowstyle": "-|>",
            "facecolor": palette.ink,
            "edgecolor": palette.panel,
            "mutation_scale": 13,
            "lw": 0.6,
        },
    )


def _lines(trails: list[Trail], words: str) -> float:
    """How many lines the list and the remarks below it take."""
    return max(2 * len(trails) + words.count("\n") + 1.6, _FEWEST)


# --- the list ----------------------------------------------------------------------


def _list(
    axes: Axes, palette: Palette, trails: list[Trail], zone: tzinfo, words: str
) -> None:
    """Number, line, time, name, magnitude, verdict and subs of each trail."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(_lines(trails, words), 0.0)
    for row, one in enumerate(trails):
        _entry(axes, palette, one, row, zone)
    axes.text(
        0.0,
        2 * len(trails) + 0.4,
        words,
        color=palette.ink,
        fontsize=SMALL,
        va="top",
    )


def _entry(axes: Axes, palette: Palette, one: Trail, row: int, zone: tzinfo) -> None:
    """Two lines of one trail."""
    look: dict[str, Any] = {"color": palette.ink, "fontsize": SMALL, "va": "center"}
    crossing, top = one.mark.crossing, 2 * row + 0.5
    style, width = LOOKS[one.verdict]
    axes.text(0.05, top, str(row + 1), ha="right", fontweight="bold", **look)
    axes.plot(
        [0.075, 0.19],
        [top, top],
        ls=style,
        lw=width,
        color=_colour(palette, one.verdict),
    )
    axes.text(0.21, top, clock(crossing.closest.time, zone, seconds=True), **look)
    axes.text(0.39, top, plain(one.name, 30), **look)
    known = one.mark.verdict and np.isfinite(crossing.magnitude)
    magnitude = f", mag {crossing.magnitude:.1f}".replace("-", "−") if known else ""
    axes.text(0.39, top + 0.95, f"{one.said}{magnitude}", **look)
