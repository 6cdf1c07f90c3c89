"""``passes advise``: how to shoot one pass with these rigs."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError, PassesError
from passes.options import Chart, Finite, Output, asks, draws, writes

if TYPE_CHECKING:
    from passes.contributions import Briefing, Services
    from passes.model import Advice, Passage, Rig
    from passes_plugins.imaging.page import Told

_SIZE = re.compile(r"(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?(?:\s*m)?\Z")


if TYPE_CHECKING:
    ParamType = click.ParamType[Any]
else:  # older click has no type argument
    ParamType = click.ParamType


class Size(ParamType):
    """``LENGTH[xWIDTH]`` in metres."""

    name = "size"

    def convert(self, value: Any, param: Any, ctx: Any) -> dict[str, float]:
        if isinstance(value, dict):
            return value
        match = _SIZE.match(value.strip())
        if match is None or float(match[1]) <= 0.0:
            self.fail(f"{value!r}: want LENGTH or LENGTHxWIDTH in metres, as 60x30")
        given = {"length_m": float(match[1])}
        return given | ({"width_m": float(match[2])} if match[2] else {})


@click.command("advise")
@click.option(
    "--every",
    "every_s",
    type=Finite(0.05, 600.0, " s"),
    metavar="SECONDS",
    help="Show a table along the pass.",
)
@click.option(
    "--mount",
    type=click.Choice(["fixed", "stars", "follow"]),
    help="What the mount does, in place of what the rig's would.",
)
@click.option(
    "--blur-px", type=Finite(0.05, 100.0, " px"), metavar="PX", help="Blur to allow."
)
@click.option(
    "--frames",
    type=click.IntRange(1, 100_000),
    metavar="N",
    help="How many frames a waiting place must catch. Default: 5.",
)
@click.option(
    "--size",
    type=Size(),
    metavar="LENGTH[xWIDTH]",
    help="The object's size in metres, where no table has it.",
)
@click.option(
    "--seeing",
    "seeing_arcsec",
    type=Finite(0.1, 30.0, "″"),
    metavar="ARCSEC",
    help="Seeing at the zenith, in place of the site's.",
)
@click.option(
    "--glint-mag",
    type=Finite(0.0, 10.0, " mag"),
    metavar="MAG",
    help="Keep glints so much brighter than the object from clipping, at the price of "
    "signal.",
)
@click.option(
    "--best",
    is_flag=True,
    help="Rank the passes of the coming week for these rigs instead.",
)
@writes("advice")
@draws("pass")
@asks(search=True, rigs=True, one_pass=True)
@click.pass_obj
def command(
    services: Services, /, output: Output, chart: Chart, best: bool, **given: Any
) -> None:
    """How to shoot one pass with these rigs.

    Settings first, then why, then cautions. Without --object or --pass the night's
    pass that shows most is taken; without --rig the first rig.

    \b
    Examples:
      passes advise --demo --object 80001 --rig long
      passes advise --demo --object 80001 --rig long --rig wide --every 5
      passes advise --pass 80001-20290317T1900 --rig long --mount fixed --json
      passes advise --demo --rig long --best
      passes advise --demo --rig long --chart pass.png
    """
    if best and chart.path is not None:
        raise click.UsageError("--chart draws one pass; leave out --best")
    rigs = _rigs(services)
    settings = _settings(services, given)
    if best:
        from passes_plugins.imaging import ranking

        _write_best(services, output, ranking.rank(services, rigs, settings))
        return
    from passes_plugins.imaging import page
    from passes_plugins.imaging.together import serve_together

    passage, others = _chosen(services, rigs[0], settings)
    advice = advise_with(services, passage, rigs, settings)
    joined = serve_together(rigs, [one for one in advice if one.adviser == "imaging"])
    told = page.Told(services, passage, others, advice, joined, bool(given["every_s"]))
    _write(told, output)
    _draw(services, chart, passage, advice)


def _draw(
    services: Services, chart: Chart, passage: Passage, advice: Sequence[Advice]
) -> None:
    if chart.path is None:
        return
    from passes_plugins.imaging.chart import advice_chart

    first = advice[0] if advice else None
    chart.write(
        {"pass": lambda palette: advice_chart(palette, services, passage, first)},
        described=f"How to shoot {passage.name}, {passage.id}",
    )


def _rigs(services: Services) -> tuple[Rig, ...]:
    """The rigs named, else the first that is known."""
    known = services.rigs
    if not known:
        raise InputError(
            "no rig is known: describe one in the configuration, or try --demo"
        )
    named = click.get_current_context().params.get("rigs")
    return known if named else known[:1]


def _settings(services: Services, given: dict[str, Any]) -> dict[str, Any]:
    """The plugin's own table, with what was typed over it."""
    typed = {k: v for k, v in given.items() if v is not None and k != "size"}
    typed.update(given["size"] or {})
    if "glint_mag" in typed:
        typed["keep_glints"] = True
    return {**services.settings, **typed}


