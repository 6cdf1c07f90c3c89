"""``passes gate``: open, wait or dither."""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from passes.errors import InputError, PassesError
from passes.options import Finite, Moment, asks, program, to_stdout

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.plans import Plan
    from passes_plugins.streaks.gating import Gate, GateAnswer, GateList

#: Longest line that is read from a script, bytes.
_MOST_LINE = 4096


@click.command("gate")
@click.argument("plan", required=False, metavar="[PLAN]")
@click.option(
    "--exposure",
    "exposure_s",
    type=Finite(0.001, 86400.0, " s"),
    metavar="SECONDS",
    help="What is to be exposed now.",
)
@click.option("--target", default="", metavar="NAME", help="In place of the plan's.")
@click.option(
    "--now", type=Moment(), metavar="TIME", help="In place of this machine's clock."
)
@click.option(
    "--list",
    "list_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The list to answer from; made there if it does not exist.",
)
@click.option(
    "--serve",
    is_flag=True,
    help="Answer each line on standard input: SECONDS, or JSON.",
)
@click.option(
    "--wait-for",
    "closing",
    type=click.Choice(("spoiled", "removable", "faint")),
    default="spoiled",
    show_default=True,
    help="The mildest verdict that is worth waiting for.",
)
@click.option("--json", "as_json", is_flag=True, help="The answer as JSON.")
@asks(rigs=True)
@click.pass_obj
def command(
    services: Services,
    /,
    plan: str | None,
    exposure_s: float | None,
    target: str,
    now: datetime | None,
    list_path: Path | None,
    serve: bool,
    closing: str,
    as_json: bool,
) -> None:
    """May the shutter open now?  Says open, wait SECONDS or dither SECONDS.

    The exit code says it too: 0 open, 10 wait, 11 dither (a wait long enough for the
    plan's settle_s); 1 and 2 are errors, and then nothing should be opened.  An
    exposure that could not end before something comes is never opened.

    \b
    Examples:
      passes gate --demo --exposure 180 --now 2029-03-17T20:02:00Z
      passes gate tonight.toml --exposure 300 --list tonight.gate
      passes gate tonight.toml --list tonight.gate --serve

    With --serve, each line in is a number of seconds, or JSON with exposure_s and,
    if wanted, target and time; each line out is JSON with answer, or with error.
    """
    from passes_plugins.streaks.gating import EXIT_CODES, Gate

    if not plan and not services.demo:
        raise click.UsageError("which session? give a plan, or --demo")
    if services.demo and not serve and not plan:
        exposure_s, now = _in_demo(services, exposure_s, now)
    if serve == (exposure_s is not None):
        raise click.UsageError("give --exposure SECONDS, or --serve")
    gate = Gate(_list(services, plan, list_path), closing)

    def clock() -> datetime:
        return now or services.clock()

    if serve:
        _serve(gate, clock, target, sys.stdin.buffer)
        return
    assert exposure_s is not None
    found = gate.ask(clock(), exposure_s, target)
    _say(found, gate.listed.demo, as_json)
    click.get_current_context().exit(EXIT_CODES[found.answer])


def _say(found: GateAnswer, demo: bool, as_json: bool) -> None:
    """The answer, as a word or as JSON."""
    if as_json:
        import orjson

        from passes_plugins.streaks.gating import answer_document

        document = answer_document(found, demo)
        to_stdout(orjson.dumps(document, option=orjson.OPT_APPEND_NEWLINE))
        return
    said = f" {found.wait_s}" if found.wait_s else ""
    to_stdout(f"{found.answer}{said}\n".encode())


def _in_demo(
    services: Services, exposure_s: float | None, now: datetime | None
) -> tuple[float, datetime]:
    """What is asked in the demo unless told otherwise: its second sub, as planned."""
    from passes.plans import read_plan_text, subs_of

    second = subs_of(read_plan_text(services.demo_session, "the demo's plan"))[1]
    if now is None:
        now = second.start
        program().say(f"passes: demo: the time is taken to be {now:%Y-%m-%dT%H:%M:%SZ}")
    return exposure_s or second.exposure_s, now


