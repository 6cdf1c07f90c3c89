"""Where numbers and the compass stand in a frame, clear of its trails."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.paper import USUAL, plate

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from passes.charts.theme import Palette
    from passes_plugins.streaks.frames import Frame

Floats = NDArray[np.float64]
#: Pixels along a trail, ``(n,)`` across and up, from its entry to its exit.
Way = tuple[Floats, Floats]

#: Where along a trail its number may stand; how fine trails are looked at.
_PARTS = np.linspace(0.08, 0.92, 22)
_FINE = np.linspace(0.0, 1.0, 60)
#: Where the compass may stand, in sides of the frame.
_CORNERS = np.array([(a, b) for a in (0.13, 0.87) for b in (0.18, 0.82)])


def along(way: Way, part: Any) -> Floats:
    """Places at parts of the way from its entry to its exit, ``(n, 2)``."""
    x, y = way
    start, end = np.array([x[0], y[0]]), np.array([x[-1], y[-1]])
    return np.asarray(start + np.asarray(part)[..., np.newaxis] * (end - start))


def within(way: Way, frame: Frame) -> Way:
    """The piece of a way that lies in the frame; all of it where none does."""
    width, height = frame.size_px
    parts = np.linspace(0.0, 1.0, 2001)
    x, y = along(way, parts).T
    inside = np.flatnonzero((x >= 0.5) & (x <= width) & (y >= 0.5) & (y <= height))
    if inside.size < 2:
        return way
    ends = along(way, parts[inside[[0, -1]]])
    return ends[:, 0], ends[:, 1]


def spread(ways: list[Way], frame: Frame) -> list[float]:
    """Where along each trail its number stands, furthest from all others."""
    placed: list[Floats] = []
    parts: list[float] = []
    lines = [along(way, _FINE) for way in ways]
    near = 0.06 * max(frame.size_px)
    for n, way in enumerate(ways):
        spots = along(way, _PARTS)
        others = [line for m, line in enumerate(lines) if m != n]
        from_lines = _nearest(spots, others, near)
        score = from_lines + 3.0 * _nearest(spots, placed, 2.0 * near)
        best = int(np.argmax(score))
        placed.append(spots[best : best + 1])
        parts.append(float(_PARTS[best]))
    return parts


def _nearest(spots: Floats, others: list[Floats], enough: float) -> Floats:
    """Distance of each spot to the nearest of other points; no more than enough."""
    if not others:
        return np.full(len(spots), enough)
    points = np.concatenate(others)
    apart = np.linalg.norm(spots[:, np.newaxis] - points, axis=2).min(axis=1)
    return np.asarray(np.minimum(apart, enough))


def compass(axes: Axes, palette: Palette, frame: Frame, ways: list[Way]) -> None:
    """North and east as arrows, in the corner that trails leave freest."""
    width, height = frame.size_px
    spots = _CORNERS * (width, height)
    lines = [along(way, _FINE) for way in ways]
    foot = spots[int(np.argmax(_nearest(spots, lines, np.inf)))]
    for word, towards in _directions(frame).items():
        axes.annotate(
            "",
            xy=tuple(foot + 0.09 * height * towards),
            xytext=tuple(foot),
            zorder=6,
            arrowprops={"arrowstyle": "->", "color": palette.ink},
        )
        x, y = (foot + 0.14 * height * towards).tolist()
        axes.text(
            x,
            y,
            word,
            ha="center",
            va="center",
            fontsize=USUAL,
            color=palette.ink,
            zorder=6,
            bbox=plate(palette),
        )


def _directions(frame: Frame) -> dict[str, Floats]:
    """North and east as unit vectors in pixels, from the frame's own places."""
    step_deg = 0.02 * min(frame.size_deg)
    east_ra = step_deg / max(np.cos(np.radians(frame.dec_deg)), 1e-6)
    ra = np.array([frame.ra_deg, frame.ra_deg, frame.ra_deg + east_ra])
    dec = np.array([frame.dec_deg, frame.dec_deg + step_deg, frame.dec_deg])
    x, y = frame.pixels(ra, dec)
    ends = np.stack([x, y], axis=1)
    found = {}
    for word, i in (("N", 1), ("E", 2)):
        towards = ends[i] - ends[0]
        found[word] = towards / (np.linalg.norm(towards) or 1.0)
    return found
