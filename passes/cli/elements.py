"""``passes elements``: what element files hold and what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import COMMANDS
from passes.options import Evening, Output, program, writes
from passes.options.asking import expanded, max_size, read_limits

if TYPE_CHECKING:
    from passes.elements import Reading
    from passes.elements.checking import ElementsCheck
    from passes.model import Span

CSV_COLUMNS = ("finding", "where_or_when", "catalog_number", "name", "reason")
_DAY = timedelta(days=1)


@click.group("elements")
def command() -> None:
    """Keep, fetch, list and check element sets.

    \b
    Examples:
      passes elements add tonight.tle
      passes elements show 80001
    """


for _one in COMMANDS:
    command.add_command(_one)


@command.command("check")
@click.argument("files", nargs=-1, metavar="FILE...")
@click.option("--strict", is_flag=True, help="Stop at the first bad element set.")
@max_size
@click.option(
    "--date",
    "evening",
    type=Evening(),
    metavar="YYYY-MM-DD",
    help="Check for the 24 hours from noon UTC of this day. Default: from now.",
)
@click.option("--demo", is_flag=True, help="Check the invented elements of the demo.")
@writes("elements")
def check(
    files: tuple[str, ...],
    output: Output,
    strict: bool,
    max_size: float | None,
    evening: date | None,
    demo: bool,
) -> None:
    """Look through element files: what they hold, how old it is, what is wrong.

    FILE is TLE, or OMM as JSON, CSV, XML or KVN, also gzip, told apart by content;
    - is stdin.

    \b
    Examples:
      passes elements check active.tle
      passes elements check '*.tle' extra.json.gz --date 2029-03-17
      passes elements check --demo --json
    """
    from passes import objects, orbits
    from passes.elements import checking
    from passes.tables.element_check import check_page

    reading, window = _asked(files, strict, max_size, evening, demo)
    found = checking.check(
        reading,
        window,
        classify=objects.object_class,
        propagator=orbits.Propagator,
        words=orbits.ERROR_WORDS,
    )
    verbose = program().verbose
    output.write(
        table=lambda screen: check_page(found, screen, verbose, demo),
        document=lambda: document(found, demo),
        records=lambda: _records(found),
        columns=CSV_COLUMNS,
        items=lambda: (found,),
        window=window,
        demo=demo,
    )


def _asked(
    files: tuple[str, ...],
    strict: bool,
    max_size: float | None,
    evening: date | None,
    demo: bool,
) -> tuple[Reading, Span]:
    """The element sets to look through, and the day for which."""
    from passes import elements
    from passes.model import Span

    if bool(files) == demo:
        raise click.UsageError("name a FILE (or several), or give --demo alone")
    now = datetime.now(UTC)
    if demo:
        from passes.forecast.demo import Demo

        scenario = Demo.load()
        reading = elements.read_text(scenario.elements, "demo", strict=strict)
        now = scenario.clock
    else:
        limits = read_limits(max_size)
        reading = elements.read(expanded(files), strict=strict, **limits)
    start = datetime.combine(evening, time(12), UTC) if evening else now
    return reading, Span(start=start, end=start + _DAY)


# --- for machines ------------------------------------------------------------


def document(found: ElementsCheck, demo: bool = False) -> dict[str, Any]:
    """The JSON shape of a check (``schemas/elements_check.json``)."""
    from dataclasses import asdict

    return {
        "files": [
            {"file": f.origin, "form": f.form, "records": f.records, "used": f.used}
            for f in found.files
        ],
        "window": {"start": _iso(found.window.start), "end": _iso(found.window.end)},
        "sets": found.sets,
        "objects": found.objects,
        "classes": found.classes,
        "orbits": found.orbits,
        "counts": [
            {"object_class": kind, "orbit": orbit, "objects": n}
            for (kind, orbit), n in sorted(found.counts.items())
        ],
        "epochs": {"first": _iso(found.first_epoch), "last": _iso(found.last_epoch)},
        "median_age_days": found.median_age_days,
        "greatest_age_days": found.greatest_age_days,
        "stale": found.stale,
        "several_sets": [asdict(several) for several in found.several],
        "rejected": [asdict(skipped) for skipped in found.rejected],
        "refused": [{**asdict(r), "time": _iso(r.time)} for r in found.refused],
        "notes": list(found.notes),
        "demo": demo,
    }


def _iso(moment: datetime | None) -> str | None:
    if moment is None:
        return None
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _records(found: ElementsCheck) -> Iterator[dict[str, Any]]:
    """One row for everything that deserves a look."""
    rows: list[tuple[Any, ...]] = [
        ("rejected", s.where, s.catalog_number, s.name, s.reason)
        for s in found.rejected
    ]
    rows += [
        ("refused", _iso(r.time), r.catalog_number, r.name, r.reason)
        for r in found.refused
    ]
    rows += [
        ("several sets", None, s.catalog_number, s.name, f"{s.sets} sets")
        for s in found.several
    ]
    return (dict(zip(CSV_COLUMNS, row, strict=True)) for row in rows)
