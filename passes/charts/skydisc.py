"""The sky as a disc: the zenith in the middle, the horizon around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.charts.paper import new_figure, plain
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """One pass across the sky; arrays ``(n,)``, angles in degrees.

    ``marks`` are (index, words) at which a time is written.
    """

    label: str
    azimuth_deg: Floats
    altitude_deg: Floats
    lit: NDArray[np.bool_]
    magnitude: Floats
    marks: Sequence[tuple[int, str]] = ()


class SkyDisc:
    """Draws on a disc in an equidistant zenithal projection.

    ``east`` says on which side east lies: left as when lying on one's back with the
    head to the north, right as on a map.
    """

    def __init__(self, axes: Axes, palette: Palette, east: East = "left") -> None:
        self.axes, self.palette = axes, palette
        self._side = -1.0 if east == "left" else 1.0
        axes.set_aspect("equal")
        axes.set_axis_off()
        axes.set_xlim(-104, 104)
        axes.set_ylim(-104, 104)
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
            self._write(x, y, f"{altitude:.0f}°", quiet, 7)
        for azimuth, word in _POINTS.items():
            x, y = self.place(azimuth, -7.0)
            size = 12 if len(word) == 1 else 8
            self._write(x, y, word, ink, size)
            self.axes.plot(*self.place([azimuth] * 2, [0, 4]), color=quiet, lw=0.8)

    def _write(
        self, x: ArrayLike, y: ArrayLike, text: str, color: str, size: float
    ) -> None:
        self.axes.text(
            float(np.asarray(x)),
            float(np.asarray(y)),
            text,
            color=color,
            fontsize=size,
            ha="center",
            va="center",
        )

    def mask(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> None:
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
        x, y = self.place(azimuth_deg, 9.0)
        self._write(x, y, words, self.palette.ink, 7)

    def moon(self, azimuth_deg: float, altitude_deg: float, illuminated: float) -> None:
        """The Moon as an open ring, with how much of it is lit."""
        x, y = self.place(azimuth_deg, altitude_deg)
        self.axes.plot(
            x,
            y,
            marker="o",
            markersize=13,
            markerfacecolor="none",
            markeredgecolor=self.palette.ink,
            markeredgewidth=1.6,
            zorder=4,
        )
        self._write(x, y - 9.0, f"Moon {100 * illuminated:.0f} %", self.palette.ink, 8)

    def path(self, path: Path) -> None:
        """A pass: solid while lit, dotted in shadow, thicker where brighter."""
        x, y = self.place(path.azimuth_deg, path.altitude_deg)
        dark = ~path.lit
        self.axes.plot(
            np.where(_grown(dark), x, np.nan),
            np.where(_grown(dark), y, np.nan),
            color=self.palette.quiet,
            linestyle=":",
            linewidth=1.4,
            zorder=2,
        )
        for low in range(len(x) - 1):
            if path.lit[low] and path.lit[low + 1]:
                self.axes.plot(
                    x[low : low + 2],
                    y[low : low + 2],
                    color=self.palette.strong,
                    linewidth=line_width(float(path.magnitude[low])),
                    solid_capstyle="round",
                    zorder=3,
                )
        self._arrow(x, y)
        for index, words in path.marks:
            self.axes.plot(
                x[index],
                y[index],
                marker="o",
                markersize=3,
                color=self.palette.ink,
                zorder=4,
            )
            self._beside(x, y, index, words)
        self._label(path, x, y)

    def _arrow(self, x: Floats, y: Floats) -> None:
        if len(x) < 3:
            return
        at = max(1, int(len(x) * 0.72))
        self.axes.annotate(
            "",
            xy=(x[at], y[at]),
            xytext=(x[at - 1], y[at - 1]),
            zorder=5,
            arrowprops={
                "arrowstyle": "-|>",
                "color": self.palette.ink,
                "mutation_scale": 14,
                "linewidth": 0.0,
            },
        )

    def _beside(self, x: Floats, y: Floats, i: int, words: str) -> None:
        ahead, behind = min(i + 1, len(x) - 1), max(i - 1, 0)
        along = np.array([x[ahead] - x[behind], y[ahead] - y[behind]])
        along = along / (np.linalg.norm(along) or 1.0)
        self._write(
            x[i] + 6.5 * along[1], y[i] - 6.5 * along[0], words, self.palette.ink, 6.5
        )

    def _label(self, path: Path, x: Floats, y: Floats) -> None:
        at = len(x) // 2
        self.axes.annotate(
            plain(path.label, 34),
            xy=(x[at], y[at]),
            xytext=(5, 5),
            textcoords="offset points",
            color=self.palette.ink,
            fontsize=7.5,
            fontweight="bold",
            zorder=6,
            ha="left" if x[at] < 30 else "right",
        )


def _grown(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Flags with one neighbour on each side, so that lines meet."""
    grown = flags.copy()
    grown[1:] |= flags[:-1]
    grown[:-1] |= flags[1:]
    return grown


def line_width(magnitude: float) -> float:
    """Line weight in points: 0.8 at magnitude 6 and fainter, 5 at −4 and brighter."""
    if not np.isfinite(magnitude):
        return 0.8
    return float(np.interp(magnitude, [-4.0, 6.0], [5.0, 0.8]))


def sky_figure(palette: Palette, east: East = "left") -> tuple[Figure, SkyDisc]:
    """A sheet with one empty disc."""
    figure = new_figure(palette, 7.0, 7.4)
    axes = figure.add_subplot(1, 1, 1)
    return figure, SkyDisc(axes, palette, east)
