"""A schedule as a page to print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from math import nan
from typing import TYPE_CHECKING, Any

from passes.model import Step
from passes.tables import (
    Column,
    clock,
    listing,
    offset,
    paragraph,
    plain,
    step_s,
    zone_of,
)

if TYPE_CHECKING:
    from datetime import tzinfo

    from passes.contributions import Services
    from passes.model import Schedule
    from passes.tables import Screen

#: What several rigs do within this long is one line.
_AT_ONCE = timedelta(seconds=5)
_CHORES = {"focus": "focus run"}
_COLUMNS = (
    Column("Time"),
    Column("Step"),
    Column("Subject"),
    Column("Rig"),
    Column("How", elastic=True),
)


def page(services: Services, schedule: Schedule, screen: Screen) -> str:
    """Steps in local time, those of a run of subs on one line, then what was told."""
    zone = zone_of(services.site.zone)
    lines = ["Demo: the sites, the objects and the night are invented."] * services.demo
    first = services.window.start.astimezone(zone)
    last = services.window.end.astimezone(zone)
    where = plain(services.site.name, 60) or "the place given"
    lines += [f"Schedule for {where}, {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}"]
    rows = [_row(run, zone) for run in _runs(schedule.steps, zone)]
    if rows:
        lines += ["", *listing(_COLUMNS, rows, screen), ""]
        lines += paragraph(_legend(services, zone), screen)
    else:
        lines += ["", "Nothing to record in this window."]
    for note in schedule.notes:
        lines += paragraph(f"- {plain(note.text, 400)}", screen, indent="  ")
    return screen.finish(lines)


def _legend(services: Services, zone: tzinfo) -> str:
    name = services.site.zone
    shift = offset(services.window.start, zone)
    where = name if name == shift else f"{name} ({shift})"
    return (
        f"Times are {where}; starts and stops are widened by lead, tail and "
        "the 95 % bound. Cover optics while a mount slews by day, and keep clear of it."
    )


def _runs(steps: Sequence[Step], zone: tzinfo) -> Iterator[list[Step]]:
    """Steps of a line: one, the same by several rigs at once, or a run of subs."""
    run: list[Step] = []
    for step in _neighbours(steps, zone):
        if run and not _belongs(step, run, zone):
            yield run
            run = []
        run.append(step)
    if run:
        yield run


def _neighbours(steps: Sequence[Step], zone: tzinfo) -> list[Step]:
    """In order of time, but what rigs do at once, and alike, stands together.

    So do the subs of a rig until it does something else.
    """
    first: dict[tuple[str, str], int] = {}
    alike: dict[tuple[int, str], int] = {}
    runs: dict[str, int] = {}
    keys = []
    for place, step in enumerate(steps):
        if step.id.startswith("sub-") and _goes_with_start(step):
            continue
        near = first.get((step.event, step.subject), place)
        if step.time - steps[near].time > _AT_ONCE or not step.rig:
            near = place
        if _is_sub(step):
            near = runs.setdefault(step.rig, place)
        else:
            runs.pop(step.rig, None)
        first[step.event, step.subject] = near
        same = alike.setdefault((near, _how(step, zone)), place)
        keys.append((near, same, place))
    return [steps[place] for *_, place in sorted(keys)]


def _goes_with_start(step: Step) -> bool:
    """What a line of subs tells already: each stop, and dithers in between."""
    before = (step.advice or {}).get("before")
    return step.event == "stop" or (step.event == "ready" and before == "dither")


def _belongs(step: Step, run: Sequence[Step], zone: tzinfo) -> bool:
    head = run[0]
    if _is_sub(step) or _is_sub(head):
        same = (step.rig, step.subject) == (head.rig, head.subject)
        return _is_sub(step) and _is_sub(head) and same
    same = (step.event, step.subject) == (head.event, head.subject)
    apart = step.rig not in [one.rig for one in run]
    alike = _how(step, zone) == _how(head, zone)
    return same and apart and alike and step.time - head.time <= _AT_ONCE


def _is_sub(step: Step) -> bool:
    return step.id.startswith("sub-") and step.event == "start"


def _row(run: Sequence[Step], zone: tzinfo) -> list[str]:
    step = run[0]
    time = clock(step.time, zone, 1.0)
    subject = plain(step.subject, 24)
    rigs = plain(", ".join(dict.fromkeys(one.rig for one in run if one.rig)), 24)
    if _is_sub(step):
        exposure = (run[-1].advice or {}).get("exposure_s", 0.0)
        until = clock(run[-1].time + timedelta(seconds=exposure), zone, 1.0)
        count = f"{len(run)} sub{'s' * (len(run) > 1)}"
        return [time, "expose", subject, rigs, f"{count} until {until}"]
    told = is_told(step) and step.subject != "set-up"  # there is nothing to do
    return [time, "" if told else step.event, subject, rigs, _how(step, zone)]


def is_told(step: Step) -> bool:
    """Whether a step belongs to no recording: it tells of something, or prepares."""
    return step.event == "ready" and "kind" not in (step.advice or {})


def _how(step: Step, zone: tzinfo) -> str:
    """What a step needs to be told for, in a few words."""
    advice: Any = step.advice or {}
    if "words" in advice:
        return plain(str(advice["words"]), 100).partition(":")[0]
    words = {"ready": _what, "point": _where, "start": _camera, "hold": _hold}
    return words[step.event](advice, zone) if step.event in words else ""


def _what(advice: Any, zone: tzinfo) -> str:
    """What comes, how bright, and when it is best; chores of a session by name."""
    if advice.get("kind") == "sub":
        chores = str(advice.get("before", "")).split()
        done = [_CHORES.get(word, word) for word in chores if word != "flip"]
        return (
            f"{', '.join(done)} first"
            if done
            else f"subs of {advice.get('exposure_s', 0):g} s"
        )
    words = []
    if advice.get("body"):
        words.append(plain(f"{advice.get('kind', '')}, {advice['body']}", 40))
    if isinstance(advice.get("magnitude"), float):
        words.append(f"mag {advice['magnitude']:.1f}")
    if isinstance(advice.get("best"), str):
        best = datetime.fromisoformat(advice["best"])
        sigma_s = advice.get("timing_bound_s", nan) / 2.0
        words.append(f"best {clock(best, zone, step_s(sigma_s))}")
    return ", ".join(words)


def _where(advice: Any, zone: tzinfo) -> str:
    pointing = advice.get("pointing") or {}
    azimuth, altitude = pointing.get("azimuth_deg"), pointing.get("altitude_deg")
    if azimuth is not None and altitude is not None:
        return f"az {azimuth:.1f}° alt {altitude:.1f}°"
    if "ra_deg" not in advice:
        return ""
    flip = "flip: " if "flip" in str(advice.get("before", "")).split() else ""
    return f"{flip}RA {advice['ra_deg']:.3f}° Dec {advice['dec_deg']:.3f}°"


def _hold(advice: Any, zone: tzinfo) -> str:
    return f"for {plain(advice['for'], 40)}" if advice.get("for") else ""


def _camera(advice: Any, zone: tzinfo) -> str:
    words = []
    exposure = advice.get("exposure_s")
    if exposure:
        words.append(
            f"1/{1 / exposure:.0f} s" if exposure < 0.3 else f"{exposure:.3g} s"
        )
    if advice.get("frame_rate_hz"):
        words.append(f"{advice['frame_rate_hz']:.3g}/s")
    if advice.get("gain"):
        words.append(f"gain {plain(str(advice['gain']), 12)}")
    return ", ".join(words)
