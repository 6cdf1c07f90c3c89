"""A night from left to right: twilight, the Moon, passes, what is planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING

import numpy as np

from passes.charts.clockface import clock, numbers, time_axis
from passes.charts.paper import (
    SMALL,
    headed,
    listed,
    new_figure,
    plain,
    plate,
    prepared,
)
from passes.charts.theme import Palette
from passes.model import Night, Span

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: The least width of a bar, as a part of the axis: a pass is short, a night long.
_LEAST = 0.006
#: Heights, inches: a row of a pass with its words above its bar; a row of the head.
_PASS_IN, _HEAD_IN, _AROUND_IN = 0.33, 0.3, 1.45
_KEY = (
    "sky: / Sun below −6°, //// below −12°, filled below −18°",
    "passes: thin line up, thick bar visible to the eye",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One pass in a night: while up, while visible, and its words."""

    label: str
    up: Span
    visible: tuple[Span, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One planned exposure."""

    span: Span
    target: str = ""


def night_figure(
    palette: Palette,
    night: Night,
    window: Span,
    bars: Sequence[Bar],
    zone: tzinfo,
    *,
    planned: Sequence[Planned] = (),
    left_out: int = 0,
    title: str = "",
    demo: bool = False,
) -> Figure:
    """The night's darkness and Moon above a row for every pass."""
    rows = max(len(bars), 1)
    head_in = _HEAD_IN * (2 + bool(planned)) + 0.1
    key = _key(bool(planned), left_out)
    body_in = _PASS_IN * rows + 0.1
    figure = new_figure(
        palette, head_in + body_in + _AROUND_IN + 0.14 * key.count("\n")
    )
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(head_in, body_in))
    for axes in (upper, lower):
        prepared(axes, palette)
        axes.tick_params(length=0)
        axes.grid(visible=False, axis="y")
    _head(upper, palette, night, window, planned, zone)
    _bars(lower, palette, bars, window)
    _darkness(lower, palette, night)
    time_axis(lower, palette, window, zone)
    lower.set_xlabel(f"{lower.get_xlabel()}\n{key}", fontsize=SMALL)
    upper.tick_params(labelbottom=False)
    if title:
        headed(figure, palette, title, demo=demo)
    return figure


def _key(planned: bool, left_out: int) -> str:
    """What the marks mean, and how much is missing."""
    more = ["subs: a stripe each"] if planned else []
    more += [f"{left_out} passes worth less are not drawn"] if left_out else []
    return listed((*_KEY, *more))


def _head(
    axes: Axes,
    palette: Palette,
    night: Night,
    window: Span,
    planned: Sequence[Planned],
    zone: tzinfo,
) -> None:
    """Darkness, the Moon, and what is planned, a row each."""
    _dark_bands(axes, palette, night, window, zone)
    _moon(axes, palette, night, window)
    labels = ["sky", "Moon"]
    if planned:
        _subs(axes, palette, planned, window)
        labels.append("subs")
    axes.set_yticks(range(len(labels)), labels)
    axes.set_ylim(len(labels) - 0.5, -0.5)


def _darkness(axes: Axes, palette: Palette, night: Night) -> None:
    """Where full darkness begins and ends, as lines through all rows."""
    for when in (night.dark.start, night.dark.end) if night.dark else ():
        axes.axvline(
            numbers(when), color=palette.quiet, lw=1.0, ls=":", zorder=0, label="_dark"
        )


def _dark_bands(
    axes: Axes, palette: Palette, night: Night, window: Span, zone: tzinfo
) -> None:
    """How dark it is, in four steps told apart by hatching and named."""
    stages = [
        (window, ""),
        (night.civil, "//"),
        (night.nautical, "//////"),
        (night.dark, ""),
    ]
    for depth, (span, hatch) in enumerate(stages):
        if span is None:
            continue
        face = palette.night if depth == 3 else palette.panel
        _bar(axes, 0, span, 0.7, facecolor=face, edgecolor=palette.quiet, hatch=hatch)
    if night.dark is not None:
        words = f"dark {clock(night.dark.start, zone)}–{clock(night.dark.end, zone)}"
    else:
        words = plain(night.note.split(";")[0], 40) or "never fully dark"
    middle = night.dark or night.nautical or window
    _words(axes, palette, middle, 0, words)


