"""``passes streaks``: which subs a satellite marks, and whether it matters."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError
from passes.options import (
    Chart,
    Finite,
    Output,
    asks,
    draws,
    program,
    to_stdout,
    writes,
)
from passes_plugins.streaks import alternatives

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes_plugins.streaks.assessing import Assessment
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.planning import Planned

_VERDICTS = ("clean", "faint", "removable", "spoiled", "unknown")
#: Files of plans; a placing is one again.
_PLAN_SUFFIX = ".toml"


@click.command("streaks")
@click.argument("plan", required=False, metavar="[PLAN]")
@click.option(
    "--subs",
    "files",
    multiple=True,
    metavar="FILES",
    help="FITS files instead of a plan; a quoted pattern is expanded. Repeat.",
)
@click.option(
    "--clock-offset",
    "clock_offset_s",
    type=Finite(-864000.0, 864000.0, " s"),
    default=0.0,
    metavar="SECONDS",
    help="How far the camera's clock was ahead.",
)
@click.option("--all", "everything", is_flag=True, help="List clean subs too.")
@click.option(
    "--list-files",
    "listed",
    multiple=True,
    type=click.Choice(_VERDICTS),
    help="Print the paths of files with this verdict instead. Repeat.",
)
@click.option("-0", "nul", is_flag=True, help="End each path with NUL, for xargs -0.")
@click.option(
    "--clean-below",
    type=Finite(0.0, 1000.0),
    metavar="S/N",
    help="A trail under this is not seen. Default: 0.3.",
)
@click.option(
    "--removable-from",
    type=Finite(0.0, 1000.0),
    metavar="S/N",
    help="Rejection takes a trail out from here up. Default: 2.5.",
)
@click.option(
    "--least-subs",
    type=Finite(1.0, 10_000.0),
    metavar="N",
    help="Like subs that rejection needs. Default: 10.",
)
@click.option(
    "--spoiled-percent",
    type=Finite(0.0, 100.0, " %"),
    metavar="PERCENT",
    help="A sub with more of its pixels marked is lost. Default: 2.",
)
@alternatives.with_alternatives
@writes("crossings", page_suffixes=(_PLAN_SUFFIX,))
@draws("frame", "session")
@asks(rigs=True)
@click.pass_obj
def command(
    services: Services,
    /,
    output: Output,
    chart: Chart,
    plan: str | None,
    files: tuple[str, ...],
    clock_offset_s: float,
    everything: bool,
    listed: tuple[str, ...],
    nul: bool,
    **thresholds: float | None,
) -> None:
    """Which subs a satellite marks, and whether it matters in the stack.

    PLAN is a TOML file of what is to be exposed: [session] with site, rig, start,
    subs, exposure_s and gap_s, and [target] with name, ra_deg and dec_deg. Or give the
    files of a night that is over by --subs.

    \b
    Examples:
      passes streaks --demo
      passes streaks --demo --chart frame.svg
      passes streaks tonight.toml --elements active.tle
      passes streaks tonight.toml --place --output placed.toml
      passes streaks --subs 'M81/*.fits' --rig field --site ridge
      passes streaks --subs 'M81/*.fits' --list-files spoiled -0 | xargs -0 ls
    """
    from passes_plugins.streaks.choices import Choices

    _check(services, plan, files, listed, nul, clock_offset_s)
    typed = {key: value for key, value in thresholds.items() if value is not None}
    choices = Choices.of({**services.settings, **typed})
    if alternatives.asked():
        ready = _ready(services, plan)
        alternatives.answer(ready, services, choices, output)
        return
    if files:
        found = _of_files(services, files, clock_offset_s, choices)
    else:
        found = _of_plan(services, plan, choices)
    if listed:
        _list_files(found, listed, nul)
    else:
        _write(found, output, services.demo, everything)
    _draw(found, chart, services.demo)


def _check(
    services: Services,
    plan: str | None,
    files: tuple[str, ...],
    listed: tuple[str, ...],
    nul: bool,
    clock_offset_s: float,
) -> None:
    """Refuse what contradicts itself."""
    params = click.get_current_context().params
    if plan and files:
        raise click.UsageError("a plan and --subs are two sessions; give one")
    if not plan and not files and not services.demo:
        raise click.UsageError("which session? give a plan, --subs FILES, or --demo")
    if params.get("evening") or params.get("start"):
        raise click.UsageError(
            "the session has its own times; leave out --date, --from and --to"
        )
    if (listed or nul or clock_offset_s) and not files:
        raise click.UsageError("--list-files, -0 and --clock-offset need --subs")
    if nul and not listed:
        raise click.UsageError("-0 belongs to --list-files")
    if len(params.get("rigs") or ()) > 1:
        raise click.UsageError("a session has one rig; give --rig once")
    path = params.get("output_path")
    if path and path.suffix.lower() == _PLAN_SUFFIX and not params.get("place"):
        raise click.UsageError(f"{path}: a plan is what --place writes; add it")


def _site_named() -> bool:
    params = click.get_current_context().params
    return bool(params.get("site_name") or params.get("at"))


def _rig_name() -> str:
    rigs = click.get_current_context().params.get("rigs") or ()
    return str(rigs[0]) if rigs else ""


def _ready(services: Services, path: str | None) -> Planned:
    from passes.plans import read_plan, read_plan_text
    from passes_plugins.streaks.planning import planned

    if path is None:
        plan = read_plan_text(services.demo_session, "the demo's plan")
    else:
        plan = read_plan(Path(path))
    return planned(plan, services, site_named=_site_named(), rig_name=_rig_name())


def _of_plan(services: Services, path: str | None, choices: Choices) -> Assessment:
    from passes_plugins.streaks.assessing import assess

    ready = _ready(services, path)
    return assess(
        ready.session,
        ready.services,
        choices,
        notes=ready.notes,
    )


def _of_files(
    services: Services,
    patterns: tuple[str, ...],
    clock_offset_s: float,
    choices: Choices,
) -> Assessment:
    from passes_plugins.streaks.assessing import assess
    from passes_plugins.streaks.from_files import recorded

    run = program()
    rig = services.rig(_rig_name()) if _rig_name() else None
    ready = recorded(
        patterns,
        services,
        rig=rig,
        site_named=_site_named(),
        clock_offset_s=clock_offset_s,
        progress=run.progress,
    )
    for line in ready.complaints:
        run.say(f"passes: {line}")
    if not ready.session.subs:
        raise InputError(f"none of {len(ready.complaints)} files can be used")
    return assess(
        ready.session,
        ready.services,
        choices,
        frames=ready.frames,
        notes=ready.notes,
    )


def _list_files(found: Assessment, listed: tuple[str, ...], nul: bool) -> None:
    """Paths of files by verdict, one a line or each ended by NUL."""
    import os

    end = b"\0" if nul else b"\n"
    paths = [one.sub.path for one in found.judged if one.verdict in listed]
    to_stdout(b"".join(os.fsencode(path) + end for path in paths if path))


def _write(found: Assessment, output: Output, demo: bool, everything: bool) -> None:
    from passes_plugins.streaks import document
    from passes_plugins.streaks.page import page
    from passes_plugins.streaks.summing import summary_of

    summary = summary_of(found)
    output.write(
        table=lambda screen: page(
            found, summary, screen, demo=demo, everything=everything
        ),
        document=lambda: document.document(found, summary, demo),
        records=lambda: document.records(found),
        columns=document.CSV_COLUMNS,
        items=lambda: _crossings(found),
        site=found.site,
        window=found.window,
        demo=demo,
    )


def _draw(found: Assessment, chart: Chart, demo: bool) -> None:
    if chart.path is None:
        return
    from passes_plugins.streaks.chart import frame_chart
    from passes_plugins.streaks.chart_of_session import session_chart
    from passes_plugins.streaks.summing import summary_of

    chart.write(
        {
            "frame": lambda palette: frame_chart(palette, found, demo=demo),
            "session": lambda palette: session_chart(
                palette, found, summary_of(found), demo=demo
            ),
        },
        described="What crosses the subs of a session",
    )


def _crossings(found: Assessment) -> tuple[Any, ...]:
    """What an exporter gets: every crossing of a sub, once."""
    every = {id(m.crossing): m.crossing for one in found.judged for m in one.marks}
    return tuple(every.values())
