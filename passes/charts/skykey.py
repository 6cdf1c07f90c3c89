"""What the marks on a disc of the sky mean, and the list of what is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from passes.charts.paper import SMALL, listed, plain
from passes.charts.skypath import SHADOW_DOTS, line_width
from passes.charts.theme import Palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Height of a line of words.
LINE_IN = 0.16
_SAMPLES = (4.0, 1.0, -2.0)


class Entry(NamedTuple):
    """One path in the list: number, when it begins, name, the way it goes, best."""

    number: str
    time: str
    name: str
    way: str
    magnitude: str


def height_in(entries: int, remarks: Sequence[str]) -> float:
    """How much room a list of so many, the samples and the remarks need."""
    return LINE_IN * (entries + 2.3 + listed(remarks).count("\n") + 1)


def key(
    axes: Axes, palette: Palette, entries: Sequence[Entry], remarks: Sequence[str]
) -> None:
    """The list, then what the lines mean, then the remarks."""
    words = listed(remarks)
    lines = len(entries) + 2.3 + words.count("\n") + 1
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(lines, 0.0)
    for row, entry in enumerate(entries):
        _entry(axes, palette, entry, row + 0.5)
    _lines(axes, palette, len(entries) + 1.2)
    axes.text(
        0.0, len(entries) + 2.1, words, color=palette.ink, fontsize=SMALL, va="top"
    )


def _entry(axes: Axes, palette: Palette, entry: Entry, y: float) -> None:
    look: dict[str, Any] = {"color": palette.ink, "fontsize": SMALL, "va": "center"}
    axes.text(0.055, y, entry.number, ha="right", fontweight="bold", **look)
    axes.text(0.085, y, entry.time, **look)
    axes.text(0.215, y, plain(entry.name, 24), **look)
    axes.text(0.68, y, entry.way, **look)
    axes.text(1.0, y, entry.magnitude, ha="right", **look)


def _lines(axes: Axes, palette: Palette, y: float) -> None:
    """Samples of line weight, and of the shadow's dots."""
    look: dict[str, Any] = {"color": palette.ink, "fontsize": SMALL, "va": "center"}
    axes.text(0.0, y, "lit, mag", **look)
    x = 0.17
    for magnitude in _SAMPLES:
        axes.plot(
            [x, x + 0.06],
            [y, y],
            color=palette.strong,
            lw=float(line_width(magnitude)),
            solid_capstyle="round",
        )
        axes.text(x + 0.08, y, f"{magnitude:.0f}".replace("-", "−"), **look)
        x += 0.135
    axes.plot([x + 0.01, x + 0.1], [y, y], color=palette.ink, lw=1.2, ls=SHADOW_DOTS)
    axes.text(x + 0.12, y, "in the Earth's shadow", **look)
