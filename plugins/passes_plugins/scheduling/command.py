"""``passes schedule``: what a capture script should do when."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.options import Finite, Output, asks, writes

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Schedule
    from passes.plans import Plan
    from passes_plugins.scheduling.planning import Placed
    from passes_plugins.scheduling.set_up import SetUp

_DURATION = re.compile(r"(?:(\d+(?:\.\d+)?)h)?\s*(?:(\d+(?:\.\d+)?)m(?:in)?)?\Z")
#: The heading of a CSV that lists no step.
COLUMNS = ("id", "event", "time", "subject", "catalog_number", "rig", "demo")

if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType


class Duration(ParamType):
    """``2h``, ``90min`` or ``1h30m``; seconds."""

    name = "duration"

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        if isinstance(value, float):
            return value
        match = _DURATION.match(value.strip())
        seconds = 0.0
        if match is not None:
            seconds = 3600.0 * float(match[1] or 0) + 60.0 * float(match[2] or 0)
        if not 0.0 < seconds <= 86_400.0:
            self.fail(f"{value!r}: want a time such as 2h, 90min or 1h30m", param, ctx)
        return seconds


def _lead(name: str, what: str) -> Callable[[Any], Any]:
    return click.option(
        f"--{name}",
        f"{name}_s",
        type=Finite(0.0, 7200.0, " s"),
        metavar="SECONDS",
        help=what,
    )


@click.command("schedule")
@click.option(
    "--plan",
    "plan_path",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="A session plan whose subs are to be exposed as well. Default: none; the "
    "demo has its own.",
)
@click.option(
    "--limit",
    type=click.IntRange(0, 10_000),
    default=12,
    show_default=True,
    help="How many passes, the ones worth most; stations always; 0 is none.",
)
@click.option("--all", "every", is_flag=True, help="Every visible pass.")
@click.option(
    "--set-up",
    "set_up_s",
    type=Duration(),
    metavar="TIME",
    help="Put the preparation in front, so long before the first start, as 2h.",
)
@_lead("ready", "Make ready so long before a start. Default: 300.")
@_lead("point", "Point so long before a start. Default: 90.")
@_lead("lead", "Start so long before the event may begin. Default: 10.")
@_lead("tail", "Stop so long after it may be over. Default: 10.")
@writes("schedule")
@asks(search=True, rigs=True)
@click.pass_obj
def command(services: Services, /, output: Output, **given: Any) -> None:
    """What a capture script should do when: one ordered list of steps.

    Passes worth it, transits, a session's subs where they are best placed, and whatever
    other plugins report, with the advice for each rig (all, unless --rig names some).
    Recordings are widened by the 95 % bound of their times. --output night.jsonl makes
    the file that passes cue plays.

    \b
    Examples:
      passes schedule --demo
      passes schedule --demo --set-up 2h --output night.jsonl
      passes schedule --site ridge --rig long --plan galaxy.toml --output night.ics
    """
    session = _session(services, given["plan_path"])
    services = session.services if session is not None else services
    schedule = _schedule(services, session, given)
    output.write(
        table=lambda screen: _page(services, schedule, screen),
        document=lambda: _document(services, schedule),
        records=lambda: map(_record, schedule.steps),
        columns=COLUMNS,
        items=lambda: schedule.steps,
        site=services.site,
        window=services.window,
        demo=services.demo,
    )


def _schedule(
    services: Services, session: Placed | None, given: dict[str, Any]
) -> Schedule:
    from passes_plugins.scheduling.gathering import gather
    from passes_plugins.scheduling.leads import Leads

    leads = Leads.of(services.settings, given)
    found = gather(services, session, leads, limit=given["limit"], every=given["every"])
    return found.schedule(services, leads, _set_up(services, given["set_up_s"]))


def _set_up(services: Services, seconds: float | None) -> SetUp | None:
    """The preparation, if one was asked for; stars show after nautical twilight."""
    from passes_plugins.scheduling.set_up import SetUp

    if seconds is None:
        return None
    stars = services.night.nautical
    return SetUp(seconds=seconds, stars_from=stars.start if stars else None)


def _session(services: Services, path: Path | None) -> Placed | None:
    """The session of the plan that was named, else the demo's own."""
    from passes.plans import read_plan
    from passes_plugins.scheduling.planning import placed

    typed = click.get_current_context().params
    if path is not None:
        return placed(read_plan(path), services, typed)
    plan = None if typed["objects"] else _demo_plan(services)
    return placed(plan, services, typed) if plan is not None else None


def _demo_plan(services: Services) -> Plan | None:
    """The demo's plan, where its night, its site and its rig are asked about."""
    from passes.plans import read_plan_text

    if not (services.demo and services.demo_session):
        return None
    plan = read_plan_text(services.demo_session, "the demo's plan")
    window = services.window
    tonight = plan.start is not None and window.start <= plan.start <= window.end
    here = plan.site in ("", services.site.name)
    ours = plan.rig in [rig.name for rig in services.rigs]
    return plan if tonight and here and ours else None


def _page(services: Services, schedule: Schedule, screen: Any) -> str:
    from passes_plugins.scheduling.page import page

    return page(services, schedule, screen)


def _document(services: Services, schedule: Schedule) -> dict[str, Any]:
    from passes.plans.schedule import iso, step_document

    site, window = services.site, services.window
    return {
        "site": {
            "name": site.name,
            "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg,
            "height_m": site.height_m,
            "zone": site.zone,
        },
        "window": {"start": iso(window.start), "end": iso(window.end)},
        "demo": services.demo,
        "steps": [step_document(step) for step in schedule.steps],
        "notes": [
            {"text": n.text, "severity": n.severity, "values": dict(n.values)}
            for n in schedule.notes
        ],
    }


#: What CSV shows of the advice, each ``advice_…``.
_ADVICE = (
    *("exposure_s", "frame_rate_hz", "gain", "filter", "mode", "limit"),
    *("magnitude", "timing_bound_s", "before", "for"),
)
_POINTING = ("azimuth_deg", "altitude_deg", "ra_of_date_deg", "dec_of_date_deg")


def _record(step: Any) -> dict[str, Any]:
    """One step as a flat row."""
    from passes.plans.schedule import step_document

    row = step_document(step)
    advice = row.pop("advice") or {}
    demo = row.pop("demo")
    pointing = advice.get("pointing") or {}
    row |= {f"advice_{name}": advice.get(name) for name in (*_ADVICE, "words")}
    row |= {f"pointing_{name}": pointing.get(name) for name in _POINTING}
    return row | {"demo": demo}
