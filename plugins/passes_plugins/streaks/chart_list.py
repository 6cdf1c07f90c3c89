"""The list below a frame: a trail's number, line, time, name, magnitude and verdict."""

from __future__ import annotations

from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np

from passes.charts.clockface import clock
from passes.charts.paper import SMALL, plain
from passes_plugins.streaks.trails import Trail

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from passes.charts.theme import Palette

#: Line style and weight of a verdict: told apart without colour.
LOOKS: dict[str, tuple[Any, float]] = {
    "spoiled": ("-", 3.6),
    "removable": ("-", 1.6),
    "faint": ("--", 1.4),
    "unknown": ("-.", 1.4),
    "clean": (":", 1.3),
    "unlit": ((0, (1, 4)), 1.3),
}
#: A list has room for so many lines at least.
_FEWEST = 5.0


def colour(palette: Palette, verdict: str) -> str:
    """The colour of a trail's line."""
    if verdict == "spoiled":
        return palette.second
    return palette.ink if verdict == "unlit" else palette.strong


def lines(trails: list[Trail], words: str) -> float:
    """How many lines the list and the remarks below it take."""
    return max(2 * len(trails) + words.count("\n") + 1.6, _FEWEST)


def draw_list(
    axes: Axes, palette: Palette, trails: list[Trail], zone: tzinfo, words: str
) -> None:
    """Number, line, time, name, magnitude, verdict and subs of each trail."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(lines(trails, words), 0.0)
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
        color=colour(palette, one.verdict),
    )
    axes.text(0.21, top, clock(crossing.closest.time, zone, seconds=True), **look)
    axes.text(0.39, top, plain(one.name, 30), **look)
    known = one.mark.verdict and np.isfinite(crossing.magnitude)
    magnitude = f", mag {crossing.magnitude:.1f}".replace("-", "−") if known else ""
    axes.text(0.39, top + 0.95, f"{one.said}{magnitude}", **look)
