"""``passes check``: what is not ready for tonight."""

from __future__ import annotations

import sys
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive.common import many
from passes.errors import PassesError
from passes.options import Evening, Output, Place, program, writes

if TYPE_CHECKING:
    from passes.forecast import Forecast
    from passes.forecast.finding import Finding
    from passes.model import Site
    from passes.tables import Screen

CSV_COLUMNS = ("subject", "state", "text", "todo")


@click.command("check")
@click.option("--site", "site_name", metavar="NAME", help="A site kept by name.")
@click.option(
    "--at", type=Place(), metavar="LAT,LON[,HEIGHT_M]", help="A place in its stead."
)
@click.option(
    "--date",
    "evening",
    type=Evening(),
    metavar="YYYY-MM-DD",
    help="The local evening. Default: this night.",
)
@click.option(
    "--nmea",
    metavar="FILE",
    help="Compare the clock with a receiver: its device, a recording, or - for stdin.",
)
@writes("check")
def command(
    site_name: str | None,
    at: Site | None,
    evening: date | None,
    nmea: str | None,
    output: Output,
) -> None:
    """What is not ready for tonight, and what to do about it.

    Looks at elements, site and horizon, ephemeris, configuration, plugins, disk and
    clock. The exit code is 1 where something would spoil the night.

    \b
    Examples:
      passes check --site ridge
      passes check --at 37.1,-3.4 --nmea /dev/ttyUSB0
      passes check --json
    """
    if site_name and at:
        raise click.UsageError("--site and --at are two places; give one")
    found = _findings(site_name, at, evening, nmea)
    output.write(
        table=lambda screen: page(found, screen),
        document=lambda: document(found),
        records=lambda: [_record(one) for one in found],
        columns=CSV_COLUMNS,
        items=lambda: found,
    )
    if _spoilt(found):
        click.get_current_context().exit(1)


def _findings(
    site_name: str | None, at: Site | None, evening: date | None, nmea: str | None
) -> list[Finding]:
    from passes.config import Config
    from passes.forecast import Request, build, ready
    from passes.forecast.finding import Finding

    run = program()
    try:
        config = run.config()
        first = _configuration(config)
        archive = run.archive_path()
    except PassesError as error:  # all the rest can still be looked at
        config, archive = Config(), run.archive
        first = Finding(subject="config", state="bad", text=str(error))
    request = Request(site=at, site_name=site_name or "", date=evening, archive=archive)
    forecast: Forecast = build(request, run.registry(), config)
    forecast.registry.news()  # the page itself tells what is wrong with plugins
    return [first, *ready.findings(forecast, _compared(nmea))]


def _configuration(config: Any) -> Finding:
    from passes.forecast.finding import Finding

    if config.path is None or not config.path.exists():
        return Finding(
            subject="config",
            state="caution",
            text="there is none yet",
            todo="passes site add, passes rig add and passes elements sources make it",
        )
    counts = {
        "sites": len(config.sites),
        "rigs": len(config.rigs),
        "sources": len(config.sources),
    }
    words = ", ".join(many(n, key.removesuffix("s")) for key, n in counts.items())
    return Finding(
        subject="config",
        state="good",
        text=f"{config.path}: {words}",
        values=counts,
    )


def _compared(nmea: str | None) -> Any:
    """The clock beside a receiver's, or why that could not be."""
    from passes.forecast import ticking

    if nmea is None:
        return None
    try:
        return ticking.compare(nmea, sys.stdin.buffer)
    except PassesError as error:
        return error


def _spoilt(found: list[Finding]) -> bool:
    return any(one.state == "bad" for one in found)


def document(found: list[Finding]) -> dict[str, Any]:
    """The JSON shape (``schemas/check.json``)."""
    return {"ready": not _spoilt(found), "findings": [_record(one) for one in found]}


def _record(one: Finding) -> dict[str, Any]:
    return {
        "subject": one.subject,
        "state": one.state,
        "text": one.text,
        "todo": one.todo or None,
        "values": {key: _value(value) for key, value in one.values.items()},
    }


def _value(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return value


def page(found: list[Finding], screen: Screen) -> str:
    """One line each, what would spoil the night in bold."""
    from passes.tables import labelled, plain

    marks = {"good": "ok", "caution": "see", "bad": "BAD", "unknown": "?"}
    pairs = []
    for one in found:
        todo = f" → {plain(one.todo, 300)}" if one.todo else ""
        told = f"{marks[one.state]:4}{plain(one.text, 400)}{todo}"
        pairs.append((one.subject[:1].upper() + one.subject[1:], told))
    lines = labelled(pairs, screen)
    verdict = "Something would spoil the night." if _spoilt(found) else "Ready."
    return screen.finish([*lines, "", screen.bold(verdict)])
