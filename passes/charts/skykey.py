"""What the marks on a disc of the sky mean, and the list of what is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from passes.charts.paper import plain
from passes.charts.skypath import line_width
from passes.charts.theme import Palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LINE_IN = 0.165
_SAMPLES = (4.0, 1.0, -2.0)


class Entry(NamedTuple):
    """One path in the list: its number, when it begins, its name, its best."""

    number: str
    time: str
    name: str
    magnitude: str


def key(
    axes: Axes, palette: Palette, entries: Sequence[Entry], remarks: str = ""
) -> None:
    """The list in two columns, then what the lines mean, then the remarks."""
    rows = -(-len(entries) // 2)
    lines = rows + 4
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(lines, 0.0)
    for n, entry in enumerate(entries):
        left = 0.0 if n < rows else 0.52
        _entry(axes, palette, entry, left, (n % rows) + 0.5)
    _lines(axes, palette, rows + 1.4)
    axes.text(
        0.0, rows + 3.0, plain(remarks, 160), color=palette.ink, fontsize=8, va="center"
    )


def _entry(axes: Axes, palette: Palette, entry: Entry, x: float, y: float) -> None:
    look: dict[str, Any] = {"color": palette.ink, "fontsize": 8, "va": "center"}
    axes.text(x + 0.03, y, entry.number, ha="right", fontweight="bold", **look)
    axes.text(x + 0.045, y, entry.time, **look)
    axes.text(x + 0.13, y, plain(entry.name, 20), **look)
    axes.text(x + 0.455, y, entry.magnitude, ha="right", **look)


def _lines(axes: Axes, palette: Palette, y: float) -> None:
    """Samples of line weight, and of the shadow's dots."""
    look: dict[str, Any] = {"color": palette.ink, "fontsize": 8, "va": "center"}
    axes.text(0.0, y, "lit, mag", **look)
    x = 0.13
    for magnitude in _SAMPLES:
        width = float(line_width(magnitude))
        axes.plot(
            [x, x + 0.05],
            [y, y],
            color=palette.strong,
            lw=width,
            solid_capstyle="round",
        )
        axes.text(x + 0.062, y, f"{magnitude:.0f}".replace("-", "−"), **look)
        x += 0.115
    axes.plot([x + 0.02, x + 0.09], [y, y], color=palette.ink, lw=1.2, ls=(0, (1, 2.2)))
    axes.text(x + 0.10, y, "in the Earth's shadow", **look)
