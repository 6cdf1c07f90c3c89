"""The chart of a frame: what crosses it, and how much harm that does."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np

from passes.charts.clockface import clock, zone_of
from passes.charts.paper import new_figure, plain, prepared, titled
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.marks import VERDICTS, Mark

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes_plugins.streaks.assessing import Assessment

#: Line style and weight of a verdict: told apart without colour.
_LOOKS: dict[str, tuple[Any, float]] = {
    "spoiled": ("-", 3.6),
    "removable": ("-", 1.6),
    "faint": ("--", 1.4),
    "unknown": ("-.", 1.4),
    "clean": (":", 1.3),
    "unlit": ((0, (1, 4)), 1.3),
}
_MOST_TRAILS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """One crossing as drawn: its mark in the sub that it harms most, and all subs."""

    mark: Mark
    subs: tuple[int, ...]

    @property
    def verdict(self) -> str:
        """The verdict, or that it is not lit."""
        return self.mark.verdict or "unlit"


def trails_in(found: Assessment, frame: Frame) -> list[Trail]:
    """Every crossing of subs with this frame, once, in order of time."""
    subs: dict[int, list[int]] = {}
    worst: dict[int, Mark] = {}
    for one in found.judged:
        if one.frame is None or not one.frame.same_field(frame):
            continue
        for mark in one.marks:
            if not mark.here:
                continue
            key = id(mark.crossing)
            subs.setdefault(key, []).append(one.sub.index)
            known = worst.get(key)
            if known is None or _rank(mark) > _rank(known):
                worst[key] = mark
    trails = [Trail(mark=worst[key], subs=tuple(subs[key])) for key in worst]
    return sorted(trails, key=lambda one: one.mark.crossing.entry.time)


def _rank(mark: Mark) -> int:
    return VERDICTS.index(mark.verdict) if mark.verdict else -1


# --- the frame ---------------------------------------------------------------------


def frame_chart(palette: Palette, found: Assessment, *, demo: bool = False) -> Figure:
    """The sensor with every trail that crosses it, and a list of them."""
    judged = next((one for one in found.judged if one.frame is not None), None)
    zone = zone_of(found.site.zone)
    frame = judged.frame if judged is not None else None
    every = trails_in(found, frame) if frame is not None else []
    trails = _most_harmful(every)
    rows = max(1, len(trails)) + 1
    figure = new_figure(palette, 5.8, 4.9 + 0.19 * rows)
    upper, lower = figure.subplots(2, 1, height_ratios=(4.3, 0.19 * rows + 0.15))
    if judged is None or frame is None:
        upper.text(0.5, 0.5, "no frame is known", ha="center", color=palette.ink)
        lower.set_axis_off()
        return figure
    _sensor(upper, palette, frame)
    for number, one in enumerate(trails, 1):
        _trail(upper, palette, frame, one, number)
    _list(lower, palette, trails, zone, len(every) - len(trails))
    rig = f", rig {judged.sub.rig}" if judged.sub.rig else ""
    title = f"What crosses {judged.sub.target.name}{rig}"
    titled(upper, palette, title, demo=demo)
    return figure


def _most_harmful(trails: list[Trail]) -> list[Trail]:
    """As many as can be told apart, the harmful ones first, in order of time."""
    kept = sorted(trails, key=lambda one: -_rank(one.mark))[:_MOST_TRAILS]
    return sorted(kept, key=lambda one: one.mark.crossing.entry.time)


def _sensor(axes: Axes, palette: Palette, frame: Frame) -> None:
    """The outline, the middle, and where north and east are."""
    from matplotlib.patches import Rectangle

    width, height = frame.size_px
    prepared(axes, palette, grid=False)
    axes.set_facecolor(palette.paper)
    axes.add_patch(
        Rectangle(
            (0.5, 0.5), width, height, facecolor=palette.panel, edgecolor=palette.ink
        )
    )
    axes.set_xlim(-0.03 * width, 1.03 * width)
    axes.set_ylim(-0.03 * height, 1.03 * height)
    axes.set_aspect("equal")
    axes.set_xlabel("pixel across", fontsize=9)
    axes.set_ylabel("pixel up", fontsize=9)
    axes.plot(width / 2, height / 2, marker="+", markersize=14, color=palette.ink)
    _compass(axes, palette, frame)


def _compass(axes: Axes, palette: Palette, frame: Frame) -> None:
    """North and east as arrows, from the frame's own places on the sky."""
    width, height = frame.size_px
    step_deg = 0.02 * min(frame.size_deg)
    east_ra = step_deg / max(np.cos(np.radians(frame.dec_deg)), 1e-6)
    ra = np.array([frame.ra_deg, frame.ra_deg, frame.ra_deg + east_ra])
    dec = np.array([frame.dec_deg, frame.dec_deg + step_deg, frame.dec_deg])
    x, y = frame.pixels(ra, dec)
    foot = np.array([0.88 * width, 0.14 * height])
    length = 0.09 * height
    for word, i in (("N", 1), ("E", 2)):
        along = np.array([x[i] - x[0], y[i] - y[0]])
        along = along / (np.linalg.norm(along) or 1.0)
        tip = foot + length * along
        axes.annotate(
            "",
            xy=tuple(tip),
            xytext=tuple(foot),
            arrowprops={"arrowstyle": "->", "color": palette.ink},
        )
        end = foot + 1.45 * length * along
        x_word, y_word = end.tolist()
        axes.text(
            x_word,
            y_word,
            word,
            ha="center",
            va="center",
            fontsize=10,
            color=palette.ink,
            zorder=6,
            bbox={"fc": palette.panel, "ec": "none", "pad": 1.0},
        )


