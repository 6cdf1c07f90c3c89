"""The chart of ``passes advise``: a pass and what the rig makes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from passes.charts.clockface import clock, zone_of
from passes.charts.passline import Course, Limit, Shooting, pass_chart
from passes.model import Passage, Picture, Span

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from passes.charts.theme import Palette
    from passes.contributions import Briefing, Services
    from passes.model import Advice

_LIMITS = {
    "exposure_fixed_s": "standing still",
    "exposure_stars_s": "with the stars",
    "exposure_follow_s": "following",
}


def advice_chart(
    palette: Palette, services: Services, passage: Passage, advice: Advice | None
) -> Figure:
    """The pass, with the first rig's shutter, stretch and places to wait at."""
    course = Course(
        site=services.site,
        track=services.track(passage, 2.0),
        zone=zone_of(services.site.zone),
        visible=passage.visible,
        shooting=shooting_of(advice) if advice is not None else Shooting(),
        demo=services.demo,
    )
    return pass_chart(palette, course)


def pictured(advice: Advice, briefing: Briefing) -> Advice:
    """The advice with the picture of its pass, drawn when asked for."""
    subject = briefing.subject
    if not isinstance(subject, Passage):
        return advice
    course = Course(
        site=briefing.site,
        track=briefing.track,
        zone=zone_of(briefing.site.zone),
        visible=subject.visible,
        shooting=shooting_of(advice),
        demo=briefing.demo,
    )
    picture = Picture(
        name="pass",
        described=_words(course),
        draw=partial(pass_chart, course=course),
    )
    return replace(advice, pictures=(picture,))


def _words(course: Course) -> str:
    """What the picture shows, for those who do not see it."""
    track, shooting = course.track, course.shooting
    name = track.name or str(track.catalog_number)
    words = f"{name} with rig {shooting.rig} against time: altitude up to "
    words += f"{np.nanmax(track.altitude_deg):.0f}°"
    fastest = float(np.max(np.nan_to_num(track.angular_rate_deg_s)))
    words += f", speed up to {fastest:.2f}°/s, magnitude, longest shutter."
    for told, span in (
        ("The mount can follow", shooting.follow),
        ("Record", shooting.record),
    ):
        if span is not None:
            ends = (clock(t, course.zone, seconds=True) for t in (span.start, span.end))
            words += f" {told} from {' to '.join(ends)}."
    if shooting.waits:
        places = [clock(when, course.zone, seconds=True) for when in shooting.waits]
        words += f" Places to wait at: {', '.join(places)}."
    return words


def shooting_of(advice: Advice) -> Shooting:
    """What of an advice is drawn."""
    settings = advice.settings
    following = settings.get("following") or {}
    waiting = settings.get("waiting") or ()
    record = None
    if advice.start is not None and advice.stop is not None:
        record = Span(start=advice.start, end=max(advice.start, advice.stop))
    return Shooting(
        rig=advice.rig,
        limits=_limits(advice.table),
        follow=_stretch(following),
        record=record,
        waits=tuple(_moment(one["time"]) for one in waiting),
    )


def _limits(table: Sequence[Mapping[str, Any]]) -> tuple[Limit, ...]:
    """The longest shutter for each way of mounting that the table has."""
    times = [_moment(str(row["time"])) for row in table]
    found = []
    for key, words in _LIMITS.items():
        values = np.array([row.get(key) or np.nan for row in table], dtype=float)
        if np.isfinite(values).any():
            found.append(Limit(label=words, times=times, exposure_s=values))
    return tuple(found)


def _stretch(following: Mapping[str, Any]) -> Span | None:
    start, end = following.get("from"), following.get("to")
    if start is None or end is None:
        return None
    return Span(start=_moment(start), end=_moment(end))


def _moment(value: Any) -> datetime:
    return value if isinstance(value, datetime) else datetime.fromisoformat(value)
