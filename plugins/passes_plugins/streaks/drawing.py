"""The pictures that go with a judged session, and what they are in words."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from passes.charts.clockface import clock, zone_of
from passes.model import Picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes_plugins.streaks.assessing import Assessment
    from passes_plugins.streaks.summing import Summary

#: A report has pictures of no more targets than this, the first ones.
_MOST_TARGETS = 4


def pictures_of(
    found: Assessment, summary: Summary, *, demo: bool
) -> tuple[Picture, ...]:
    """The session, and the frame of each target; drawn when asked for."""
    return (
        Picture(
            name="session",
            described=_session_words(found, summary),
            draw=partial(_draw_session, found=found, summary=summary, demo=demo),
        ),
        *_frames(found, demo),
    )


def _frames(found: Assessment, demo: bool) -> Iterator[Picture]:
    known = [one.sub.target.name for one in found.judged if one.frame is not None]
    for target in list(dict.fromkeys(known))[:_MOST_TARGETS]:
        yield Picture(
            name="frame",
            described=_frame_words(found, target),
            draw=partial(_draw_frame, found=found, target=target, demo=demo),
        )


def _draw_session(
    palette: Palette, *, found: Assessment, summary: Summary, demo: bool
) -> Figure:
    from passes_plugins.streaks.chart_of_session import session_chart

    return session_chart(palette, found, summary, demo=demo)


def _draw_frame(
    palette: Palette, *, found: Assessment, target: str, demo: bool
) -> Figure:
    from passes_plugins.streaks.chart import frame_chart

    return frame_chart(palette, found, target=target, demo=demo)


def _session_words(found: Assessment, summary: Summary) -> str:
    """What the session's picture shows, for those who do not see it."""
    counts = [f"{n} {word}" for word, n in summary.verdicts.items() if n]
    words = f"{len(found.judged)} subs by verdict: {', '.join(counts)}. "
    words += f"{summary.crossings} crossings of the field, {summary.lit} of them lit."
    zone = zone_of(found.site.zone)
    for one in summary.shadows:
        spans = ", ".join(
            f"{clock(s.start, zone)} to {clock(s.end, zone)}" for s in one.spans
        )
        if spans:
            words += f" At {one.height_km:,.0f} km, in the Earth's shadow {spans}."
    return words


def _frame_words(found: Assessment, target: str) -> str:
    """What crosses a target's frame, for those who do not see it."""
    from passes_plugins.streaks.trails import frame_of_target, trails_in

    judged = frame_of_target(found, target)
    trails = trails_in(found, judged.frame) if judged and judged.frame else []
    zone = zone_of(found.site.zone)
    told = [
        f"{clock(t.mark.crossing.closest.time, zone, seconds=True)} {t.name}, {t.said}"
        for t in trails
        if t.verdict != "unlit"
    ]
    words = f"The frame of {target} with {len(trails)} trails, {len(told)} of them lit"
    return f"{words}: {'; '.join(told)}." if told else f"{words}."
