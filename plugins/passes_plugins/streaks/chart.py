"""The chart of a frame: what crosses it, and how much harm that does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import zone_of
from passes.charts.paper import (
    SMALL,
    headed,
    listed,
    new_figure,
    prepared,
)
from passes_plugins.streaks.chart_list import LOOKS, colour, draw_list, lines
from passes_plugins.streaks.chart_places import Way, along, compass, spread, within
from passes_plugins.streaks.trails import (
    Trail,
    frame_of_target,
    frames_apart,
    most_harmful,
    trails_in,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.model import Sub
    from passes_plugins.streaks.assessing import Assessment
    from passes_plugins.streaks.frames import Frame

Floats = NDArray[np.float64]

#: Heights, inches: a line of words, what stands around the frame.
_LINE_IN, _AROUND_IN = 0.16, 1.1
#: More fields than this are too much for one picture.
_MOST_FIELDS = 6
_WIDTH_IN = 3.35
_TALLEST_IN = 4.0 * _WIDTH_IN
#: How far beside its number a trail's arrow stands, as a part of the trail.
_AHEAD = 0.07


@dataclass(frozen=True, slots=True)
class _Panel:
    """One field: what stands over it, its trails, and words below their list."""

    title: str
    frame: Frame
    trails: list[Trail]
    words: str

    @property
    def tall_in(self) -> float:
        """Height of the frame; one much taller than wide is drawn narrower."""
        tall_in = _WIDTH_IN * self.frame.height_px / self.frame.width_px
        return min(tall_in, _TALLEST_IN)

    @property
    def height_in(self) -> float:
        """Height of all."""
        listed_in = _LINE_IN * lines(self.trails, self.words)
        return self.tall_in + _AROUND_IN + listed_in


def frame_chart(
    palette: Palette, found: Assessment, *, target: str = "", demo: bool = False
) -> Figure:
    """The sensor with every trail that crosses it, and a list of them.

    One below the other for each field of the session, or that of the target named; of
    more fields than a picture holds, those that are crossed before others.
    """
    named = frame_of_target(found, target) if target else None
    every = frames_apart(found) if not target else [named] if named else []
    fields = [_panel(found, one.frame, one.sub) for one in every if one.frame]
    panels = _shown(fields)
    if not panels:
        return _no_frame(palette)
    heights = [panel.height_in for panel in panels]
    figure = new_figure(palette, sum(heights))
    sheets: Any = [figure]
    if len(panels) > 1:
        sheets = figure.subfigures(len(panels), 1, height_ratios=heights)
    zone = zone_of(found.site.zone)
    for sheet, panel in zip(sheets, panels, strict=True):
        _field(sheet, palette, panel, zone)
        left_out = len(fields) - len(panels) if panel is panels[-1] else 0
        more = f" (not drawn: {left_out} more)" if left_out else ""
        headed(sheet, palette, f"{panel.title}{more}", demo=demo)
    return figure


def _shown(fields: Sequence[_Panel]) -> list[_Panel]:
    """As many fields as a picture holds, in order of time."""
    places = sorted(range(len(fields)), key=lambda place: not fields[place].trails)
    return [fields[place] for place in sorted(places[:_MOST_FIELDS])]


def _panel(found: Assessment, frame: Frame, sub: Sub) -> _Panel:
    """What is to be drawn of one field."""
    every = trails_in(found, frame)
    trails = most_harmful(every)
    rig = f", rig {sub.rig}" if sub.rig else ""
    return _Panel(
        title=f"What crosses {sub.target.name}{rig}",
        frame=frame,
        trails=trails,
        words=_remarks(len(trails), len(every) - len(trails)),
    )


def _field(figure: Any, palette: Palette, panel: _Panel, zone: tzinfo) -> None:
    """The frame above, the list below."""
    frame, trails = panel.frame, panel.trails
    listed_in = _LINE_IN * lines(trails, panel.words)
    upper, lower = figure.subplots(2, 1, height_ratios=(panel.tall_in + 0.4, listed_in))
    _sensor(upper, palette, frame)
    ways = [_way(frame, one) for one in trails]
    for one, (x, y) in zip(trails, ways, strict=True):
        _line(upper, palette, one, x, y)
    seen = [within(way, frame) for way in ways]
    for number, at in enumerate(spread(seen, frame), 1):
        _number(upper, palette, seen[number - 1], at, number)
    compass(upper, palette, frame, seen)
    draw_list(lower, palette, trails, zone, panel.words)


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


def _line(axes: Axes, palette: Palette, one: Trail, x: Floats, y: Floats) -> None:
    style, width = LOOKS[one.verdict]
    axes.plot(
        x,
        y,
        ls=style,
        lw=width,
        color=colour(palette, one.verdict),
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
