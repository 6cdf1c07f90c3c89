"""``passes tonight``: the passes worth going outside for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from passes.options import Chart, Finite, Output, asks, draws, program, writes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from passes.forecast import Forecast, TonightRow
    from passes.model import Passage, Sub
    from passes.plans import Plan

#: Options that choose among passes: with ``--all`` there is nothing to choose.
_CHOICES = {
    "limit": "--limit",
    "magnitude": "--magnitude",
    "min_visible_altitude_deg": "--min-visible-altitude",
}


@click.command("tonight")
@click.option(
    "--limit",
    type=click.IntRange(1, 100_000),
    default=12,
    show_default=True,
    help="How many passes; stations always.",
)
@click.option(
    "--magnitude",
    type=Finite(-30.0, 30.0),
    metavar="M",
    help="Only what gets at least this bright.",
)
@click.option(
    "--min-visible-altitude",
    "min_visible_altitude_deg",
    type=Finite(0.0, 89.0, "°"),
    default=15.0,
    show_default=True,
    metavar="DEG",
    help="How high a pass must get while visible.",
)
@click.option("--all", "everything", is_flag=True, help="Every pass, lit or not.")
@click.option(
    "--plan",
    "plan_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A session's plan, for its subs in the chart of the timeline.",
)
@writes("passes")
@draws("sky", "timeline", east=True)
@asks(search=True)
@click.pass_obj
def command(
    forecast: Forecast,
    /,
    output: Output,
    chart: Chart,
    everything: bool,
    plan_path: Path | None,
    **choice: Any,
) -> None:
    """The passes worth going outside for tonight.

    Those worth most, by how far above the naked-eye limit, how long and how high they
    are seen, in order of time.

    \b
    Examples:
      passes tonight --demo
      passes tonight --at 37.1,-3.4,1900 --elements active.tle --date 2029-03-17
      passes tonight --site ridge --elements '*.tle' --magnitude 3 --output night.csv
      passes tonight --demo --chart sky.png
      passes tonight --demo --chart night.svg --figure timeline --theme red
    """
    _refuse_choice(everything)
    if plan_path is not None and chart.figure != "timeline":
        raise click.UsageError("--plan belongs to --chart FILE --figure timeline")
    plan = _plan(forecast, chart, plan_path)
    tonight = forecast.tonight(**choice, everything=everything)
    program().tell_rejected(tonight.searched.rejected)
    output.write(
        table=lambda screen: _page(tonight, screen),
        document=tonight.document,
        records=tonight.records,
        columns=CSV_COLUMNS,
        items=lambda: tonight.passages,
        site=tonight.site,
        window=tonight.window,
        demo=tonight.demo,
    )
    _draw(forecast, tonight, chart, plan)


def _plan(forecast: Forecast, chart: Chart, path: Path | None) -> Plan | None:
    """The plan named, or the one that the demo has for its own site."""
    if chart.path is None or chart.figure != "timeline":
        return None
    from passes.plans import read_plan, read_plan_text

    if path is not None:
        return read_plan(path)
    if not forecast.demo_session:
        return None
    plan = read_plan_text(forecast.demo_session, "the demo's plan")
    return plan if plan.site in ("", forecast.site.name) else None


def _draw(forecast: Forecast, tonight: Any, chart: Chart, plan: Plan | None) -> None:
    """The sky of the passes shown, or the course of the night."""
    if chart.path is None:
        return
    from passes.charts import evening

    scene = evening.Scene(
        site=tonight.site, night=tonight.night, window=tonight.window, demo=tonight.demo
    )
    rows = list(tonight.rows)
    shown = _best(rows, evening.MOST_PATHS)
    chart.write(
        {
            "sky": lambda palette: evening.sky_chart(
                palette,
                scene,
                [evening.sampled(forecast, one) for one in shown],
                east=chart.east,
                left_out=len(rows) - len(shown),
            ),
            "timeline": lambda palette: evening.timeline_chart(
                palette,
                scene,
                _best(rows, evening.MOST_BARS),
                subs=_subs(forecast, plan) if plan is not None else (),
                left_out=max(0, len(rows) - evening.MOST_BARS),
            ),
        },
        described=f"{evening.TITLE} {scene.place}",
    )


def _subs(forecast: Forecast, plan: Plan) -> tuple[Sub, ...]:
    """A plan's subs, with the flip that its rig's mount makes at the meridian.

    A rig that nobody knows, or none, is taken to be one that flips.
    """
    from passes import sky
    from passes.plans import subs_of

    kinds = {rig.name: rig.mount.kind for rig in forecast.rigs}
    flips = kinds.get(plan.rig) != "alt-azimuth"
    return subs_of(plan, transit=sky.transits_at(forecast.site) if flips else None)


def _best(rows: Sequence[TonightRow], most: int) -> list[Passage]:
    """The passes most worth it, as many as have room, in order of time."""
    best = sorted(rows, key=lambda row: -row.worth)[:most]
    return [row.passage for row in sorted(best, key=lambda row: row.passage.start)]


def _page(tonight: Any, screen: Any) -> str:
    from passes.tables import tonight_page

    return tonight_page(tonight, screen)


def _refuse_choice(everything: bool) -> None:
    ctx = click.get_current_context()
    for name, option in _CHOICES.items():
        chosen = ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE
        if everything and chosen:
            raise click.UsageError(f"--all is every pass; leave out {option}")


def _columns() -> tuple[str, ...]:
    moment = ("time", "altitude_deg", "azimuth_deg", "range_km")
    magnitudes = ("magnitude", "magnitude_above_atmosphere", "magnitude_sigma")
    light = (*magnitudes, "magnitude_basis", "phase_angle_deg", "angular_rate_deg_s")
    return (
        *("id", "catalog_number", "name", "designator", "object_class"),
        *(f"rise_{part}" for part in moment),
        *(f"culmination_{part}" for part in moment),
        "further_culminations",
        *(f"set_{part}" for part in moment),
        *(f"brightest_{part}" for part in (*moment, *light)),
        *("sunlit", "clear", "visible", "sun_altitude_deg", "moon_separation_deg"),
        *("timing_sigma_s", "timing_bound_s", "cross_track_sigma_km"),
        *("element_age_days", "flags", "demo"),
    )


#: The heading of a CSV that lists no pass.
CSV_COLUMNS = _columns()
