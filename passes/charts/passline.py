"""One pass against time: height, speed, light, and what a rig makes of it."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from passes.charts.clockface import time_axis
from passes.charts.course import Course, Limit, Shooting
from passes.charts.paper import SMALL, headed, listed, new_figure, prepared
from passes.charts.passpanels import (
    altitude_panel,
    magnitude_panel,
    rate_panel,
    shutter_panel,
    stretches,
)
from passes.charts.theme import Palette
from passes.model import Span

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Course", "Limit", "Shooting", "pass_chart"]

_PANEL_IN, _TALLEST, _LINE_IN = 1.02, 1.6, 0.14


def pass_chart(palette: Palette, course: Course) -> Figure:
    """Panels under each other, over one axis of local time."""
    shooting, key = course.shooting, _key(course)
    heights = [_TALLEST, 1.0, 1.0] + ([1.15] if shooting.limits else [])
    words_in = _LINE_IN * (key.count("\n") + 1)
    figure = new_figure(palette, 0.75 + words_in + _PANEL_IN * sum(heights))
    grid = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights)
    for axes in grid:
        prepared(axes, palette)
        stretches(axes, palette, shooting)
    altitude_panel(grid[0], palette, course)
    rate_panel(grid[1], palette, course.track)
    magnitude_panel(grid[2], palette, course.track)
    if shooting.limits:
        shutter_panel(grid[3], palette, shooting.limits)
    track = course.track
    end = track.start + timedelta(seconds=float(track.time_s[-1]))
    time_axis(grid[-1], palette, Span(start=track.start, end=end), course.zone)
    grid[-1].set_xlabel(f"{grid[-1].get_xlabel()}\n{key}", fontsize=SMALL)
    figure.align_ylabels(grid)
    headed(figure, palette, _title(course), demo=course.demo)
    return figure


def _title(course: Course) -> str:
    track, rig = course.track, course.shooting.rig
    local = track.start.astimezone(course.zone)
    name = track.name or str(track.catalog_number)
    words = f"{name}, {local:%d %B %Y}".replace(" 0", " ")
    return f"{words}, rig {rig}" if rig else words


def _key(course: Course) -> str:
    """What the marks mean, of those that are there."""
    shooting = course.shooting
    known = (
        (True, "solid: in sunlight; dotted: in shadow"),
        (bool(course.visible), "bar below: visible to the eye"),
        (bool(course.site.horizon), "hatched area: behind the site's horizon"),
        (shooting.follow is not None, "shaded: the mount can follow"),
        (shooting.record is not None, "dashed lines: record from, to"),
        (bool(shooting.waits), "squares: places to wait at"),
    )
    return listed(text for there, text in known if there)
