"""Passes as an iCalendar file (RFC 5545), with alarms before each of them.

An event's UID is made of the pass's id and the place, both of which fresher elements
keep, so that importing a newer file moves the events instead of doubling them.

Setting: ``alarm_minutes``, a list of minutes before the start (default 15 and 2).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from passes.contributions import Exporter
from passes.errors import InputError
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    from datetime import datetime

    from passes.contributions import Answer
    from passes.model import Passage, Site, Span

#: Minutes before the start: time to walk to the camera, and to look up.
ALARM_MINUTES = (15, 2)
_MOST_MINUTES = 7 * 24 * 60


def export(answer: Answer) -> str:
    """The passes of an answer as one calendar."""
    from icalendar import Calendar

    from passes import __version__

    minutes = _alarms(answer.settings.get("alarm_minutes", ALARM_MINUTES))
    calendar = Calendar()
    calendar.add("prodid", f"-//passes//passes {__version__}//EN")
    calendar.add("version", "2.0")
    stamp = _stamp(answer)
    for passage in answer.items:
        calendar.add_component(_event(passage, answer, stamp, minutes))
    text: str = calendar.to_ical().decode("utf-8")
    return text


def _alarms(value: Any) -> tuple[float, ...]:
    """The minutes of the setting; InputError where they are no such list."""
    good = isinstance(value, list | tuple) and all(
        isinstance(one, int | float)
        and not isinstance(one, bool)
        and 0 <= one <= _MOST_MINUTES
        for one in value
    )
    if not good:
        raise InputError(
            "[plugins.calendar-file] alarm_minutes: want a list of minutes, "
            f"such as [15, 2], not {str(value)[:40]}"
        )
    return tuple(value)


def _stamp(answer: Answer) -> datetime:
    """When the file was made; the demo has no clock but its own."""
    from datetime import UTC, datetime

    if answer.demo and answer.window is not None:
        return answer.window.start.replace(microsecond=0)
    return datetime.now(UTC).replace(microsecond=0)


def _event(
    passage: Passage, answer: Answer, stamp: datetime, minutes: tuple[float, ...]
) -> Any:
    from icalendar import Event

    from passes.tables import plain

    span = _span(passage)
    event = Event()
    event.add("uid", _uid(passage, answer.site))
    event.add("dtstamp", stamp)
    event.add("dtstart", span.start.replace(microsecond=0))
    event.add("dtend", span.end.replace(microsecond=0))
    event.add("summary", _summary(passage))
    event.add("description", "\n".join(_lines(passage, answer.demo)))
    if answer.site is not None:
        if answer.site.name:
            event.add("location", plain(answer.site.name, 80))
        east = round((answer.site.longitude_deg + 180.0) % 360.0 - 180.0, 6)
        event.add("geo", (round(answer.site.latitude_deg, 6), east))
    event.add("transp", "TRANSPARENT")
    for before in minutes:
        event.add_component(_alarm(before, _summary(passage)))
    return event


def _alarm(minutes: float, summary: str) -> Any:
    from datetime import timedelta

    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", summary)
    alarm.add("trigger", timedelta(seconds=-round(minutes * 60)))
    return alarm


def _span(passage: Passage) -> Span:
    """What the event lasts: from first to last visible, else the whole pass."""
    from passes.model import Span

    if not passage.visible:
        return Span(start=passage.start, end=passage.end)
    return Span(start=passage.visible[0].start, end=passage.visible[-1].end)


def _uid(passage: Passage, site: Site | None) -> str:
    """Kept by fresher elements and by a site that is renamed."""
    where = "" if site is None else f"{site.latitude_deg:.2f}{site.longitude_deg:+.2f}"
    return f"{passage.id}{'-' if where else ''}{where}@passes.invalid"


def _summary(passage: Passage) -> str:
    from passes.tables import plain

    name = plain(passage.name, 60) or str(passage.catalog_number)
    bright = passage.brightest
    if bright is None:
        return f"{name}, unlit"
    return f"{name}, magnitude {bright.magnitude:.1f}"


def _lines(passage: Passage, demo: bool) -> Iterator[str]:
    """The description, one thing a line; times are UTC."""
    from passes.tables import compass, seconds

    if demo:
        yield "Demo: invented objects, sites and night."
    for word, moment in (
        ("rises", passage.rise),
        ("highest", passage.culmination),
        ("brightest", passage.brightest),
        ("sets", passage.set),
    ):
        if moment is not None:
            yield (
                f"{word} {moment.time:%H:%M:%S} UTC, {moment.altitude_deg:.0f}° "
                f"{compass(moment.azimuth_deg)}"
            )
    if passage.brightest is not None:
        bright = passage.brightest
        yield f"magnitude {bright.magnitude:.1f} ± {bright.magnitude_sigma:.1f}"
    yield (
        f"times {seconds(passage.timing_sigma_s) or 'of unknown error'}, elements "
        f"{passage.element_age_days:.1f} days old"
    )
    yield f"pass {passage.id}"


@hookimpl
def passes_exporters() -> Iterable[Exporter]:
    """Offer the format."""
    yield Exporter(
        name="icalendar",
        summary="A calendar of passes with alarms (RFC 5545).",
        export=export,
        accepts=("passes",),
        suffixes=(".ics",),
    )
