"""The sky as a disc: the zenith in the middle, the horizon around it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.charts.labels import Room
from passes.charts.paper import MASK_HATCH, SMALL, new_figure, plain, plate
from passes.charts.theme import Palette

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]
East = Literal["left", "right"]

_RINGS_DEG = (30.0, 60.0)
_WORDS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_POINTS = dict(zip(range(0, 360, 45), _WORDS, strict=True))
_HALF, _DISC_IN = 102.0, 3.85
#: Half widths of the glow on the horizon, and how dense each is.
_GLOWS = ((50.0, 0.12), (33.0, 0.14), (17.0, 0.18))
_GLOW_HIGH_DEG = 22.0


class SkyDisc:
    """A disc in an equidistant zenithal projection, and where words have room on it.

    ``east`` says on which side east lies: left as when lying on one's back with the
    head to the north, right as on a map.
    """

    def __init__(self, axes: Axes, palette: Palette, east: East = "left") -> None:
        self.axes, self.palette = axes, palette
        self.room = Room(2.0 * _HALF / (72.0 * _DISC_IN), reach=96.0)
        self._side = -1.0 if east == "left" else 1.0
        axes.set_aspect("equal")
        axes.set_axis_off()
        axes.set_xlim(-_HALF, _HALF)
        axes.set_ylim(-_HALF, _HALF)
        self._frame()

    def place(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike
    ) -> tuple[Floats, Floats]:
        """Where directions stand on the disc, in degrees from the zenith."""
        away = 90.0 - np.asarray(altitude_deg, dtype=float)
        azimuth = np.radians(np.asarray(azimuth_deg, dtype=float))
        return self._side * away * np.sin(azimuth), away * np.cos(azimuth)

    def write(self, x: float, y: float, words: str, size: float = SMALL) -> None:
        """Words with their middle there, with a rim so that lines do not cut them."""
        inside = float(np.hypot(x, y)) < 90.0
        self.axes.text(
            x,
            y,
            plain(words),
            color=self.palette.ink,
            fontsize=size,
            ha="center",
            va="center",
            zorder=7,
            bbox=plate(self.palette) if inside else None,
        )

    def _frame(self) -> None:
        """The horizon with its points, circles of equal altitude, the zenith."""
        from matplotlib.patches import Circle

        ink, quiet = self.palette.ink, self.palette.quiet
        self.axes.add_patch(
            Circle((0, 0), 90, facecolor=self.palette.panel, edgecolor=ink, zorder=0)
        )
        for altitude in _RINGS_DEG:
            self.axes.add_patch(
                Circle((0, 0), 90 - altitude, fill=False, edgecolor=quiet, lw=0.6)
            )
            x, y = map(float, self.place(202.5, altitude))
            self.write(x, y, f"{altitude:.0f}°")
            self.room.take(x, y, self.room.half_size("60°", SMALL))
        for azimuth, word in _POINTS.items():
            x, y = map(float, self.place(azimuth, -7.0))
            self.write(x, y, word, 12.0 if len(word) == 1 else SMALL)
            self.axes.plot(*self.place([azimuth] * 2, [0, 4]), color=quiet, lw=0.8)
        self.axes.plot(0, 0, marker="+", color=quiet, markersize=7)

    def mask(self, azimuth_deg: Sequence[float], altitude_deg: Sequence[float]) -> None:
        """The site's own horizon as a filled rim, hatched so that it reads in grey."""
        around = np.linspace(0.0, 360.0, 361)
        rim = np.interp(around, azimuth_deg, altitude_deg, period=360.0)
        inner, outer = self.place(around, rim), self.place(around, np.zeros_like(rim))
        self.axes.fill(
            np.concatenate([outer[0], inner[0][::-1]]),
            np.concatenate([outer[1], inner[1][::-1]]),
            facecolor=self.palette.fill,
            edgecolor=self.palette.quiet,
            hatch=MASK_HATCH,
            linewidth=0.0,
            zorder=1,
            label="_mask",
        )
        self.axes.plot(*inner, color=self.palette.quiet, lw=1.0, zorder=1)

    def glow(self, azimuth_deg: float, words: str) -> None:
        """The side of the horizon where the Sun's glow is, and its name."""
        for half, alpha in _GLOWS:
            across = np.linspace(azimuth_deg - half, azimuth_deg + half, 60)
            bend = np.cos((across - azimuth_deg) / half * np.pi / 2)
            low = self.place(across, np.zeros_like(across))
            high = self.place(across, _GLOW_HIGH_DEG * np.maximum(bend, 0.0) ** 0.7)
            self.axes.fill(
                np.concatenate([low[0], high[0][::-1]]),
                np.concatenate([low[1], high[1][::-1]]),
                color=self.palette.shade,
                alpha=alpha,
                lw=0,
                zorder=1,
                label="_glow",
            )
        lower = [azimuth_deg + turn for turn in (0, 9, -9, 18, -18, 27, -27)]
        self.name(lower, [9.0] * len(lower), words, away=0.0)

    def moon(self, azimuth_deg: float, altitude_deg: float, words: str) -> None:
        """The Moon as an open ring, and its words."""
        x, y = map(float, self.place(azimuth_deg, altitude_deg))
        self.axes.plot(
            x,
            y,
            marker="o",
            markersize=11,
            markerfacecolor=self.palette.panel,
            markeredgecolor=self.palette.ink,
            markeredgewidth=1.8,
            zorder=4,
            label="_moon",
        )
        self.room.take(x, y, (5.0, 5.0))
        self.name([azimuth_deg], [altitude_deg], words, away=7.0)

    def name(
        self,
        azimuth_deg: Sequence[float],
        altitude_deg: Sequence[float],
        words: str,
        away: float,
    ) -> int | None:
        """Words beside one of some directions; which one, None if no room is left."""
        x, y = self.place(azimuth_deg, altitude_deg)
        points = list(zip(x.tolist(), y.tolist(), strict=True))
        found = self.room.beside(points, words, SMALL, away)
        if found is None:
            return None
        self.write(*found[1], words)
        return found[0]


def sky_figure(
    palette: Palette, east: East = "left", below_in: float = 0.8
) -> tuple[Figure, SkyDisc, Axes]:
    """A sheet with one empty disc, and so much room for words under it."""
    figure = new_figure(palette, _DISC_IN + 0.42 + below_in)
    upper, lower = figure.subplots(2, 1, height_ratios=(_DISC_IN, below_in))
    lower.set_axis_off()
    return figure, SkyDisc(upper, palette, east), lower
