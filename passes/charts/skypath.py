"""What is drawn of one pass on the sky, and how heavy its line is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.charts.paper import SMALL, plain

if TYPE_CHECKING:
    from passes.charts.skydisc import SkyDisc

Floats = NDArray[np.float64]

#: Dots of a path in the Earth's shadow.
SHADOW_DOTS = (0, (1, 2.2))
_SHADOW_PT = 1.2
#: A number stands no nearer to the horizon than this, degrees from the zenith.
_INSIDE_DEG = 84.0
_RING = (6.5, 6.5)
#: Where along a path its arrow is looked for: in the middle, else beside it.
_ARROWS = (0.62, 0.7, 0.55, 0.78, 0.45)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """One pass across the sky; arrays ``(n,)``, angles in degrees.

    ``marks`` are (index, time of day) of its dots.
    """

    label: str
    azimuth_deg: Floats
    altitude_deg: Floats
    lit: NDArray[np.bool_]
    magnitude: Floats
    marks: Sequence[tuple[int, str]] = ()


def draw_line(disc: SkyDisc, path: Path) -> None:
    """A pass: solid while lit, dotted in shadow, thicker where brighter."""
    x, y = disc.place(path.azimuth_deg, path.altitude_deg)
    _in_shadow(disc, path, x, y)
    _lit(disc, path, x, y)
    _arrow(disc, x, y)
    at = [index for index, _ in path.marks]
    disc.axes.plot(
        x[at],
        y[at],
        ls="none",
        marker="o",
        markersize=3.2,
        markeredgewidth=0.6,
        markeredgecolor=disc.palette.panel,
        color=disc.palette.ink,
        zorder=5,
        label="_times",
    )
    disc.room.avoid(x, y)


def _in_shadow(disc: SkyDisc, path: Path, x: Floats, y: Floats) -> None:
    dark = grown(~path.lit)
    disc.axes.plot(
        np.where(dark, x, np.nan),
        np.where(dark, y, np.nan),
        color=disc.palette.ink,
        linestyle=SHADOW_DOTS,
        linewidth=_SHADOW_PT,
        zorder=2,
        label="_shadow",
    )


def _lit(disc: SkyDisc, path: Path, x: Floats, y: Floats) -> None:
    from matplotlib.collections import LineCollection

    both = path.lit[:-1] & path.lit[1:]
    widths = np.round(4.0 * line_width(path.magnitude[:-1])) / 4.0
    ends = np.stack([x, y], axis=1)
    runs = runs_of(both, widths)
    disc.axes.add_collection(
        LineCollection(
            [ends[first : last + 2] for first, last in runs],
            linewidths=[widths[first] for first, _ in runs],
            colors=disc.palette.strong,
            capstyle="round",
            joinstyle="round",
            zorder=3,
            label="_lit",
        )
    )


def _arrow(disc: SkyDisc, x: Floats, y: Floats) -> None:
    """A head on the path, pointing where the object goes, apart from other heads."""
    if len(x) < 3:
        return
    places = [max(1, int(len(x) * part)) for part in _ARROWS]
    free = (i for i in places if disc.room.cost(x[i], y[i], (3.0, 3.0)) < np.inf)
    at = next(free, places[0])
    along = np.array([x[at] - x[at - 1], y[at] - y[at - 1]])
    length = float(np.linalg.norm(along))
    if length == 0.0:
        return
    tip = np.array([x[at], y[at]]) + 4.5 * along / length
    disc.room.take(float(x[at]), float(y[at]), (3.0, 3.0))
    disc.axes.annotate(
        "",
        xy=tuple(tip),
        xytext=(x[at - 1], y[at - 1]),
        zorder=6,
        arrowprops={
            "arrowstyle": "-|>",
            "facecolor": disc.palette.ink,
            "edgecolor": disc.palette.panel,
            "mutation_scale": 13,
            "linewidth": 0.6,
        },
    )


def draw_number(disc: SkyDisc, path: Path) -> None:
    """The path's number in a ring near where it begins, clear of other numbers."""
    x, y = disc.place(path.azimuth_deg, path.altitude_deg)
    inside = np.flatnonzero(np.hypot(x, y) < _INSIDE_DEG)
    inside = inside if inside.size else np.arange(len(x))
    early = inside[: len(inside) // 2 + 1].tolist()
    at = next(
        (i for i in early if disc.room.cost(x[i], y[i], _RING) < np.inf), early[0]
    )
    disc.room.take(float(x[at]), float(y[at]), _RING)
    disc.axes.text(
        float(x[at]),
        float(y[at]),
        plain(path.label, 12),
        color=disc.palette.ink,
        fontsize=SMALL,
        fontweight="bold",
        ha="center",
        va="center",
        zorder=8,
        bbox={
            "boxstyle": "circle,pad=0.18",
            "facecolor": disc.palette.paper,
            "edgecolor": disc.palette.ink,
            "linewidth": 0.9,
        },
    )


def write_times(disc: SkyDisc, path: Path, most: int) -> None:
    """The time at some of a path's dots, spread over it, where there is room."""
    inside = [(i, w) for i, w in path.marks if path.altitude_deg[i] > 4.0]
    count = min(most, len(inside))
    for n in range(count):
        part = inside[n * len(inside) // count : (n + 1) * len(inside) // count]
        middle = (len(part) - 1) / 2
        for i, words in sorted(part, key=lambda p: abs(part.index(p) - middle)):
            at = [float(path.azimuth_deg[i])], [float(path.altitude_deg[i])]
            if disc.name(*at, words, away=2.5) is not None:
                break


def grown(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Flags with one neighbour on each side, so that lines meet."""
    wider = flags.copy()
    wider[1:] |= flags[:-1]
    wider[:-1] |= flags[1:]
    return wider


def runs_of(wanted: NDArray[np.bool_], values: Floats) -> list[tuple[int, int]]:
    """First and last index of every run of equal values, where they are wanted."""
    runs: list[tuple[int, int]] = []
    for i in np.flatnonzero(wanted).tolist():
        if runs and runs[-1][1] == i - 1 and values[i] == values[i - 1]:
            runs[-1] = (runs[-1][0], i)
        else:
            runs.append((i, i))
    return runs


def line_width(magnitude: ArrayLike) -> Floats:
    """Line weight in points, ``(n,)``: 1 at magnitude 6 and fainter, 5 at −4."""
    known = np.nan_to_num(np.asarray(magnitude, dtype=float), nan=6.0)
    return np.asarray(np.interp(known, [-4.0, 6.0], [5.0, 1.0]))
