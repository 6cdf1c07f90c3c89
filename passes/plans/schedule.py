"""Schedules as JSON Lines: written, and read back even where a file is damaged.

One step a line, no header; keys in the order of :data:`FIELDS`.  Reading keeps every
step that can be kept, and tells in one line each what could not.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, get_args

from passes.errors import InputError
from passes.model import Schedule, Step
from passes.model.answers import StepEvent
from passes.model.text import json_safe
from passes.plans.damage import Damage

#: The keys of a line.
FIELDS = ("id", "event", "time", "subject", "catalog_number", "rig", "advice", "demo")
#: No schedule is longer, bytes.
MOST_BYTES = 16_000_000
_EVENTS: tuple[str, ...] = get_args(StepEvent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A step, and the line as it stood: ``document`` keeps fields nobody knows."""

    step: Step
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleReading:
    """What a file holds, in order of time, and one line for each thing amiss."""

    entries: tuple[Entry, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def schedule(self) -> Schedule:
        """The steps as a schedule."""
        steps = tuple(entry.step for entry in self.entries)
        return Schedule(steps=steps, demo=any(step.demo for step in steps))


# --- writing -------------------------------------------------------------------


def step_document(step: Step) -> dict[str, Any]:
    """One step as the keys of a line."""
    document = {name: getattr(step, name) for name in FIELDS}
    document["time"] = iso(step.time)
    document["advice"] = None if step.advice is None else dict(step.advice)
    return document


def schedule_text(steps: Iterable[Step]) -> str:
    """Steps as JSON Lines; nan becomes null.

    Where advice holds nothing but JSON's own values, :func:`read_schedule_text` gives
    the same steps back.
    """
    return b"".join(json_line(step_document(step)) for step in steps).decode()


def json_line(document: Mapping[str, Any]) -> bytes:
    """A document as one line of JSON, UTF-8, with its newline."""
    import orjson

    content = orjson.dumps(document, default=_plainer, option=orjson.OPT_APPEND_NEWLINE)
    return json_safe(content.decode()).encode()


def _plainer(value: Any) -> Any:
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, tuple):
        return list(value)
    raise TypeError(f"no JSON shape for {type(value).__name__}")


def iso(time: datetime) -> str:
    """UTC, ISO 8601 with ``Z``, milliseconds; microseconds where there are any."""
    fine = "microseconds" if time.microsecond % 1000 else "milliseconds"
    return time.astimezone(UTC).isoformat(timespec=fine).replace("+00:00", "Z")


# --- reading -------------------------------------------------------------------


def read_schedule(path: str | Path) -> ScheduleReading:
    """Read a file of steps; InputError where it cannot be read at all."""
    try:
        with Path(path).open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error
    return read_schedule_text(content, str(path))


def read_schedule_text(
    content: bytes | str, where: str = "schedule"
) -> ScheduleReading:
    """Read steps; ``where`` names the file in messages.

    Raises InputError where there is too much, or text but not one step in it.
    """
    if isinstance(content, str):
        content = content.encode("utf-8", "surrogatepass")
    if len(content) > MOST_BYTES:
        raise InputError(f"{where}: too long for a schedule (over 16 MB)")
    damage = Damage(where)
    entries: list[Entry] = []
    for number, line in _lines(content.removeprefix(b"\xef\xbb\xbf"), damage):
        entry = _entry(line, number, damage)
        if entry is not None:
            entries.append(entry)
    if not entries and content.strip():
        raise InputError(
            f"{where}: not one step in it{damage.first()}; want JSON Lines, as passes "
            "schedule --output night.jsonl makes them"
        )
    kept = damage.unique(entries, _renamed)
    return ScheduleReading(entries=damage.ordered(kept), problems=damage.problems())


def _lines(content: bytes, damage: Damage) -> Iterable[tuple[int, dict[str, Any]]]:
    import orjson

    rows = content.split(b"\n")
    for number, row in enumerate(rows, 1):
        if not row.strip():
            continue
        try:
            line = orjson.loads(row)
        except orjson.JSONDecodeError:
            half = number == len(rows) and row.lstrip().startswith(b"{")
            damage.lost(number, "cut off in the middle" if half else "not JSON")
            continue
        for one in _steps(line):
            if isinstance(one, dict):
                yield number, one
            else:
                damage.lost(number, "not an object in braces")


def _steps(line: Any) -> list[Any]:
    """The step of a line, or all of them where it is a schedule as one document."""
    whole = isinstance(line, dict) and "event" not in line and line.get("steps")
    return whole if isinstance(whole, list) else [line]


def _entry(line: dict[str, Any], number: int, damage: Damage) -> Entry | None:
    """The step of one line; what is wrong with it is noted."""
    time = _time(line.get("time"))
    event = line.get("event")
    if isinstance(time, str):
        damage.lost(number, time)
        return None
    if not isinstance(event, str) or not event:
        damage.lost(number, "no event such as start or stop")
        return None
    if event not in _EVENTS:
        damage.kept(number, f"event {event[:30]!r} is unknown; passed on as it stands")
    damage.fields(number, [name for name in line if name not in FIELDS])
    known = _known(line, number, damage)
    step = Step(event=event, time=time, **known)  # type: ignore[arg-type]
    named = {"id": step.id} if step.id != line.get("id") else {}
    return Entry(step=step, document={**line, **named})


def _known(line: dict[str, Any], number: int, damage: Damage) -> dict[str, Any]:
    """The other fields; one of the wrong kind counts as not given."""
    found: dict[str, Any] = {"id": f"line-{number}", "subject": ""}
    for name, kind, words in (
        ("id", str, "text"),
        ("subject", str, "text"),
        ("catalog_number", int, "a whole number"),
        ("rig", str, "text"),
        ("advice", dict, "an object"),
        ("demo", bool, "true or false"),
    ):
        value = line.get(name)
        right = isinstance(value, kind) and (kind is not int or value is not True)
        if right and (value != "" or name != "id") and not _boolean(value, kind):
            found[name] = value
        elif value is not None or name == "id":
            instead = f"; called {found['id']}" if name == "id" else "; left out"
            damage.kept(number, f"{name} is not {words}{instead}")
    return found


def _boolean(value: Any, kind: type) -> bool:
    """A truth value where a whole number belongs."""
    return kind is int and isinstance(value, bool)


def _time(value: Any) -> datetime | str:
    """A time, or why it is none."""
    if not isinstance(value, str):
        return "no time"
    try:
        time = datetime.fromisoformat(value)
        if time.tzinfo is None:
            return f"time {value[:40]!r} has no zone; add Z"
        return time.astimezone(UTC)
    except (ValueError, OverflowError):
        return f"cannot read {value[:40]!r} as a time"


def _renamed(entry: Entry, name: str) -> Entry:
    from dataclasses import replace

    step = replace(entry.step, id=name)
    return Entry(step=step, document={**entry.document, "id": name})
