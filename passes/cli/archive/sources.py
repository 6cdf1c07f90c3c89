"""``passes elements sources``: where fresh element sets come from."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import common
from passes.options import Finite, Output, program, writes

if TYPE_CHECKING:
    from passes.archive import SourceState
    from passes.config import Config
    from passes.tables import Screen

USUAL_HOURS = 2.0
CSV_COLUMNS = ("name", "kind", "url", "every_hours", "asked", "answered")
_HINT = "passes elements fetch asks them all, passes elements fetch NAME one."


@click.command("sources")
@click.option("--add", "new", metavar="NAME", help="Add a source, with --url.")
@click.option("--url", help="Its address.")
@click.option(
    "--kind",
    default="http",
    show_default=True,
    metavar="NAME",
    help="The element source that fetches it, from passes plugins.",
)
@click.option(
    "--every-hours",
    type=Finite(0.01, 8760.0, " hours"),
    default=USUAL_HOURS,
    show_default=True,
    metavar="HOURS",
    help="How often to ask at most.",
)
@click.option("--remove", "old", metavar="NAME", help="Take a source out.")
@click.option("--usual", is_flag=True, help="Add the usual public sources again.")
@writes("sources")
def sources(
    new: str | None,
    url: str | None,
    kind: str,
    every_hours: float,
    old: str | None,
    usual: bool,
    output: Output,
) -> None:
    """List the sources of element sets; the first time, write down the usual ones.

    They stand in the configuration as [sources.NAME] and may be edited there.

    \b
    Examples:
      passes elements sources
      passes elements sources --add club --url https://example.org/elements.json
      passes elements sources --remove club
    """
    if bool(new) != bool(url):
        raise click.UsageError("--add NAME and --url URL belong together")
    config = program().config()
    if new and url:
        config = write(
            program().config_path,
            {new: {"kind": kind, "url": url, "every_hours": _plain(every_hours)}},
        )
    elif old:
        config = take_out(program().config_path, old, config)
    elif usual or not config.sources:
        config = write(program().config_path, usual_sources(config))
        program().say(f"wrote the usual public sources to {config.path}")
    states = {name: common.the_archive().source(name) for name in config.sources}
    output.write(
        table=lambda screen: page(config, states, screen),
        document=lambda: {
            "config": str(config.path),
            "sources": [_record(n, t, states[n]) for n, t in config.sources.items()],
        },
        records=lambda: [_record(n, t, states[n]) for n, t in config.sources.items()],
        columns=CSV_COLUMNS,
    )


def _plain(hours: float) -> float | int:
    return int(hours) if hours == int(hours) else hours


def usual_sources(config: Config) -> dict[str, Mapping[str, Any]]:
    """The public sources that the configuration does not have yet."""
    import tomllib

    text = files("passes").joinpath("data/sources.toml").read_text(encoding="utf-8")
    return {n: t for n, t in tomllib.loads(text).items() if n not in config.sources}


def write(path: Any, tables: Mapping[str, Mapping[str, Any]]) -> Config:
    """Put sources into the configuration."""
    from passes.config import edit, table_of

    def change(document: Any) -> None:
        for name, values in tables.items():
            table = table_of(document, "sources", name)
            for key, value in values.items():
                table[key] = value

    return edit(path, change)


def take_out(path: Any, name: str, config: Config) -> Config:
    """Take one source out of the configuration; UnknownName lists the others."""
    from passes.config import edit, remove
    from passes.errors import UnknownName

    if name not in config.sources:
        raise UnknownName("source", name, config.sources)

    def change(document: Any) -> None:
        remove(document, "sources", name)

    return edit(path, change)


def _record(name: str, table: Mapping[str, Any], state: SourceState) -> dict[str, Any]:
    return {
        "name": name,
        "kind": table.get("kind", "http"),
        "url": table.get("url", ""),
        "every_hours": table.get("every_hours", USUAL_HOURS),
        "asked": common.iso(state.asked),
        "answered": common.iso(state.answered),
    }


def page(config: Config, states: Mapping[str, SourceState], screen: Screen) -> str:
    """The sources as a page of text."""
    from passes.tables import Column, labelled, listing, paragraph, plain

    columns = [
        Column("Source"),
        Column("Kind", drop=1),
        Column("Every", "right"),
        Column("Last answer (UTC)"),
        Column("Address", elastic=True),
    ]
    rows = []
    for name, table in config.sources.items():
        answered = states[name].answered
        rows.append(
            [
                plain(name, 30),
                plain(str(table.get("kind", "http")), 20),
                f"{table.get('every_hours', USUAL_HOURS):g} h",
                common.minute(answered) if answered else "never",
                plain(str(table.get("url", "")), 300),
            ]
        )
    lines = labelled([("File", plain(str(config.path), 400))], screen)
    if not rows:
        return screen.finish([*lines, "No sources: --usual writes the public ones."])
    lines += ["", *listing(columns, rows, screen), "", *paragraph(_HINT, screen)]
    return screen.finish(lines)