def _chosen(
    services: Services, rig: Rig, settings: dict[str, Any]
) -> tuple[Passage, Sequence[Passage]]:
    """The pass named, or the one of the night that shows most; and the others."""
    from passes_plugins.imaging.choices import Choices
    from passes_plugins.imaging.ranking import resolved

    params = click.get_current_context().params
    choices = Choices.of(settings)
    found = list(services.passes())
    wanted = params.get("pass_id")
    if wanted is not None:
        word = f"{wanted.catalog_number}-{wanted.time:%Y%m%dT%H%M}"
        named = [p for p in found if p.id == word]
        if not named:
            there = ", ".join(p.id for p in found[:5]) or "none"
            raise InputError(f"no pass {word} in this window (there are: {there})")
        return named[0], [p for p in found if p is not named[0]]
    if not found:
        raise InputError(_no_pass(params))
    best = max(found, key=lambda p: resolved(p, rig, services.site, choices))
    return best, [p for p in found if p.catalog_number == best.catalog_number]


def _no_pass(params: dict[str, Any]) -> str:
    what = " or ".join(params.get("objects") or ()) or "anything"
    low = params.get("min_altitude_deg", 10.0)
    return (
        f"no pass of {what} above {low:g}° in this window: it stays below; try "
        "another --date, or a lower --min-altitude"
    )


def advise_with(
    services: Services,
    passage: Passage,
    rigs: Sequence[Rig],
    settings: dict[str, Any],
) -> list[Advice]:
    """Our own advice for each rig, then what other advisers say."""
    from passes.contributions import Briefing

    briefing = Briefing(
        track=services.track(passage),
        subject=passage,
        rig=rigs[0],
        site=services.site,
        growth=services.growth(passage.catalog_number),
        settings=settings,
        demo=services.demo,
    )
    return own_advice(briefing, rigs) + list(_elsewhere(services, passage, rigs))


def own_advice(briefing: Briefing, rigs: Sequence[Rig]) -> list[Advice]:
    """One for each rig; of several on one platform the leading one is asked first."""
    from passes_plugins.imaging.advising import advise
    from passes_plugins.imaging.riding import lead_of, leading

    main = leading(rigs)
    first = advise(replace(briefing, rig=rigs[main]))
    lead = lead_of(rigs[main], first)
    return [
        first if i == main else advise(replace(briefing, rig=rig), lead)
        for i, rig in enumerate(rigs)
    ]


def _elsewhere(
    services: Services, passage: Passage, rigs: Sequence[Rig]
) -> Iterator[Advice]:
    for rig in rigs:
        for advice in services.advise(passage, rig):
            if advice.adviser != "imaging":
                yield advice


def _write(told: Told, output: Output) -> None:
    from passes_plugins.imaging import document, page

    services = told.services
    own = [one for one in told.advice if one.adviser == "imaging"]
    output.write(
        table=lambda screen: page.page(told, screen),
        document=lambda: document.document(
            services, told.passage, told.advice, told.joined
        ),
        records=lambda: document.records(own),
        columns=("rig", "time"),
        items=lambda: tuple(told.advice),
        site=services.site,
        window=services.window,
        demo=services.demo,
    )


def _write_best(services: Services, output: Output, ranked: Any) -> None:
    from passes_plugins.imaging import document, page_tables

    if ranked.searched == 0:
        raise PassesError(
            "nothing to rank: no station and no object longer than 30 m among the "
            "element sets; name one with --object"
        )
    output.write(
        table=lambda screen: page_tables.best_page(services, ranked, screen),
        document=lambda: document.best_document(services, ranked),
        records=lambda: document.best_records(ranked),
        columns=("id",),
        items=lambda: tuple(one.passage for one in ranked.rows),
        site=services.site,
        window=ranked.window,
        demo=services.demo,
    )
