"""``passes sheet``: the night on one page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from passes.errors import InputError
from passes.options import asks, program, to_stdout
from passes.options.files import check_writable, write_whole

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Step
    from passes.plans import Plan

_SUFFIXES = ("", ".html", ".htm", ".xhtml")


def _checked(
    ctx: click.Context, param: click.Parameter, path: Path | None
) -> Path | None:
    """Refuse now what could not be written later."""
    if path is None or str(path) == "-":
        return None
    if path.suffix.lower() not in _SUFFIXES[:3]:
        raise InputError(f"{path}: a sheet is a page, written as .html")
    check_writable(path)
    return path


@click.command("sheet")
@click.option(
    "--output",
    type=click.Path(path_type=Path, allow_dash=True),
    callback=_checked,
    metavar="FILE",
    help="Write the page there, whole or not at all. Default: stdout.",
)
@click.option(
    "--plan",
    "plan_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The plan of the session, for its streaks and their placing.",
)
@click.option(
    "--schedule",
    "schedule_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A schedule that passes schedule made, in place of the usual one.",
)
@click.option(
    "--limit",
    type=click.IntRange(1, 60),
    default=12,
    show_default=True,
    help="How many passes.",
)
@click.option(
    "--cards",
    type=click.IntRange(0, 12),
    default=3,
    show_default=True,
    help="How many of them get a card in large type, with advice.",
)
@click.option(
    "--transit-days",
    type=click.IntRange(0, 30),
    default=7,
    show_default=True,
    metavar="DAYS",
    help="How far ahead transits are looked for.",
)
@asks(search=True, rigs=True)
@click.pass_obj
def command(
    services: Services,
    /,
    output: Path | None,
    plan_path: Path | None,
    schedule_path: Path | None,
    limit: int,
    cards: int,
    transit_days: int,
) -> None:
    """The night on one page: make it before driving out of coverage.

    One HTML file that needs nothing else: darkness, Moon, elements, the passes worth
    it and how to shoot the best, streaks of a plan, transits, the schedule, what to
    check, cautions, and the pictures that serve the night: of the rigs named by --rig
    where it is given. --theme red keeps eyes adapted to the dark.

    \b
    Examples:
      passes sheet --demo --output night.html
      passes sheet --demo --theme red --rig long --output night.html
      passes sheet --site ridge --plan m81.toml --schedule night.jsonl --output n.html
    """
    from passes_plugins.sheet.gathering import gather
    from passes_plugins.sheet.page import page
    from passes_plugins.sheet.records import Wishes

    plan = _plan(services, plan_path)
    if plan is not None:
        services = _placed(services, plan)
    wishes = Wishes(
        limit=limit,
        cards=cards,
        transit_days=transit_days,
        plan=plan,
        rigs=services.rigs if _typed("rigs") or len(services.rigs) == 1 else (),
        schedule=_schedule(schedule_path),
    )
    run = program()
    content = page(gather(services, wishes), run.theme or "light", services).encode()
    run.quiet()
    if output is None:
        to_stdout(content)
        return
    write_whole(output, content)
    run.say(f"wrote {click.format_filename(output)} ({len(content) / 1024:,.0f} kB)")


def _plan(services: Services, path: Path | None) -> Plan | None:
    from passes.plans import read_plan, read_plan_text

    if path is not None:
        return read_plan(path)
    if services.demo and services.demo_session:
        plan = read_plan_text(services.demo_session, "the demo's plan")
        return plan if plan.site in ("", services.site.name) else None
    return None


def _schedule(path: Path | None) -> tuple[Step, ...]:
    if path is None:
        return ()
    from passes.plans.schedule import read_schedule

    reading = read_schedule(path)
    for problem in reading.problems:
        program().say(f"passes: {problem}")
    return tuple(reading.schedule.steps)


def _placed(services: Services, plan: Plan) -> Services:
    """The services at the plan's site and over its night, unless others were typed."""
    from passes import sky

    if plan.site and not _typed("site_name", "at"):
        services = services.moved(site=plan.site)
    begins = plan.subs[0].start if plan.subs else plan.start
    window = services.window
    if begins is None or window.start <= begins <= window.end:
        return services
    if _typed("evening", "start"):
        return services
    return services.moved(window=sky.night_containing(services.site, begins).window)


def _typed(*names: str) -> bool:
    """Whether any of these options was given."""
    params = click.get_current_context().params
    return any(params.get(name) for name in names)