def _list(services: Services, path: str | None, list_path: Path | None) -> GateList:
    """The list from its file, else made now (and kept, where a file is named)."""
    from passes.plans import plan_text, read_plan, read_plan_text
    from passes_plugins.streaks.gating import fingerprint, read_list

    if path is None:
        plan = read_plan_text(services.demo_session, "the demo's plan")
    else:
        plan = read_plan(Path(path))
    params = click.get_current_context().params
    beside = [params.get(name) for name in ("site_name", "at", "rigs")]
    key = fingerprint(plan_text(plan) + "".join(f"{one}\n" for one in beside if one))
    if list_path is None or not list_path.exists():
        return _made(services, plan, key, list_path)
    found = read_list(list_path)
    if found.plan != key:
        raise InputError(
            f"{list_path}: was made from another plan, site or rig; name another file, "
            "or remove it"
        )
    return found


def _made(services: Services, plan: Plan, key: str, list_path: Path | None) -> GateList:
    """The list made now, and kept where a file is named."""
    from passes.options.files import check_writable, write_whole
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.gate_making import made
    from passes_plugins.streaks.gating import list_bytes
    from passes_plugins.streaks.planning import planned

    if list_path is not None:
        check_writable(list_path)
    params = click.get_current_context().params
    rigs = params.get("rigs") or ()
    named = bool(params.get("site_name") or params.get("at"))
    ready = planned(plan, services, site_named=named, rig_name=rigs[0] if rigs else "")
    listed = made(ready, key, Choices.of(services.settings))
    if list_path is not None:
        write_whole(list_path, list_bytes(listed))
        program().say(f"wrote {list_path}")
    return listed


# --- one line in, one line out --------------------------------------------------------


def _serve(
    gate: Gate, clock: Callable[[], datetime], target: str, lines: BinaryIO
) -> None:
    """Answer until the other side closes; a line that cannot be read is told."""
    import orjson

    from passes_plugins.streaks.gating import answer_document

    while line := _line(lines):
        if not line.strip():
            continue
        try:
            exposure_s, named, when = _question(line)
            found = gate.ask(when or clock(), exposure_s, named or target)
            document = answer_document(found, gate.listed.demo)
        except PassesError as error:
            document = {"answer": None, "error": str(error)}
        to_stdout(orjson.dumps(document, option=orjson.OPT_APPEND_NEWLINE))


def _line(lines: BinaryIO) -> bytes:
    """The next line; what no script sends is cut, and read to its end."""
    line = rest = lines.readline(_MOST_LINE)
    while rest and not rest.endswith(b"\n"):
        rest = lines.readline(_MOST_LINE)
    return line


def _question(line: bytes) -> tuple[float, str, datetime | None]:
    """Exposure, target and time out of a line; InputError for anything else."""
    import orjson

    try:
        asked: Any = orjson.loads(line)
        if not isinstance(asked, dict):
            asked = {"exposure_s": asked}
        unknown = set(asked) - {"exposure_s", "target", "time"}
        if unknown or isinstance(asked["exposure_s"], bool | str):
            raise ValueError
        when = asked.get("time")
        time = None if when is None else datetime.fromisoformat(when)
        if time is not None and time.tzinfo is None:
            raise InputError(f"{when}: no zone; add Z, or an offset such as +02:00")
        utc = None if time is None else time.astimezone(UTC)
        return float(asked["exposure_s"]), str(asked.get("target") or ""), utc
    except InputError:
        raise
    except (ValueError, KeyError, TypeError, OverflowError) as error:
        raise InputError(
            "cannot read this line; send seconds, or "
            '{"exposure_s": 300, "target": "…", "time": "…Z"}'
        ) from error