def _moon(axes: Axes, palette: Palette, night: Night, window: Span) -> None:
    for span in night.moon_up:
        _bar(
            axes,
            1,
            span,
            0.5,
            facecolor="none",
            edgecolor=palette.ink,
            hatch="xxx",
            linewidth=0.8,
        )
    lit = night.moon_illuminated
    words = f"Moon {100 * lit:.0f} % lit" if np.isfinite(lit) else "Moon"
    if night.moon_up:
        _words(axes, palette, night.moon_up[0], 1, words, beside=window)
    else:
        _words(axes, palette, window, 1, f"{words}, below the horizon all night")


def _subs(
    axes: Axes, palette: Palette, planned: Sequence[Planned], window: Span
) -> None:
    for one in planned:
        _bar(
            axes,
            2,
            one.span,
            0.5,
            facecolor=palette.second,
            edgecolor=palette.panel,
            linewidth=0.3,
            label="_sub",
        )
    names = list(dict.fromkeys(one.target for one in planned if one.target))
    words = plain(f"{len(planned)} subs: {', '.join(names[:2])}", 34)
    whole = Span(start=planned[0].span.start, end=planned[-1].span.end)
    _words(axes, palette, whole, 2, words, beside=window)


def _bars(axes: Axes, palette: Palette, bars: Sequence[Bar], window: Span) -> None:
    """A thin line while up, a thick bar while visible, words above them."""
    least_s = _LEAST * (window.end - window.start).total_seconds()
    for row, bar in enumerate(bars):
        _bar(axes, row + 0.22, bar.up, 0.1, facecolor=palette.ink, edgecolor="none")
        for span in bar.visible:
            _bar(
                axes,
                row + 0.22,
                span,
                0.36,
                least=least_s,
                facecolor=palette.strong,
                edgecolor=palette.ink,
                linewidth=0.5,
            )
        _row_words(axes, palette, bar, row, window)
    axes.set_yticks([])
    axes.set_ylim(max(len(bars), 1) - 0.4, -0.6)
    if not bars:
        _words(axes, palette, window, 0.2, "no pass worth going outside for")


def _row_words(axes: Axes, palette: Palette, bar: Bar, row: int, window: Span) -> None:
    """What a bar is, above it; at the end of the night drawn up to its end."""
    late = bar.up.start > window.start + 0.45 * (window.end - window.start)
    axes.annotate(
        plain(f"{plain(bar.label, 24)}, {bar.words}", 60),
        xy=(numbers(bar.up.end if late else bar.up.start), row - 0.2),
        ha="right" if late else "left",
        va="center",
        fontsize=SMALL,
        color=palette.ink,
        annotation_clip=False,
        bbox=plate(palette),
    )


def _bar(
    axes: Axes,
    row: float,
    span: Span,
    height: float,
    *,
    least: float = 0.0,
    **look: object,
) -> None:
    width_s = max(span.duration_s, least)
    middle = numbers(span.start + (span.end - span.start) / 2)
    axes.barh(row, width_s / 86400.0, height, left=middle - width_s / 172800.0, **look)  # type: ignore[arg-type]


def _words(
    axes: Axes,
    palette: Palette,
    span: Span,
    row: float,
    words: str,
    *,
    beside: Span | None = None,
) -> None:
    """Words in the middle of a span, or after it where it is short."""
    short = beside is not None and span.duration_s < 0.35 * beside.duration_s
    free_after = (
        beside is not None and beside.end - span.end > span.start - beside.start
    )
    if short:
        x = span.end if free_after else span.start
        align, shift = ("left", 6) if free_after else ("right", -6)
    else:
        x, align, shift = span.start + (span.end - span.start) / 2, "center", 0
    axes.annotate(
        words,
        xy=(numbers(x), row),
        xytext=(shift, 0),
        textcoords="offset points",
        ha=align,
        va="center",
        fontsize=SMALL,
        color=palette.ink,
        bbox={"facecolor": palette.panel, "edgecolor": "none", "pad": 1.5},
    )
