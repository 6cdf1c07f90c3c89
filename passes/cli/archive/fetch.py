"""``passes elements fetch``: fresh element sets from the sources, politely."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import common
from passes.cli.archive.add import sentence
from passes.cli.archive.sources import USUAL_HOURS
from passes.errors import NothingToSearch, PassesError, PluginFailed, UnknownName
from passes.options import Output, Progress, program, writes

if TYPE_CHECKING:
    from passes.archive import Added, Archive, Holdings, SourceState
    from passes.contributions import ElementBatch
    from passes.tables import Screen

#: How long the bar of a download is, characters.
_BAR = 20
#: No source is left alone for longer because it said so.
_LONGEST_WAIT = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How it went with one source: new, unchanged, not due, failed."""

    name: str
    state: str
    told: str
    added: int = 0
    sets: int = 0


@click.command("fetch")
@click.argument("names", nargs=-1, metavar="[NAME...]")
@click.option("--force", is_flag=True, help="Ask even if it is not time yet.")
@writes("archive", csv=False)
def fetch(names: tuple[str, ...], force: bool, output: Output) -> None:
    """Fetch fresh element sets from the sources of the configuration.

    Without NAME from all of them. A source is asked no more often than its
    every_hours; what comes is kept only if it is whole and can be read.

    \b
    Examples:
      passes elements fetch
      passes elements fetch stations --force
    """
    archive = common.the_archive()
    tables = _asked(names)
    archive.holdings(common.now())  # an archive that cannot be used is told first
    outcomes = [_fetched(archive, name, table, force) for name, table in tables.items()]
    held = archive.holdings(common.now())
    output.write(
        table=lambda screen: page(outcomes, held, screen),
        document=lambda: document(outcomes, held, archive),
    )
    if any(one.state == "failed" for one in outcomes):
        click.get_current_context().exit(1)


def _asked(names: tuple[str, ...]) -> Mapping[str, Mapping[str, Any]]:
    known = program().config().sources
    if not known:
        raise NothingToSearch(
            "no sources of element sets: passes elements sources writes the usual ones"
        )
    for name in names:
        if name not in known:
            raise UnknownName("source", name, known)
    return {name: known[name] for name in names or known}


def _fetched(
    archive: Archive, name: str, table: Mapping[str, Any], force: bool
) -> Outcome:
    """Ask one source and keep what comes; whatever goes wrong is one line."""
    from passes.archive import SourceState

    state = archive.source(name)
    url = str(table.get("url", ""))
    state = state if state.url == url else SourceState(name=name, url=url)
    hours = float(table.get("every_hours", USUAL_HOURS))
    if not force and (due := _due(state, hours)) and due > common.now():
        return Outcome(name=name, state="not due", told=_not_due(state, due))
    try:
        return _kept(archive, name, table, state)
    except PassesError as error:
        cause = error.__cause__ if isinstance(error, PluginFailed) else None
        known = isinstance(cause, PassesError)
        _remember_refusal(archive, state, cause)
        return Outcome(name=name, state="failed", told=str(cause if known else error))


def _due(state: SourceState, hours: float) -> datetime | None:
    """When the source may be asked again; None is at once.

    What lies further ahead than a clock that is right could have put it was noted by
    one that was wrong, and holds nobody up.
    """
    now = common.now()
    times = []
    if state.wait_until and state.wait_until <= now + _LONGEST_WAIT:
        times.append(state.wait_until)
    if state.asked and state.asked <= now:
        times.append(state.asked + timedelta(hours=hours))
    return max(times, default=None)


def _not_due(state: SourceState, due: datetime) -> str:
    asked = f"asked {common.minute(state.asked)} UTC; " if state.asked else ""
    return f"{asked}not again before {common.minute(due)} UTC (--force asks anyway)"


def _remember_refusal(archive: Archive, state: SourceState, cause: Any) -> None:
    """A source that answered, even by a refusal, is left alone for its interval."""
    if not getattr(cause, "heard", False):
        return
    wait_s = getattr(cause, "retry_after_s", None)
    wait = (
        common.now() + timedelta(seconds=min(wait_s, _LONGEST_WAIT.total_seconds()))
        if wait_s
        else None
    )
    archive.remember(replace(state, asked=common.now(), wait_until=wait))


def _kept(
    archive: Archive, name: str, table: Mapping[str, Any], state: SourceState
) -> Outcome:
    from passes import elements

    progress = Progress(program())
    try:
        batch = _batch(name, table, state, _reporting(progress, name))
    finally:
        progress.clear()
    now = common.now()
    heard = replace(state, asked=now, answered=now, wait_until=None)
    heard = replace(heard, validators=batch.validators)
    if batch.unchanged:
        archive.remember(heard)
        return Outcome(name=name, state="unchanged", told="nothing new since last time")
    try:
        reading = elements.read_text(batch.content, batch.origin or name)
    except PassesError:
        archive.remember(replace(state, asked=now))
        raise
    added = archive.add_fetched(reading.catalogue, heard, now)
    told = _told(added, len(reading.rejected))
    kind = "new" if added.new else "unchanged"
    return Outcome(name=name, state=kind, told=told, added=added.new, sets=added.sets)


def _told(added: Added, rejected: int) -> str:
    said = sentence(added)
    if rejected:
        said += f" {common.many(rejected, 'record')} could not be read."
    return said


def _batch(
    name: str,
    table: Mapping[str, Any],
    state: SourceState,
    progress: Callable[[int, int | None], None],
) -> ElementBatch:
    from passes.contributions import ElementQuery, ElementSource
    from passes.registry import ask

    registry = program().registry()
    provided = registry.named(ElementSource, str(table.get("kind", "http")))
    query = ElementQuery(
        name=name, settings=table, validators=state.validators, progress=progress
    )
    return registry.requested(provided, lambda source: ask(source, query))


def _reporting(progress: Progress, name: str) -> Callable[[int, int | None], None]:
    """A bar where the size is known, else the kilobytes that came."""

    def report(came: int, total: int | None) -> None:
        if total:
            done = min(_BAR, _BAR * came // total)
            bar = "#" * done + "-" * (_BAR - done)
            progress(f"fetching {name} [{bar}]", came, total)
        else:
            progress(f"fetching {name}, KiB", came // 1024, 0)

    return report


def page(outcomes: list[Outcome], held: Holdings, screen: Screen) -> str:
    """How it went, one line a source, and what the archive holds then."""
    from passes.tables import labelled, paragraph, plain

    pairs = [(plain(one.name, 30), plain(one.told, 400)) for one in outcomes]
    lines = labelled(pairs, screen)
    return screen.finish([*lines, "", *paragraph(common.holds(held), screen)])


def document(
    outcomes: list[Outcome], held: Holdings, archive: Archive
) -> dict[str, Any]:
    """The JSON shape (``schemas/elements_fetch.json``)."""
    return {
        "archive": str(archive.path),
        "sources": [
            {
                "name": one.name,
                "state": one.state,
                "told": one.told,
                "sets": one.sets,
                "added": one.added,
            }
            for one in outcomes
        ],
        "holds": common.holdings_document(held),
    }
