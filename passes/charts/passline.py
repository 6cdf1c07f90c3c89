"""One pass against time: height, speed, light, and what a rig makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes.charts.clockface import numbers, time_axis
from passes.charts.paper import new_figure, plain, prepared, titled
from passes.charts.theme import Palette
from passes.model import Site, Span, Track

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

#: Line styles of shutter limits: told apart without colour.
_STYLES = (("-", 3.6), ("--", 1.8), (":", 1.8))
_SHADOW = (0, (1, 1.6))
_PANEL_IN = 1.35


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Limit:
    """The longest shutter along a pass, ``(n,)`` seconds at times; and its name."""

    label: str
    times: Sequence[datetime]
    exposure_s: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Shooting:
    """What a rig makes of a pass; anything may be missing.

    ``follow`` is the stretch that the mount can follow, ``record`` from when to when
    to record, ``waits`` the middles of the places to lie in wait at.
    """

    rig: str = ""
    limits: tuple[Limit, ...] = ()
    follow: Span | None = None
    record: Span | None = None
    waits: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The pass to be drawn."""

    site: Site
    track: Track
    zone: tzinfo
    visible: tuple[Span, ...] = ()
    shooting: Shooting = field(default_factory=Shooting)
    demo: bool = False


def pass_chart(palette: Palette, course: Course) -> Figure:
    """Panels under each other, over one axis of local time."""
    shooting = course.shooting
    panels = 4 if shooting.limits else 3
    figure = new_figure(palette, 5.8, 1.35 + _PANEL_IN * (panels + 0.5))
    grid = figure.subplots(
        panels, 1, sharex=True, height_ratios=[1.5] + [1] * (panels - 1)
    )
    for axes in grid:
        prepared(axes, palette)
    _altitude(grid[0], palette, course)
    _rate(grid[1], palette, course.track)
    _magnitude(grid[2], palette, course.track)
    if shooting.limits:
        _shutter(grid[3], palette, shooting.limits)
    for axes in grid:
        _stretches(axes, palette, shooting)
    track = course.track
    span = Span(start=track.start, end=_time(track, float(track.time_s[-1])))
    time_axis(grid[-1], palette, span, course.zone)
    grid[-1].set_xlabel(f"{grid[-1].get_xlabel()}\n{_key(course)}", fontsize=8)
    name = track.name or str(track.catalog_number)
    rig = f", {shooting.rig}" if shooting.rig else ""
    local = track.start.astimezone(course.zone)
    titled(grid[0], palette, f"{name}, {local:%d %B %Y}{rig}", demo=course.demo)
    return figure


def _time(track: Track, seconds: float) -> datetime:
    return track.start + timedelta(seconds=seconds)


def _axis(track: Track) -> Any:
    return numbers(track.start) + np.asarray(track.time_s) / 86400.0


def _altitude(axes: Axes, palette: Palette, course: Course) -> None:
    """Height: solid in sunlight, dotted in shadow; the site's horizon below it."""
    track, x = course.track, _axis(course.track)
    lit = track.lit_fraction > 0.0
    _split(axes, palette, x, track.altitude_deg, lit)
    if course.site.horizon:
        azimuth, altitude = zip(*course.site.horizon, strict=True)
        rim = np.interp(track.azimuth_deg, azimuth, altitude, period=360.0)
        axes.fill_between(
            x, 0.0, rim, facecolor=palette.fill, edgecolor=palette.quiet, hatch="...."
        )
    for span in course.visible:
        axes.plot(
            [numbers(span.start), numbers(span.end)],
            [2.5, 2.5],
            color=palette.ink,
            linewidth=4.0,
            solid_capstyle="butt",
            label="_visible",
        )
    for number, when in enumerate(course.shooting.waits, 1):
        _wait(axes, palette, track, when, number)
    top = float(np.nanmax(track.altitude_deg))
    axes.set_ylim(0.0, min(max(top * 1.22, 20.0), 100.0))
    _named(axes, "altitude, °")
    _quarters(axes, palette, track)


def _split(
    axes: Axes, palette: Palette, x: Any, y: Floats, lit: NDArray[np.bool_]
) -> None:
    grown = lit.copy()
    grown[1:] |= lit[:-1]
    axes.plot(x, np.where(grown, y, np.nan), color=palette.strong, lw=2.2, label="_lit")
    dark = ~lit
    axes.plot(
        x,
        np.where(dark, y, np.nan),
        color=palette.ink,
        lw=1.6,
        ls=_SHADOW,
        label="_shadow",
    )


