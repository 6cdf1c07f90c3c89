"""The sky as a disc: the zenith in the middle, the horizon around it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.charts.paper import new_figure, plain
from passes.charts.skypath import Path, grown, line_width, runs_of
from passes.charts.theme import Palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]
East = Literal["left", "right"]

_RINGS_DEG = (30.0, 60.0)
_POINTS = {
    0: "N",
    45: "NE",
    90: "E",
    135: "SE",
    180: "S",
    225: "SW",
    270: "W",
    315: "NW",
}


class SkyDisc:
    """Draws on a disc in an equidistant zenithal projection.

    ``east`` says on which side east lies: left as when lying on one's back with the
    head to the north, right as on a map.
    """

    def __init__(self, axes: Axes, palette: Palette, east: East = "left") -> None:
        self.axes, self.palette = axes, palette
        self._side = -1.0 if east == "left" else 1.0
        self._taken: list[tuple[float, float]] = []
        axes.set_aspect("equal")
        axes.set_axis_off()
        axes.set_xlim(-103, 103)
        axes.set_ylim(-101, 101)
        self._frame()

    def place(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike
    ) -> tuple[Floats, Floats]:
        """Where directions stand on the disc, in degrees from the zenith."""
        away = 90.0 - np.asarray(altitude_deg, dtype=float)
        azimuth = np.radians(np.asarray(azimuth_deg, dtype=float))
        return self._side * away * np.sin(azimuth), away * np.cos(azimuth)

    def _frame(self) -> None:
        from matplotlib.patches import Circle

        ink, quiet = self.palette.ink, self.palette.quiet
        self.axes.add_patch(
            Circle((0, 0), 90, facecolor=self.palette.panel, edgecolor=ink, zorder=0)
        )
        for altitude in _RINGS_DEG:
            self.axes.add_patch(
                Circle((0, 0), 90 - altitude, fill=False, edgecolor=quiet, lw=0.6)
            )
            x, y = self.place(202.5, altitude)
            self._write(x, y, f"{altitude:.0f}°", quiet, 8)
        for azimuth, word in _POINTS.items():
            x, y = self.place(azimuth, -6.5)
            size = 13 if len(word) == 1 else 8
            self._write(x, y, word, ink, size)
            self.axes.plot(*self.place([azimuth] * 2, [0, 4]), color=quiet, lw=0.8)
        self.axes.plot(0, 0, marker="+", color=quiet, markersize=7)

    def _write(
        self,
        x: ArrayLike,
        y: ArrayLike,
        text: str,
        color: str,
        size: float,
        *,
        bold: bool = False,
    ) -> None:
        from matplotlib.patheffects import withStroke

        self.axes.text(
            float(np.asarray(x)),
            float(np.asarray(y)),
            plain(text),
            color=color,
            fontsize=size,
            fontweight="bold" if bold else "normal",
            ha="center",
            va="center",
            zorder=7,
            path_effects=[withStroke(linewidth=2.0, foreground=self.palette.panel)]
            if abs(float(np.hypot(x, y))) < 90.0
            else [],
        )

    def mask(self, azimuth_deg: Sequence[float], altitude_deg: Sequence[float]) -> None:
        """The site's own horizon as a filled rim, hatched so that it reads in grey."""
        around = np.linspace(0.0, 360.0, 721)
        rim = np.interp(around, azimuth_deg, altitude_deg, period=360.0)
        inner, outer = self.place(around, rim), self.place(around, np.zeros_like(rim))
        self.axes.fill(
            np.concatenate([outer[0], inner[0][::-1]]),
            np.concatenate([outer[1], inner[1][::-1]]),
            facecolor=self.palette.fill,
            edgecolor=self.palette.quiet,
            hatch="....",
            linewidth=0.0,
            zorder=1,
        )
        self.axes.plot(*inner, color=self.palette.quiet, lw=1.0, zorder=1)

    def glow(self, azimuth_deg: float, words: str) -> None:
        """The side of the horizon where the Sun's glow is, and its name."""
        for half, alpha in ((50.0, 0.12), (33.0, 0.14), (17.0, 0.18)):
            across = np.linspace(azimuth_deg - half, azimuth_deg + half, 60)
            height = 22.0 * np.cos((across - azimuth_deg) / half * np.pi / 2) ** 0.7
            low, high = (
                self.place(across, np.zeros_like(across)),
                self.place(across, height),
            )
            self.axes.fill(
                np.concatenate([low[0], high[0][::-1]]),
                np.concatenate([low[1], high[1][::-1]]),
                color=self.palette.shade,
                alpha=alpha,
                lw=0,
                zorder=1,
            )
        x, y = (float(value) for value in self.place(azimuth_deg, 8.0))
        inward = -6.0 if x > 0.0 else 6.0
        self._put(x, y, [(inward, d) for d in (0, -9, 9, -18, 18)], words, 8, half=18.0)

    def moon(self, azimuth_deg: float, altitude_deg: float, words: str) -> None:
        """The Moon as an open ring, and its words."""
        x, y = (float(value) for value in self.place(azimuth_deg, altitude_deg))
        self.axes.plot(
            x,
            y,
            marker="o",
            markersize=14,
            markerfacecolor=self.palette.panel,
            markeredgecolor=self.palette.ink,
            markeredgewidth=2.0,
            zorder=4,
        )
        self._taken.append((x, y))
        inward = -1.0 if x > 0.0 else 1.0
        self._put(
            x, y, [(inward * 24.0, 9.0), (inward * 24.0, -9.0)], words, 8, half=20.0
        )

    def path(self, path: Path) -> None:
        """A pass: solid while lit, dotted in shadow, thicker where brighter."""
        x, y = self.place(path.azimuth_deg, path.altitude_deg)
        self._in_shadow(path, x, y)
        self._lit(path, x, y)
        self._arrow(x, y)
        for index, _ in path.marks:
            self.axes.plot(
                x[index],
                y[index],
                marker="o",
                markersize=3.2,
                color=self.palette.ink,
                zorder=5,
            )
        self._number(path.label, x, y)

    def times(self, path: Path) -> None:
        """The words at a path's marks, where there is room for them."""
        x, y = self.place(path.azimuth_deg, path.altitude_deg)
        for index, words in path.marks:
            if words:
                self._beside(x, y, index, words)

    def _in_shadow(self, path: Path, x: Floats, y: Floats) -> None:
        dark = grown(~path.lit)
        self.axes.plot(
            np.where(dark, x, np.nan),
            np.where(dark, y, np.nan),
            color=self.palette.ink,
            linestyle=(0, (1, 2.2)),
            linewidth=1.2,
            zorder=2,
            label="_shadow",
        )

    def _lit(self, path: Path, x: Floats, y: Floats) -> None:
        from matplotlib.collections import LineCollection

        both = path.lit[:-1] & path.lit[1:]
        widths = np.round(4.0 * line_width(path.magnitude[:-1])) / 4.0
        ends = np.stack([x, y], axis=1)
        runs = runs_of(both, widths)
        self.axes.add_collection(
            LineCollection(
                [ends[first : last + 2] for first, last in runs],
                linewidths=[widths[first] for first, _ in runs],
                colors=self.palette.strong,
                capstyle="round",
                joinstyle="round",
                zorder=3,
                label="_lit",
            )
        )

    def _arrow(self, x: Floats, y: Floats) -> None:
        """A head in the middle of the path, pointing where the object goes."""
        if len(x) < 3:
            return
        at = max(1, int(len(x) * 0.62))
        along = np.array([x[at] - x[at - 1], y[at] - y[at - 1]])
        length = float(np.linalg.norm(along))
        if length == 0.0:
            return
        tip = np.array([x[at], y[at]]) + 3.5 * along / length
        self.axes.annotate(
            "",
            xy=tuple(tip),
            xytext=(x[at - 1], y[at - 1]),
            zorder=6,
            arrowprops={
                "arrowstyle": "-|>",
                "color": self.palette.ink,
                "mutation_scale": 15,
                "linewidth": 0.0,
            },
        )

    def _beside(self, x: Floats, y: Floats, i: int, words: str) -> None:
        ahead, behind = min(i + 1, len(x) - 1), max(i - 1, 0)
        along = np.array([x[ahead] - x[behind], y[ahead] - y[behind]])
        along = along / (float(np.linalg.norm(along)) or 1.0)
        away = np.array([along[1], -along[0]]) * np.array([8.5, 6.0])
        if away @ np.array([x[i], y[i]]) < 0.0:  # outward first: less crowded
            away = -away
        places = [(float(away[0]), float(away[1])), (-float(away[0]), -float(away[1]))]
        self._put(float(x[i]), float(y[i]), places, words, 7.5)

    def _put(
        self,
        x: float,
        y: float,
        places: Sequence[tuple[float, float]],
        words: str,
        size: float,
        half: float = 8.0,
    ) -> None:
        """Words at the first of some places that is free; none if all are taken."""
        for right, up in places:
            spot = (x + right, y + up)
            if self._free(*spot, half):
                self._write(*spot, words, self.palette.ink, size)
                self._taken.append(spot)
                return

    def _free(self, x: float, y: float, half: float = 8.0) -> bool:
        return all(
            abs(x - other) > half + 6.5 or abs(y - level) > 6.0
            for other, level in self._taken
        )

    def _number(self, label: str, x: Floats, y: Floats) -> None:
        """The path's number in a ring near where it begins."""
        inside = np.flatnonzero(np.hypot(x, y) < 84.0)
        inside = inside if inside.size else np.arange(len(x))
        free = (
            i for i in inside[: len(inside) // 2 + 1] if self._free(x[i], y[i], 2.0)
        )
        at = next(free, inside[0])
        self._taken.append((float(x[at]), float(y[at])))
        self.axes.text(
            float(x[at]),
            float(y[at]),
            plain(label, 12),
            color=self.palette.ink,
            fontsize=9,
            fontweight="bold",
            ha="center",
            va="center",
            zorder=8,
            bbox={
                "boxstyle": "circle,pad=0.18",
                "facecolor": self.palette.paper,
                "edgecolor": self.palette.ink,
                "linewidth": 0.9,
            },
        )


def sky_figure(
    palette: Palette, east: East = "left", lines: int = 0
) -> tuple[Figure, SkyDisc, Axes]:
    """A sheet with one empty disc, and room for so many lines of words under it."""
    below = 0.75 + 0.165 * lines
    figure = new_figure(palette, 5.4, 5.75 + below)
    upper, lower = figure.subplots(2, 1, height_ratios=(5.75, below))
    lower.set_axis_off()
    return figure, SkyDisc(upper, palette, east), lower
