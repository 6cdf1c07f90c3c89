"""A night from left to right: twilight, the Moon, passes, what is planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING

import numpy as np

from passes.charts.clockface import clock, numbers, time_axis
from passes.charts.paper import new_figure, plain, prepared, titled
from passes.charts.theme import Palette
from passes.model import Night, Span

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: The least width of a bar, as a part of the axis: a pass is short, a night long.
_LEAST = 0.004
_PASS_ROW = 0.26
_KEY = (
    "sky: / Sun below −6°, //// below −12°, filled below −18° (dark)\n"
    "passes: thin line up, thick bar visible to the naked eye"
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
    title: str = "",
    demo: bool = False,
) -> Figure:
    """The night's darkness and Moon above a row for every pass."""
    rows = max(len(bars), 1)
    height = 2.6 + _PASS_ROW * rows + (0.3 if planned else 0.0)
    figure = new_figure(palette, 6.4, height)
    head_rows = 2 + bool(planned)
    upper, lower = figure.subplots(
        2, 1, sharex=True, height_ratios=(head_rows * 0.36, _PASS_ROW * rows + 0.2)
    )
    for axes in (upper, lower):
        prepared(axes, palette)
        axes.tick_params(length=0)
    _dark_bands(upper, palette, night, window, zone)
    _moon(upper, palette, night, window)
    labels = ["sky", "Moon"]
    if planned:
        _subs(upper, palette, planned)
        labels.append("subs")
    upper.set_yticks(range(len(labels)), labels)
    upper.set_ylim(len(labels) - 0.5, -0.5)
    upper.grid(visible=False, axis="y")
    _bars(lower, palette, bars, window)
    time_axis(lower, palette, window, zone)
    lower.set_xlabel(f"{lower.get_xlabel()}\n{_KEY}", fontsize=8)
    upper.tick_params(labelbottom=False)
    if title:
        titled(upper, palette, title, demo=demo)
    return figure


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
        words = plain(night.note, 70) or "never fully dark"
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
            hatch="oo",
            linewidth=0.8,
        )
    lit = night.moon_illuminated
    words = f"Moon {100 * lit:.0f} % lit" if np.isfinite(lit) else "Moon"
    if night.moon_up:
        _words(axes, palette, night.moon_up[0], 1, words, beside=window)
    else:
        _words(axes, palette, window, 1, f"{words}, below the horizon all night")


def _subs(axes: Axes, palette: Palette, planned: Sequence[Planned]) -> None:
    for one in planned:
        _bar(
            axes,
            2,
            one.span,
            0.5,
            facecolor=palette.second,
            edgecolor=palette.panel,
            linewidth=0.3,
            alpha=0.8,
        )
    names = list(dict.fromkeys(one.target for one in planned if one.target))
    whole = Span(start=planned[0].span.start, end=planned[-1].span.end)
    words = f"{len(planned)} subs: {', '.join(names[:3])}" if names else ""
    _words(axes, palette, whole, 2, words)


def _bars(axes: Axes, palette: Palette, bars: Sequence[Bar], window: Span) -> None:
    """A thin line while up, a thick bar while visible, words beside it."""
    late = window.start + 0.62 * (window.end - window.start)
    for row, bar in enumerate(bars):
        _bar(axes, row, bar.up, 0.12, facecolor=palette.quiet, edgecolor="none")
        for span in bar.visible:
            _bar(
                axes,
                row,
                span,
                0.62,
                least=_LEAST * (window.end - window.start).total_seconds(),
                facecolor=palette.strong,
                edgecolor=palette.ink,
                linewidth=0.5,
            )
        left = bar.up.start > late
        axes.annotate(
            plain(bar.words, 60),
            xy=(numbers(bar.up.start if left else bar.up.end), row),
            xytext=(-5 if left else 5, 0),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center",
            fontsize=7.5,
            color=palette.ink,
        )
    axes.set_yticks(range(len(bars)), [plain(bar.label, 22) for bar in bars])
    axes.set_ylim(max(len(bars), 1) - 0.4, -0.6)
    if not bars:
        axes.set_yticks([])
        _words(axes, palette, window, 0.2, "no pass worth going outside for")


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
        fontsize=8,
        color=palette.ink,
        bbox={"facecolor": palette.panel, "edgecolor": "none", "pad": 1.5},
    )
