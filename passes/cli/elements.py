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
    from passes.tables import Screen

CSV_COLUMNS = ("finding", "where_or_when", "catalog_number", "name", "reason")
#: How many findings of one kind a page shows before it counts the rest.
_SHOWN = 10
_DAY = timedelta(days=1)


@click.group("elements")
def command() -> None:
    """Keep, fetch, list and check element sets.

    \b
    Examples:
      passes elements add tonight.tle
      passes elements show 25544
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
      passes elements check '*.tle' extra.json.gz --date 2025-09-14
      passes elements check --demo --json
    """
    from passes import objects, orbits
    from passes.elements import checking

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
        table=lambda screen: page(found, screen, verbose, demo),
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


# --- for people --------------------------------------------------------------


def page(
    found: ElementsCheck, screen: Screen, verbose: bool = False, demo: bool = False
) -> str:
    """The check as a page of text."""
    from passes.tables import labelled, paragraph

    lines = paragraph("Demo: the objects are invented.", screen) if demo else []
    lines += labelled(_heading(found), screen)
    if found.counts:
        lines += ["", *_counted(found, screen)]
    lines += _rejected(found, screen, verbose)
    lines += _refused(found, screen, verbose)
    lines += _several(found, screen, verbose)
    return screen.finish(lines)


def _heading(found: ElementsCheck) -> list[tuple[str, str]]:
    from passes.tables import plain

    pairs = [
        (
            "File",
            f"{plain(f.origin)}: {f.form}, {f.used:,} of {f.records:,} records used",
        )
        for f in found.files
    ]
    pairs.append(("Objects", f"{found.objects:,} in {found.sets:,} element sets"))
    if found.first_epoch and found.last_epoch:
        epochs = f"{_minute(found.first_epoch)} to {_minute(found.last_epoch)} UTC"
        pairs.append(("Epochs", epochs))
        pairs.append(("Age", _age(found)))
    return pairs + [("Note", plain(note)) for note in found.notes]


def _age(found: ElementsCheck) -> str:
    start = f"{_minute(found.window.start)} UTC"
    said = (
        f"at {start} half of them within {found.median_age_days:.1f} days,"
        f" the furthest {found.greatest_age_days:.1f}"
    )
    if found.stale:
        said += f"; {found.stale:,} more than a week away from it"
    return said


def _counted(found: ElementsCheck, screen: Screen) -> list[str]:
    from passes.elements.checking import ORBITS
    from passes.tables import Column, listing, paragraph

    columns = [Column("Objects", elastic=True)]
    columns += [Column(orbit, "right") for orbit in (*ORBITS, "all")]
    rows = [
        [kind, *(_count(found.counts.get((kind, o), 0)) for o in ORBITS), f"{total:,}"]
        for kind, total in found.classes.items()
    ]
    totals = [_count(found.orbits.get(orbit, 0)) for orbit in ORBITS]
    rows.append(["all", *totals, f"{found.objects:,}"])
    legend = (
        "low: never above 2,000 km. medium: nearly circular, below the geostationary"
        " height. geostationary-like: once a day, nearly circular, tilted by less than"
        " 20°. high or eccentric: all others."
    )
    return [*listing(columns, rows, screen), "", *paragraph(legend, screen)]


def _count(count: int) -> str:
    return f"{count:,}" if count else "–"


def _rejected(found: ElementsCheck, screen: Screen, verbose: bool) -> list[str]:
    from passes.elements import rejected_lines
    from passes.tables import paragraph, plain

    if not found.rejected:
        return ["", "Every record could be used."]
    lines = ["", f"Left out, {len(found.rejected):,}:"]
    for line in rejected_lines(found.rejected, verbose=verbose):
        lines += paragraph(f"  {plain(line, 400)}", screen, "    ")
    return lines


def _refused(found: ElementsCheck, screen: Screen, verbose: bool) -> list[str]:
    from passes.tables import Column, listing, plain

    span = f"{_minute(found.window.start)} and {_minute(found.window.end)} UTC"
    if not found.refused:
        return ["", f"SGP4 refuses none of them between {span}."]
    shown = found.refused if verbose else found.refused[:_SHOWN]
    rows = [
        [
            str(r.catalog_number),
            plain(r.name),
            f"{r.time:%d %H:%M}",
            f"{r.reason} ({r.code})",
        ]
        for r in shown
    ]
    columns = [
        Column("Number", "right"),
        Column("Object", elastic=True),
        Column("From"),
        Column("Why (SGP4's code)"),
    ]
    heading = f"SGP4 refuses {len(found.refused):,} of them between {span}:"
    return ["", heading, *listing(columns, rows, screen), *_rest(found.refused, shown)]


def _several(found: ElementsCheck, screen: Screen, verbose: bool) -> list[str]:
    from passes.tables import paragraph, plain

    if not found.several:
        return []
    shown = found.several if verbose else found.several[:_SHOWN]
    said = ", ".join(
        f"{s.catalog_number} {plain(s.name)} ({s.sets})".replace("  ", " ")
        for s in shown
    )
    heading = f"With several sets, {len(found.several):,} (the nearest in time serves):"
    lines = ["", *paragraph(heading, screen)]
    return [*lines, *paragraph(f"  {said}", screen, "  "), *_rest(found.several, shown)]


def _rest(every: tuple[Any, ...], shown: tuple[Any, ...]) -> list[str]:
    rest = len(every) - len(shown)
    return [f"  … and {rest:,} more (--verbose lists all)"] if rest else []


def _minute(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"
