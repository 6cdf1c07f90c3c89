"""The panels of one pass: each draws one quantity along it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import compass, numbers
from passes.charts.course import Course, Limit, Shooting
from passes.charts.paper import MASK_HATCH, SMALL, plain, plate
from passes.charts.theme import Palette
from passes.model import Track

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

#: Line styles and weights of shutter limits: told apart without colour.
LIMIT_STYLES = (("-", 3.4), ("--", 1.7), (":", 1.7))
_SHADOW = (0, (1, 1.6))
#: Height of the bar that says visible, degrees; room above the top for words.
_BAR_DEG, _ABOVE = 2.5, 1.3
#: Shutters nearer to each other than this get marks between powers of ten.
_FEW = 20.0
#: The least span of altitudes shown, and the highest altitude shown, degrees.
_LEAST_DEG, _MOST_DEG = 20.0, 112.0


# --- altitude ----------------------------------------------------------------------


def altitude_panel(axes: Axes, palette: Palette, course: Course) -> None:
    """Height: solid in sunlight, dotted in shadow; the site's horizon below it."""
    track, x = course.track, _axis(course.track)
    _split(axes, palette, x, track.altitude_deg, track.lit_fraction > 0.0)
    _horizon(axes, palette, course)
    for span in course.visible:
        axes.plot(
            [numbers(span.start), numbers(span.end)],
            [_BAR_DEG, _BAR_DEG],
            color=palette.ink,
            linewidth=4.0,
            solid_capstyle="butt",
            label="_visible",
        )
    for number, when in enumerate(course.shooting.waits, 1):
        _wait(axes, palette, track, when, number)
    top = float(np.nanmax(track.altitude_deg))
    axes.set_ylim(0.0, min(max(top * _ABOVE, _LEAST_DEG), _MOST_DEG))
    axes.set_yticks([v for v in axes.get_yticks() if 0.0 <= v <= 90.0])
    _named(axes, "altitude, °")
    _ends(axes, palette, track)


def _axis(track: Track) -> Any:
    return numbers(track.start) + np.asarray(track.time_s) / 86400.0


def _split(
    axes: Axes, palette: Palette, x: Any, y: Floats, lit: NDArray[np.bool_]
) -> None:
    """A line, solid where lit and dotted where not."""
    grown = lit.copy()
    grown[1:] |= lit[:-1]
    axes.plot(x, np.where(grown, y, np.nan), color=palette.strong, lw=2.2, label="_lit")
    axes.plot(
        x,
        np.where(~lit, y, np.nan),
        color=palette.ink,
        lw=1.6,
        ls=_SHADOW,
        label="_shadow",
    )


def _horizon(axes: Axes, palette: Palette, course: Course) -> None:
    """What the site's own horizon hides where the object stands."""
    if not course.site.horizon:
        return
    azimuth, altitude = zip(*course.site.horizon, strict=True)
    track = course.track
    axes.fill_between(
        _axis(track),
        0.0,
        np.interp(track.azimuth_deg, azimuth, altitude, period=360.0),
        facecolor=palette.fill,
        edgecolor=palette.quiet,
        hatch=MASK_HATCH,
        label="_mask",
    )


def _ends(axes: Axes, palette: Palette, track: Track) -> None:
    """Where it stands in the sky at the beginning, the top and the end."""
    last = len(track.time_s) - 1
    top = int(np.nanargmax(track.altitude_deg))
    x = _axis(track)
    for i, align in ((0, "left"), (top, "center"), (last, "right")):
        if i == top and min(top, last - top) < 0.2 * last:
            continue
        axes.annotate(
            f"{track.altitude_deg[i]:.0f}° {compass(float(track.azimuth_deg[i]))}",
            xy=(x[i], track.altitude_deg[i]),
            xytext=({"left": 3, "center": 0, "right": -3}[align], 9),
            textcoords="offset points",
            ha=align,
            fontsize=SMALL,
            color=palette.ink,
            bbox=plate(palette),
        )


def _wait(
    axes: Axes, palette: Palette, track: Track, when: datetime, number: int
) -> None:
    """A place to wait at: its number in a square below the line."""
    seconds = (when - track.start).total_seconds()
    axes.annotate(
        str(number),
        xy=(numbers(when), float(np.interp(seconds, track.time_s, track.altitude_deg))),
        xytext=(0, -17),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=SMALL,
        fontweight="bold",
        color=palette.ink,
        bbox={"boxstyle": "square,pad=0.25", "fc": palette.paper, "ec": palette.ink},
        arrowprops={"arrowstyle": "-", "color": palette.ink, "lw": 0.8},
    )


