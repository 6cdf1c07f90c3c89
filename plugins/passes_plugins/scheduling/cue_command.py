"""``passes cue``: the steps of a schedule, each at its time."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError
from passes.options import Finite, Program, program

if TYPE_CHECKING:
    from passes.plans.schedule import ScheduleReading
    from passes_plugins.scheduling.cueing.agenda import Agenda
    from passes_plugins.scheduling.cueing.clocks import Clock
    from passes_plugins.scheduling.cueing.conductor import Conductor
    from passes_plugins.scheduling.cueing.memory import Memory
    from passes_plugins.scheduling.cueing.talking import Log

_LATE = re.compile(r"(?:(.*)=)?\s*([+\-−]?\d+(?:\.\d+)?)\s*s?\Z")

if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType


class Lateness(ParamType):
    """``SECONDS`` or ``SUBJECT=SECONDS``."""

    name = "lateness"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, float]:
        if isinstance(value, tuple):
            return value
        match = _LATE.match(value)
        seconds = float(match[2].replace("−", "-")) if match else float("nan")
        if not abs(seconds) <= 3600.0:
            self.fail(
                f"{value!r}: want seconds, or SUBJECT=SECONDS, up to an hour",
                param,
                ctx,
            )
        return (match[1] or "" if match else ""), seconds


@click.command("cue")
@click.argument(
    "schedule", type=click.Path(path_type=Path, allow_dash=True, dir_okay=False)
)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED, metavar="[-- ARG…]")
@click.option(
    "--run",
    "run_program",
    metavar="PROGRAM",
    help="Start this for each step, with the ARGs; {event} and so on are filled in.",
)
@click.option(
    "--lead",
    "lead_s",
    type=Finite(-3600.0, 3600.0, " s"),
    default=0.0,
    metavar="SECONDS",
    help="Give each step out so early.",
)
@click.option(
    "--late-by",
    type=Lateness(),
    multiple=True,
    metavar="[SUBJECT=]SECONDS",
    help="Take a subject, or every one, to be so late. Keys + and - while it runs.",
)
@click.option(
    "--late",
    type=click.Choice(["join", "skip", "fire"]),
    default="join",
    show_default=True,
    help="Steps over 5 s late: done where their recording still goes on (join), left "
    "out (skip), or all done at once (fire).",
)
@click.option("--rehearse", is_flag=True, help="Now, on a simulated clock.")
@click.option(
    "--speed",
    type=Finite(0.1, 100_000.0),
    default=60.0,
    show_default=True,
    metavar="TIMES",
    help="How many times as fast to rehearse.",
)
@click.option(
    "--state",
    "state_path",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Keep what has been done there, so that a restart goes on from it.",
)
@click.option(
    "--unsure",
    type=click.Choice(["skip", "repeat"]),
    default="skip",
    show_default=True,
    help="What becomes of a step that a crash interrupted.",
)
@click.option(
    "--time-out",
    "time_out_s",
    type=Finite(0.05, 86_400.0, " s"),
    default=900.0,
    show_default=True,
    metavar="SECONDS",
    help="Stop a program that takes longer.",
)
@click.option("--stop-on-failure", is_flag=True, help="End when a program fails.")
@click.option(
    "--log",
    "log_path",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Add what happens to this file, one JSON object a line.",
)
@click.option("--quiet", is_flag=True, help="No countdown and no bells.")
def command(schedule: Path, arguments: tuple[str, ...], **given: Any) -> None:
    """Give out the steps of a schedule (a file of passes schedule, or -), each at its
    time.

    Each step is a line of JSON on stdout, and a run of the --run program: the step is
    in its arguments ({event}, {subject}, {rig}, {advice.exposure_s} …), in variables
    PASSES_STEP_EVENT and so on, and on its stdin. No shell is involved.

    A program may move a mount while nobody watches: keep people and cables clear
    of it, and optics away from the Sun.  Local rules and licensed practice come
    first.

    \b
    Examples:
      passes cue night.jsonl
      passes cue night.jsonl --run ./camera.py -- '{event}' '{subject}'
      passes cue night.jsonl --rehearse --speed 600 --quiet
      passes schedule --demo --format jsonl | passes cue - --rehearse
    """
    run = program()
    prefix = _command(given["run_program"], arguments)
    reading = _read(schedule)
    for problem in reading.problems:
        run.say(f"passes: {_safe(problem)}")
    if not reading.entries:
        run.say(f"passes: {_safe(str(schedule))}: no step in it, so nothing to do")
    code = _conduct(run, reading, prefix, str(schedule) == "-", given)
    click.get_current_context().exit(code)


def _safe(text: str) -> str:
    from passes.tables import plain

    return plain(text, 400)


def _read(schedule: Path) -> ScheduleReading:
    from passes.plans.schedule import MOST_BYTES, read_schedule, read_schedule_text

    if str(schedule) != "-":
        return read_schedule(schedule)
    return read_schedule_text(sys.stdin.buffer.read(MOST_BYTES + 1), "stdin")


def _command(run_program: str | None, arguments: tuple[str, ...]) -> tuple[str, ...]:
    """The program and its arguments, checked as far as that is possible now."""
    from passes_plugins.scheduling.cueing.programs import unknown_names

    if run_program is None:
        if arguments:
            raise click.UsageError("arguments are for a program; name it by --run")
        return ()
    found = shutil.which(run_program)
    if found is None:
        there = Path(run_program).exists()
        why = "is not executable (chmod +x)" if there else "does not exist"
        raise InputError(f"--run {run_program}: this program {why}")
    unknown = unknown_names(arguments)
    if unknown:
        raise InputError(
            f"no step has a field {{{unknown[0]}}}; there are {{event}}, {{time}}, "
            "{subject}, {catalog_number}, {rig}, {id}, {advice.…}, {demo}, {cued_at}, "
            "{lateness_s}"
        )
    return (found, *arguments)


def _conduct(
    run: Program,
    reading: ScheduleReading,
    prefix: tuple[str, ...],
    from_stdin: bool,
    given: dict[str, Any],
) -> int:
    """Put the parts together and let them run."""
    from passes_plugins.scheduling.cueing.memory import Memory
    from passes_plugins.scheduling.cueing.talking import Log

    memory = Memory(given["state_path"], given["rehearse"])
    for problem in memory.problems:
        run.say(f"passes: {_safe(problem)}")
    log = Log(given["log_path"])
    try:
        conductor = _conductor(run, reading, memory, log, given)
        return _with_parts(conductor, prefix, given["time_out_s"], from_stdin)
    finally:
        memory.close()
        log.close()


def _conductor(
    run: Program,
    reading: ScheduleReading,
    memory: Memory,
    log: Log,
    given: dict[str, Any],
) -> Conductor:
    from passes_plugins.scheduling.cueing.agenda import Agenda
    from passes_plugins.scheduling.cueing.conductor import Conductor, Manner
    from passes_plugins.scheduling.cueing.talking import Talk

    late_by = memory.late_s | _lateness(reading, given)
    agenda = Agenda(reading.entries, given["lead_s"], late_by)
    return Conductor(
        agenda,
        _clock(agenda, memory, given),
        Manner(**{name: given[name] for name in ("late", "unsure", "stop_on_failure")}),
        memory,
        Talk(run, sys.stderr, given["quiet"]),
        log,
    )


def _with_parts(
    conductor: Conductor,
    prefix: tuple[str, ...],
    time_out_s: float,
    from_stdin: bool,
) -> int:
    from passes_plugins.scheduling.cueing.giving import Giver, to_stdout
    from passes_plugins.scheduling.cueing.keys import typed
    from passes_plugins.scheduling.cueing.programs import Programs

    conductor.giver = Giver(conductor.talk.apart(to_stdout()), conductor.unread)
    if prefix:
        conductor.programs = Programs(prefix, time_out_s, conductor.ended)
    with typed(from_stdin) as keys:
        conductor.waiting.keys = keys
        return conductor.run()


def _lateness(reading: ScheduleReading, given: dict[str, Any]) -> dict[str, float]:
    """Seconds by subject; a subject nobody has is a slip worth telling."""
    subjects = {entry.step.subject for entry in reading.entries}
    found: dict[str, float] = dict(given["late_by"])
    for subject in found:
        if subject and subject not in subjects:
            known = ", ".join(sorted(subjects)[:8])
            raise InputError(
                f"--late-by: no step is of {subject!r} (there are: {known})"
            )
    return found


def _clock(agenda: Agenda, memory: Memory, given: dict[str, Any]) -> Clock:
    """The real clock; or one that starts a little before what is not done yet."""
    from passes_plugins.scheduling.cueing.clocks import RealClock, SimulatedClock

    if not given["rehearse"]:
        return RealClock()
    speed = given["speed"]
    over = {"done", "skipped"} | ({"intent"} if given["unsure"] == "skip" else set())
    states = memory.states
    left = [i.due for i in agenda.items() if states.get(i.id) not in over]
    first = min(left, default=0.0)
    return SimulatedClock(start=first - min(speed, 65.0), speed=speed)
