"""``passes plugins``: who adds what, in which version, and what is wrong with whom."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import click

from passes.options import Output, program, writes

if TYPE_CHECKING:
    from passes.contributions import Contribution
    from passes.registry import Listed, Problem, Registry
    from passes.tables import Screen

#: Fields of some kinds of contribution that are worth listing, in JSON.
_EXTRAS = ("online", "kinds", "accepts", "suffixes")
CSV_COLUMNS = (
    *("plugin", "distribution", "version", "state", "load_s"),
    *("kind", "name", "summary", "problems"),
)
_OWN = "passes"


@click.command("plugins")
@writes("plugins")
def command(output: Output) -> None:
    """List plugins, what they add and what is wrong with them.

    A plugin is working, faulty (part of it failed), absent (it could not be loaded)
    or disabled (left out by PASSES_DISABLE_PLUGINS=NAME,NAME). With --verbose also
    how long each took to load, and the tracebacks of faults.

    \b
    Examples:
      passes plugins
      passes plugins --verbose
      PASSES_DISABLE_PLUGINS=twilight passes plugins --json
    """
    run = program()
    registry = run.registry()
    listed = registry.listing()
    if not any(one.origin.distribution == _OWN for one in listed):
        run.say("passes: this copy is not installed, so its own plugins are missing")
    if output.format == "table":
        registry.news()  # the page itself tells the faults
    output.write(
        table=lambda screen: page(listed, screen, run.verbose),
        document=lambda: document(registry, listed, run.verbose),
        records=lambda: _records(listed),
        columns=CSV_COLUMNS,
        items=lambda: listed,
    )


# --- for machines ------------------------------------------------------------


def document(
    registry: Registry, listed: tuple[Listed, ...], verbose: bool
) -> dict[str, Any]:
    """The listing's JSON shape (``schemas/plugins.json``)."""
    return {
        "plugins": [_plugin(one, verbose) for one in listed],
        "unknown_disabled": list(registry.unknown_disabled),
    }


def _plugin(one: Listed, verbose: bool) -> dict[str, Any]:
    return {
        "name": one.origin.plugin,
        "distribution": one.origin.distribution,
        "version": one.origin.version,
        "state": one.state,
        "load_s": round(one.load_s, 6),
        "contributions": [_contribution(p.item) for p in one.provided],
        "problems": [_problem(problem, verbose) for problem in one.problems],
    }


def _contribution(item: Contribution) -> dict[str, Any]:
    head = {"kind": item.word, "name": item.name, "summary": item.summary}
    extras = {name: getattr(item, name) for name in _EXTRAS if hasattr(item, name)}
    return {**head, **extras}


def _problem(problem: Problem, verbose: bool) -> dict[str, str]:
    told = {"stage": problem.stage, "message": problem.message()}
    return told | ({"traceback": problem.detail()} if verbose else {})


def _records(listed: tuple[Listed, ...]) -> Iterator[dict[str, Any]]:
    """One row a contribution; a plugin that adds nothing has one row as well."""
    for one in listed:
        whose = {
            "plugin": one.origin.plugin,
            "distribution": one.origin.distribution,
            "version": one.origin.version,
            "state": one.state,
            "load_s": round(one.load_s, 6),
        }
        problems = "; ".join(f"{p.stage}: {p.message()}" for p in one.problems)
        for item in [provided.item for provided in one.provided] or [None]:
            yield whose | {
                "kind": item.word if item else None,
                "name": item.name if item else None,
                "summary": item.summary if item else None,
                "problems": problems,
            }


# --- for people --------------------------------------------------------------


def page(listed: tuple[Listed, ...], screen: Screen, verbose: bool = False) -> str:
    """The listing as a table, and below it each fault in full."""
    from passes.tables import Column, listing

    if not listed:
        return screen.finish(["No plugins."])
    columns = [
        Column("plugin"),
        Column("from", drop=2),
        Column("state"),
        *([Column("load", align="right", drop=1)] if verbose else []),
        Column("adds"),
        Column("name"),
        Column("what it is for", drop=3, elastic=True),
    ]
    rows = [row for one in listed for row in _rows(one, verbose)]
    lines = listing(columns, rows, screen)
    return screen.finish([*lines, *_faults(listed, screen, verbose)])


def _rows(one: Listed, verbose: bool) -> Iterator[list[str]]:
    """A row for each thing that a plugin adds; who it is stands in the first."""
    from passes.tables import UNKNOWN, plain

    origin = one.origin
    whence = plain(f"{origin.distribution} {origin.version}".strip(), 40)
    head = [plain(origin.plugin, 40), whence, one.state]
    head += [f"{one.load_s * 1e3:.0f} ms"] if verbose else []
    if not one.provided:
        yield [*head, UNKNOWN, "", ""]
    for provided in one.provided:
        item = provided.item
        yield [*head, item.word, plain(item.name, 40), plain(item.summary)]
        head = [""] * len(head)


def _faults(listed: tuple[Listed, ...], screen: Screen, verbose: bool) -> Iterator[str]:
    from passes.tables import paragraph, plain

    problems = [problem for one in listed for problem in one.problems]
    if not problems:
        return
    yield ""
    yield screen.bold("What went wrong")
    for problem in problems:
        yield from paragraph(problem.line(), screen, "  ")
        if verbose:
            for line in problem.detail().splitlines():
                indent = len(line) - len(line.lstrip())
                yield f"    {' ' * indent}{plain(line)}"