# --- speed and light ---------------------------------------------------------------


def rate_panel(axes: Axes, palette: Palette, track: Track) -> None:
    """How fast it moves on the sky."""
    axes.plot(
        _axis(track),
        track.angular_rate_deg_s,
        color=palette.strong,
        lw=2.0,
        label="_rate",
    )
    fastest = float(np.max(np.nan_to_num(track.angular_rate_deg_s)))
    axes.set_ylim(0.0, 1.15 * fastest if fastest > 0.0 else None)
    _named(axes, "speed, °/s")


def magnitude_panel(axes: Axes, palette: Palette, track: Track) -> None:
    """Brighter is up; the band is one sigma either way."""
    _named(axes, "magnitude")
    if not np.isfinite(track.magnitude).any():
        axes.text(
            0.5,
            0.5,
            "brightness unknown, or never lit",
            transform=axes.transAxes,
            ha="center",
            va="center",
            color=palette.ink,
            fontsize=SMALL,
        )
        axes.set_yticks([])
        return
    x, sigma = _axis(track), np.nan_to_num(np.asarray(track.magnitude_sigma), nan=0.0)
    axes.fill_between(
        x,
        track.magnitude - sigma,
        track.magnitude + sigma,
        facecolor=palette.fill,
        edgecolor=palette.quiet,
        linewidth=0.6,
    )
    axes.plot(x, track.magnitude, color=palette.strong, lw=2.0)
    axes.invert_yaxis()


# --- shutter -----------------------------------------------------------------------


def shutter_panel(axes: Axes, palette: Palette, limits: Sequence[Limit]) -> None:
    """The longest shutter, as fractions of a second, by what the mount does.

    Limits may lie on each other: gaps of a broken line are the panel's own, so that it
    shows on a solid one without colour.
    """
    colours = (palette.strong, palette.second, palette.ink)
    for limit, (style, width), colour in zip(
        limits, LIMIT_STYLES, colours, strict=False
    ):
        axes.plot(
            numbers(limit.times),
            limit.exposure_s,
            color=colour,
            ls=style,
            lw=width,
            gapcolor=None if style == "-" else palette.panel,
            drawstyle="steps-mid",
            label=plain(limit.label, 30),
        )
    _shutter_axis(axes, limits)
    axes.legend(
        fontsize=SMALL,
        ncols=len(limits),
        loc="lower right",
        bbox_to_anchor=(1.01, 1.0),
        labelcolor=palette.ink,
        frameon=False,
        borderpad=0.0,
        borderaxespad=0.2,
        handlelength=2.2,
        columnspacing=1.0,
    )


def _shutter_axis(axes: Axes, limits: Sequence[Limit]) -> None:
    """A logarithmic axis with shutters as on a camera."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    axes.set_yscale("log")
    if _spread(limits) < _FEW:
        axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda s, _: shutter_words(s)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.margins(y=0.15)
    _named(axes, "shutter, s")


def _spread(limits: Sequence[Limit]) -> float:
    """The longest shutter of all over the shortest."""
    values = np.concatenate([limit.exposure_s for limit in limits])
    values = values[np.isfinite(values) & (values > 0.0)]
    return float(values.max() / values.min()) if values.size else 1.0


def shutter_words(seconds: float) -> str:
    """A shutter as on a camera: 1/500 below half a second."""
    if seconds <= 0.0:
        return ""
    if seconds < 0.5:
        return f"1/{1.0 / seconds:.0f}"
    return f"{seconds:.0f}" if seconds >= 10.0 else f"{seconds:.1f}"


# --- in every panel ----------------------------------------------------------------


def stretches(axes: Axes, palette: Palette, shooting: Shooting) -> None:
    """What the mount can follow as an area with edges, recording as dashed lines."""
    if shooting.follow is not None:
        ends = numbers(shooting.follow.start), numbers(shooting.follow.end)
        axes.axvspan(*ends, facecolor=palette.shade, alpha=0.16, zorder=0)
        for end in ends:
            axes.axvline(end, color=palette.quiet, lw=0.9, zorder=1, label="_follow")
    if shooting.record is not None:
        for when in (shooting.record.start, shooting.record.end):
            axes.axvline(
                numbers(when),
                color=palette.ink,
                lw=1.0,
                ls="--",
                zorder=1,
                label="_record",
            )


def _named(axes: Axes, words: str) -> None:
    axes.set_ylabel(words, fontsize=SMALL)
