"""A schedule as an iCalendar file (RFC 5545): recordings and preparations, with alarms.

UIDs are made of the steps' ids, which fresher elements keep, so that importing a newer
file moves the events instead of doubling them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from passes.model import Step
from passes_plugins.scheduling.page import is_told

if TYPE_CHECKING:
    from passes.contributions import Answer

#: Minutes before a recording starts: time to walk there, and to look up.
_ALARMS_MIN = (10, 1)


def export(answer: Answer) -> str:
    """The steps of an answer as one calendar."""
    from icalendar import Calendar

    from passes import __version__

    calendar = Calendar()
    calendar.add("prodid", f"-//passes//passes schedule {__version__}//EN")
    calendar.add("version", "2.0")
    stamp = _stamp(answer)
    for first, last in _spans(answer.items):
        calendar.add_component(_event(first, last, answer, stamp))
    text: str = calendar.to_ical().decode("utf-8")
    return text


def _stamp(answer: Answer) -> datetime:
    """When the file was made; the demo has no clock but its own."""
    if answer.demo and answer.window is not None:
        return answer.window.start.replace(microsecond=0)
    return datetime.now(UTC).replace(microsecond=0)


def _spans(steps: Sequence[Step]) -> Iterator[tuple[Step, Step]]:
    """Each start with its stop, each hold with its resume, other steps that tell alone.

    Pointing and making ready for a recording stand in its alarms; subs of one field
    that follow each other are one span.
    """
    ends = {_whole(s): s for s in steps if s.event in ("stop", "resume")}
    runs: dict[str, tuple[Step, Step]] = {}
    for step in steps:
        last = ends.get(_whole(step), step)
        if step.event == "start":
            before = runs.get(step.rig)
            if before is not None and _same_field(before[0], step):
                runs[step.rig] = before[0], last
                continue
            if before is not None:
                yield before
            runs[step.rig] = step, last
        elif step.event == "hold":
            yield step, last
        elif is_told(step):
            yield step, step
    yield from runs.values()


def _same_field(one: Step, other: Step) -> bool:
    """Whether both are subs of one field."""
    subs = all((s.advice or {}).get("kind") == "sub" for s in (one, other))
    return subs and one.subject == other.subject


def _whole(step: Step) -> str:
    """The id without the step's own word."""
    return step.id.rpartition("/")[0] or step.id


def _event(first: Step, last: Step, answer: Answer, stamp: datetime) -> Any:
    from icalendar import Event

    from passes.tables import plain

    summary = _summary(first)
    event = Event()
    event.add("uid", f"{_whole(first)}-{_place(answer)}@schedule.passes.invalid")
    event.add("dtstamp", stamp)
    event.add("dtstart", first.time.replace(microsecond=0))
    event.add("dtend", _up(last.time))
    event.add("summary", summary)
    event.add("description", "\n".join(_lines(first, last)))
    if answer.site is not None and answer.site.name:
        event.add("location", plain(answer.site.name, 80))
    event.add("transp", "TRANSPARENT")
    for minutes in _alarms_min(first):
        event.add_component(_alarm(minutes, summary))
    return event


def _alarms_min(first: Step) -> tuple[int, ...]:
    """When to ring: holds are the computer's own business."""
    if first.event == "hold":
        return ()
    return (0,) if is_told(first) else _ALARMS_MIN


def _place(answer: Answer) -> str:
    site = answer.site
    return "" if site is None else f"{site.latitude_deg:.2f}{site.longitude_deg:+.2f}"


def _up(time: datetime) -> datetime:
    """To the next whole second: nothing of a recording is cut off."""
    whole = time.replace(microsecond=0)
    return whole if whole == time else whole + timedelta(seconds=1)


def _alarm(minutes: int, summary: str) -> Any:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", summary)
    alarm.add("trigger", timedelta(minutes=-minutes))
    return alarm


def _summary(step: Step) -> str:
    from passes.tables import plain

    words = (step.advice or {}).get("words")
    if words:
        return plain(str(words), 80)
    advice = step.advice or {}
    start = "expose" if advice.get("kind") == "sub" else "record"
    what = {"start": start}.get(step.event, step.event)
    rig = f"{step.rig}: " if step.rig else ""
    reason = f" for {advice['for']}" if advice.get("for") else ""
    return plain(f"{rig}{what} {step.subject}{reason}", 80)


def _lines(first: Step, last: Step) -> Iterator[str]:
    """The description, one thing a line; times are UTC."""
    if first.demo:
        yield "Demo: invented objects, sites and night."
    if not is_told(first):
        yield f"{first.event} {first.time:%H:%M:%S} UTC"
        if last is not first:
            yield f"{last.event} {last.time:%H:%M:%S} UTC"
    for name, value in (first.advice or {}).items():
        if isinstance(value, str | int | float) and name != "words":
            yield f"{name.replace('_', ' ')}: {value}"
    yield f"step {first.id}"
