"""The chart of a strip on the ground: a plain grid of kilometres about the site."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import zone_of, zone_words
from passes.charts.paper import (
    SMALL,
    WIDTH_IN,
    headed,
    new_figure,
    plain,
    plate,
    prepared,
    wrapped,
)
from passes.model import Site
from passes_plugins.transits.chart import clock_tenths
from passes_plugins.transits.strips import way

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.model import Event

Floats = NDArray[np.float64]
#: Where the scale and north may stand, in sides of the square.
_CORNERS = np.array([(a, b) for a in (0.18, 0.84) for b in (0.1, 0.88)])
_BARS_KM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)


def strip_chart(
    palette: Palette, event: Event, site: Site, *, demo: bool = False
) -> Figure:
    """Centre line, edges and their 95 % bound, the site, the nearest point."""
    strip = event.details["strip"]
    words = _words(event, site)
    figure = new_figure(palette, WIDTH_IN + 1.25 + 0.15 * words.count("\n"))
    axes = prepared(figure.add_subplot(1, 1, 1), palette)
    axes.set_aspect("equal")
    axes.locator_params(nbins=6)
    centre, left, right = (
        eastings_km(site, strip[name]) for name in ("centre", "left", "right")
    )
    _band(axes, palette, left, right)
    axes.plot(*centre.T, color=palette.strong, lw=2.0, label="centre line")
    _bounds(axes, palette, left, right, strip)
    nearest = _place(site, strip["nearest"])
    _spots(axes, palette, site, nearest, strip)
    _frame(axes, nearest, strip)
    drawn = [line.get_xydata() for line in axes.get_lines()]
    _scale(axes, palette, np.concatenate(drawn))
    axes.set_xlabel("km east of the site", fontsize=SMALL)
    axes.set_ylabel("km north of the site", fontsize=SMALL)
    body = str(event.details["body"]).capitalize()
    headed(figure, palette, f"Where {event.subject} crosses the {body}", demo=demo)
    _key(figure, axes, palette, words)
    return figure


def eastings_km(site: Site, line: Sequence[Sequence[float]]) -> Floats:
    """Places (longitude, latitude) as km east and north of the site, ``(n, 2)``.

    Distance and bearing from the site are true (azimuthal equidistant).
    """
    return np.array([_point(site, lon, lat) for lon, lat, *_ in line]).reshape(-1, 2)


def _point(site: Site, longitude_deg: float, latitude_deg: float) -> Floats:
    there = Site(
        latitude_deg=latitude_deg,
        longitude_deg=(longitude_deg + 180.0) % 360.0 - 180.0,
    )
    distance, bearing = way(site, there)
    angle = np.radians(bearing)
    return distance * np.array([np.sin(angle), np.cos(angle)])


def _place(site: Site, place: Any) -> Floats:
    return _point(site, place["longitude_deg"], place["latitude_deg"])


def _band(axes: Axes, palette: Palette, left: Floats, right: Floats) -> None:
    outline = np.concatenate([left, right[::-1]])
    axes.fill(*outline.T, facecolor=palette.fill, edgecolor="none", zorder=1)
    for n, edge in enumerate((left, right)):
        label = "edges" if n == 0 else None
        axes.plot(*edge.T, color=palette.ink, lw=1.2, label=label)


def _bounds(
    axes: Axes, palette: Palette, left: Floats, right: Floats, strip: Any
) -> None:
    """The edges moved outward as far as the strip may lie aside, at 95 %."""
    shift = strip.get("shift_km")
    if not shift:
        return
    across = right - left
    outward = across / np.linalg.norm(across, axis=1, keepdims=True)
    for n, edge in enumerate((left - shift * outward, right + shift * outward)):
        label = f"95 % bound, ±{shift:.1f} km" if n == 0 else None
        axes.plot(*edge.T, color=palette.second, lw=1.4, ls="--", label=label)


def _spots(
    axes: Axes, palette: Palette, site: Site, nearest: Floats, strip: Any
) -> None:
    look: Any = {"ls": "none", "color": palette.ink, "zorder": 5}
    name = plain(site.name, 18) or "site"
    axes.plot(0, 0, marker="s", markersize=8, label=name, **look)
    distance = strip["nearest"]["distance_km"]
    words = f"nearest point, {distance:.1f} km"
    look = {**look, "mfc": "none", "mew": 1.8}
    axes.plot(*nearest, marker="D", markersize=8, label=words, **look)


def _frame(axes: Axes, nearest: Floats, strip: Any) -> None:
    """A square that holds the site, the nearest point and the strip beside it."""
    half = 0.5 * float(np.linalg.norm(nearest))
    half += 0.8 * float(strip.get("width_km") or 0.0) + float(
        strip.get("shift_km") or 0.0
    )
    half = max(1.15 * half, 3.0)
    middle = 0.5 * nearest
    axes.set_xlim(middle[0] - half, middle[0] + half)
    axes.set_ylim(middle[1] - half, middle[1] + half)


def _scale(axes: Axes, palette: Palette, lines: Floats) -> None:
    """A bar of round length and north, in the corners that lines leave freest."""
    (x0, x1), y0 = axes.get_xlim(), axes.get_ylim()[0]
    wide = x1 - x0
    bar, north = _freest((lines - (x0, y0)) / wide) * wide + (x0, y0)
    length = max((k for k in _BARS_KM if k <= 0.25 * wide), default=_BARS_KM[0])
    left, level = bar[0] - length / 2, bar[1] - 0.02 * wide
    axes.plot(
        [left, left + length],
        [level, level],
        color=palette.ink,
        lw=4.0,
        solid_capstyle="butt",
        label="_scale",
    )
    look: Any = {
        "ha": "center",
        "fontsize": SMALL,
        "color": palette.ink,
        "bbox": plate(palette),
    }
    axes.text(bar[0], level + 0.025 * wide, f"{length:g} km", **look)
    axes.annotate(
        "",
        xy=(north[0], north[1] + 0.02 * wide),
        xytext=(north[0], north[1] - 0.07 * wide),
        arrowprops={"arrowstyle": "->", "color": palette.ink},
    )
    axes.text(north[0], north[1] + 0.03 * wide, "N", **look)


def _freest(lines: Floats) -> Floats:
    """The two corners furthest from any point, ``(2, 2)``, in sides of the square."""
    apart = np.linalg.norm(_CORNERS[:, np.newaxis] - lines, axis=2).min(axis=1)
    return _CORNERS[np.argsort(-apart)[:2]]


def _words(event: Event, site: Site) -> str:
    """When it is at the nearest point, and what to take care of."""
    zone = zone_of(site.zone)
    local = event.best.astimezone(zone)
    date = f"{local:%d %B %Y}".removeprefix("0")
    lines = [
        f"nearest point: {clock_tenths(event.best, zone)}, {date}",
        f"times {zone_words(local, zone)}",
        "Stop only where it is allowed and safe.",
    ]
    if event.details["body"] == "sun":
        lines.append("SUN: certified full-aperture filter on every optic.")
    return wrapped("\n".join(lines))


def _key(figure: Figure, axes: Axes, palette: Palette, words: str) -> None:
    """What the lines and marks are, under the time and the cautions."""
    handles, labels = axes.get_legend_handles_labels()
    legend = figure.legend(
        handles,
        labels,
        loc="outside lower center",
        ncols=2,
        fontsize=SMALL,
        labelcolor=palette.ink,
        frameon=False,
        columnspacing=1.2,
        handlelength=1.8,
        title=words,
        title_fontproperties={"size": SMALL},
    )
    legend.get_title().set_color(palette.ink)
