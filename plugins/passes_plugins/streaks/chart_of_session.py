"""The chart of a session: its subs by verdict, what crosses, and the shadow."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from passes.charts.clockface import numbers, time_axis, zone_of
from passes.charts.paper import SMALL, headed, listed, new_figure, plain, prepared
from passes.model import Span
from passes_plugins.streaks.marks import VERDICTS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes_plugins.streaks.assessing import Assessment
    from passes_plugins.streaks.summing import Summary

#: Heights, inches: a row of subs, the crossings, a row of shadow, all around them.
_ROW_IN, _HOURS_IN, _SHADOW_IN, _AROUND_IN = 0.25, 1.05, 0.26, 1.35
_KEY = (
    "each bar above is a sub, in the row of its verdict",
    "crossings: filled in sunlight, hatched in shadow",
    "below: when what flies at that height is in shadow",
)


def session_chart(
    palette: Palette, found: Assessment, summary: Summary, *, demo: bool = False
) -> Figure:
    """Subs by verdict, crossings an hour, and when the Earth's shadow covers."""
    heights = (
        _ROW_IN * len(VERDICTS),
        _HOURS_IN,
        _SHADOW_IN * max(len(summary.shadows), 1) + 0.1,
    )
    key = listed(_KEY)
    figure = new_figure(
        palette, sum(heights) + _AROUND_IN + 0.14 * (key.count("\n") + 1)
    )
    upper, middle, lower = figure.subplots(3, 1, sharex=True, height_ratios=heights)
    for axes in (upper, middle, lower):
        prepared(axes, palette)
    _verdicts(upper, palette, found)
    _hours(middle, palette, summary)
    _shadow(lower, palette, summary)
    if found.window is not None:
        time_axis(lower, palette, found.window, zone_of(found.site.zone))
    lower.set_xlabel(f"{lower.get_xlabel()}\n{key}", fontsize=SMALL)
    headed(figure, palette, "The session's subs, and what crosses the field", demo=demo)
    return figure


def _verdicts(axes: Axes, palette: Palette, found: Assessment) -> None:
    """A row for each verdict, a bar for each sub."""
    rows = list(reversed(VERDICTS))
    colours = {"spoiled": palette.second, "clean": palette.quiet}
    counts = dict.fromkeys(rows, 0)
    for one in found.judged:
        counts[one.verdict] += 1
        start = numbers(one.sub.start)
        axes.barh(
            rows.index(one.verdict),
            numbers(one.sub.end) - start,
            0.6,
            left=start,
            color=colours.get(one.verdict, palette.strong),
            edgecolor=palette.panel,
            linewidth=0.2,
        )
    axes.set_yticks(range(len(rows)), [f"{word} ({counts[word]})" for word in rows])
    axes.set_ylim(len(rows) - 0.5, -0.5)


def _hours(axes: Axes, palette: Palette, summary: Summary) -> None:
    """Crossings of each hour, per hour searched: lit filled, unlit open above."""
    most = 1.0
    for hour in summary.hours:
        start = numbers(hour.start)
        lit = hour.lit_per_hour
        every = hour.crossings / hour.hours if hour.hours > 0.0 else 0.0
        most = max(most, every)
        look: Any = {"width": 0.9 / 24.0, "align": "edge", "edgecolor": palette.ink}
        axes.bar(start, lit, color=palette.strong, **look)
        axes.bar(
            start, every - lit, bottom=lit, color="none", hatch="////", lw=0.6, **look
        )
    axes.set_ylabel("crossings\nan hour", fontsize=SMALL)
    axes.set_ylim(0.0, 1.1 * most)
    axes.locator_params(axis="y", integer=True, nbins=5)


def _shadow(axes: Axes, palette: Palette, summary: Summary) -> None:
    """When what flies at a height towards the target is in the Earth's shadow."""
    several = len({one.target for one in summary.shadows}) > 1
    words = []
    for row, one in enumerate(summary.shadows):
        height = f"{one.height_km:,.0f} km"
        words.append(f"{plain(one.target, 12)} {height}" if several else height)
        for span in one.spans:
            _stretch(axes, palette, row, span)
    axes.set_yticks(range(len(words)), words)
    axes.set_ylim(max(len(words), 1) - 0.5, -0.5)
    axes.set_ylabel("in shadow", fontsize=SMALL)


def _stretch(axes: Axes, palette: Palette, row: int, span: Span) -> None:
    start = numbers(span.start)
    axes.barh(
        row,
        numbers(span.end) - start,
        0.5,
        left=start,
        facecolor=palette.night,
        edgecolor=palette.ink,
        linewidth=0.6,
    )