def _trail(axes: Axes, palette: Palette, frame: Frame, one: Trail, number: int) -> None:
    """From entry to exit, an arrow the way it goes, and its number."""
    crossing = one.mark.crossing
    points = (crossing.entry, crossing.closest, crossing.exit)
    x, y = frame.pixels(
        np.array([p.ra_deg for p in points]), np.array([p.dec_deg for p in points])
    )
    style, width = _LOOKS[one.verdict]
    lit = one.verdict != "unlit"
    colour = palette.strong if lit else palette.ink
    if one.verdict == "spoiled":
        colour = palette.second
    axes.plot(x, y, ls=style, lw=width, color=colour, label=f"_{one.verdict}")
    start, end = np.array([x[0], y[0]]), np.array([x[-1], y[-1]])
    part = 0.2 + 0.6 * ((number * 0.382) % 1.0)
    axes.annotate(
        "",
        xy=tuple(start + (part + 0.09) * (end - start)),
        xytext=tuple(start + (part + 0.05) * (end - start)),
        arrowprops={
            "arrowstyle": "-|>",
            "color": palette.ink,
            "mutation_scale": 14,
            "lw": 0,
        },
    )
    x_mark, y_mark = (start + part * (end - start)).tolist()
    axes.text(
        x_mark,
        y_mark,
        str(number),
        fontsize=8,
        fontweight="bold",
        ha="center",
        va="center",
        color=palette.ink,
        zorder=5,
        bbox={
            "boxstyle": "circle,pad=0.2",
            "fc": palette.paper,
            "ec": palette.ink,
            "lw": 0.8,
        },
    )


def _list(
    axes: Axes, palette: Palette, trails: list[Trail], zone: tzinfo, left_out: int
) -> None:
    """Number, line, time, name, magnitude, verdict and subs of each trail."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(len(trails) + 1.2, -0.6)
    look: dict[str, Any] = {"color": palette.ink, "fontsize": 8, "va": "center"}
    for row, one in enumerate(trails):
        crossing = one.mark.crossing
        style, width = _LOOKS[one.verdict]
        colour = palette.second if one.verdict == "spoiled" else palette.strong
        colour = palette.ink if one.verdict == "unlit" else colour
        axes.text(0.03, row, str(row + 1), ha="right", fontweight="bold", **look)
        axes.plot([0.05, 0.12], [row, row], ls=style, lw=width, color=colour)
        axes.text(0.14, row, clock(crossing.closest.time, zone, seconds=True), **look)
        name = crossing.name or str(crossing.catalog_number)
        axes.text(0.27, row, plain(name, 22), **look)
        known = one.mark.verdict and np.isfinite(crossing.magnitude)
        words = f"{crossing.magnitude:.1f}".replace("-", "−") if known else "–"
        axes.text(0.63, row, words, ha="right", **look)
        axes.text(0.66, row, one.verdict, **look)
        axes.text(0.82, row, _subs(one.subs), **look)
    last = "nothing crosses it" if not trails else ""
    last = f"{left_out} harmless ones are not drawn" if left_out else last
    axes.text(0.0, len(trails) + 0.2, last, **look)


def _subs(subs: tuple[int, ...]) -> str:
    word = "sub" if len(subs) == 1 else "subs"
    ends = f"{subs[0]}" if len(subs) == 1 else f"{min(subs)}–{max(subs)}"
    return f"{word} {ends}"
