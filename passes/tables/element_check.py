"""The page of ``passes elements check``: what the files hold and what is wrong."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from passes.elements import rejected_lines
from passes.elements.checking import ORBITS, ElementsCheck
from passes.tables.layout import Column, Screen, labelled, listing, paragraph
from passes.tables.text import plain

#: How many findings of one kind a page shows before it counts the rest.
_SHOWN = 10


def check_page(
    found: ElementsCheck, screen: Screen, verbose: bool = False, demo: bool = False
) -> str:
    """The check as a page of text."""
    lines = paragraph("Demo: the objects are invented.", screen) if demo else []
    lines += labelled(_heading(found), screen)
    if found.counts:
        lines += ["", *_counted(found, screen)]
    lines += _rejected(found, screen, verbose)
    lines += _refused(found, screen, verbose)
    lines += _several(found, screen, verbose)
    return screen.finish(lines)


def _heading(found: ElementsCheck) -> list[tuple[str, str]]:
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
    if not found.rejected:
        return ["", "Every record could be used."]
    lines = ["", f"Left out, {len(found.rejected):,}:"]
    for line in rejected_lines(found.rejected, verbose=verbose):
        lines += paragraph(f"  {plain(line, 400)}", screen, "    ")
    return lines


def _refused(found: ElementsCheck, screen: Screen, verbose: bool) -> list[str]:
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