def _quarters(axes: Axes, palette: Palette, track: Track) -> None:
    """Where it stands in the sky at the beginning, the top and the end."""
    last = len(track.time_s) - 1
    top = int(np.nanargmax(track.altitude_deg))
    x = _axis(track)
    for i, align in ((0, "left"), (top, "center"), (last, "right")):
        if i == top and min(top, last - top) < 0.15 * last:
            continue
        axes.annotate(
            f"{track.altitude_deg[i]:.0f}° {_compass(float(track.azimuth_deg[i]))}",
            xy=(x[i], track.altitude_deg[i]),
            xytext=({"left": 3, "center": 0, "right": -3}[align], 7),
            textcoords="offset points",
            ha=align,
            fontsize=8,
            color=palette.ink,
        )


def _compass(azimuth_deg: float) -> str:
    points = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
    return points[round(azimuth_deg / 45.0) % 8]


def _wait(
    axes: Axes, palette: Palette, track: Track, when: datetime, number: int
) -> None:
    seconds = (when - track.start).total_seconds()
    axes.annotate(
        str(number),
        xy=(numbers(when), float(np.interp(seconds, track.time_s, track.altitude_deg))),
        xytext=(0, -17),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=8,
        fontweight="bold",
        color=palette.ink,
        bbox={"boxstyle": "square,pad=0.25", "fc": palette.paper, "ec": palette.ink},
        arrowprops={"arrowstyle": "-", "color": palette.ink, "lw": 0.8},
    )


def _rate(axes: Axes, palette: Palette, track: Track) -> None:
    axes.plot(_axis(track), track.angular_rate_deg_s, color=palette.strong, lw=2.0)
    axes.set_ylim(bottom=0.0)
    _named(axes, "speed, °/s")


def _magnitude(axes: Axes, palette: Palette, track: Track) -> None:
    """Brighter is up; the band is one sigma either way."""
    x, known = _axis(track), np.isfinite(track.magnitude)
    if not known.any():
        axes.text(
            0.5,
            0.5,
            "brightness unknown, or never lit",
            transform=axes.transAxes,
            ha="center",
            va="center",
            color=palette.ink,
            fontsize=9,
        )
        axes.set_yticks([])
    else:
        sigma = np.nan_to_num(np.asarray(track.magnitude_sigma), nan=0.0)
        axes.fill_between(
            x,
            track.magnitude - sigma,
            track.magnitude + sigma,
            facecolor=palette.fill,
            edgecolor="none",
        )
        axes.plot(x, track.magnitude, color=palette.strong, lw=2.0)
        axes.invert_yaxis()
    _named(axes, "magnitude")


def _shutter(axes: Axes, palette: Palette, limits: Sequence[Limit]) -> None:
    """The longest shutter, as fractions of a second, by what the mount does."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    colours = (palette.strong, palette.second, palette.ink)
    for limit, (style, width), colour in zip(limits, _STYLES, colours, strict=False):
        axes.plot(
            numbers(limit.times),
            limit.exposure_s,
            color=colour,
            ls=style,
            lw=width,
            drawstyle="steps-mid",
            label=plain(limit.label, 30),
        )
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter(FuncFormatter(lambda s, _: shutter_words(s)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.margins(y=0.25)
    _named(axes, "shutter, s")
    axes.legend(
        fontsize=7.5,
        ncols=len(limits),
        loc="upper center",
        labelcolor=palette.ink,
        facecolor=palette.panel,
        edgecolor="none",
        framealpha=0.7,
        borderpad=0.2,
        handlelength=2.6,
    )


def shutter_words(seconds: float) -> str:
    """A shutter as on a camera: 1/500 below half a second."""
    if seconds <= 0.0:
        return ""
    if seconds < 0.5:
        return f"1/{1.0 / seconds:,.0f}"
    return f"{seconds:.0f}" if seconds >= 10.0 else f"{seconds:.1f}"


def _stretches(axes: Axes, palette: Palette, shooting: Shooting) -> None:
    """What the mount can follow as an area, recording as lines at its ends."""
    if shooting.follow is not None:
        axes.axvspan(
            numbers(shooting.follow.start),
            numbers(shooting.follow.end),
            facecolor=palette.shade,
            alpha=0.16,
            zorder=0,
        )
    if shooting.record is not None:
        for when in (shooting.record.start, shooting.record.end):
            axes.axvline(numbers(when), color=palette.ink, lw=1.0, ls="--", zorder=1)


def _named(axes: Axes, words: str) -> None:
    axes.set_ylabel(words, fontsize=9)


def _key(course: Course) -> str:
    """What the marks mean, of those that are there."""
    shooting = course.shooting
    known = (
        (True, "solid: in sunlight; dotted: in shadow"),
        (bool(course.visible), "bar below: visible to the eye"),
        (bool(course.site.horizon), "dotted area: behind the site's horizon"),
        (shooting.follow is not None, "shaded: the mount can follow"),
        (shooting.record is not None, "dashed lines: record from, to"),
        (bool(shooting.waits), "squares: places to wait at"),
    )
    words = [text for there, text in known if there]
    return "\n".join("; ".join(words[i : i + 2]) for i in range(0, len(words), 2))
