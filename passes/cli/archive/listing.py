"""``passes elements list``: what the archive holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import common
from passes.options import Finite, Output, writes

if TYPE_CHECKING:
    from passes.archive import Archive, Holdings
    from passes.archive.holding import Listed
    from passes.tables import Screen

_CLASSES = ("station", "payload", "rocket body", "debris", "unknown")
_SHOWN = 30
CSV_COLUMNS = (
    *("catalog_number", "name", "designator", "object_class", "sets"),
    *("first_epoch", "last_epoch", "age_days"),
)


@click.command("list")
@click.argument("text", required=False, default="", metavar="[NAME_OR_NUMBER]")
@click.option(
    "--class", "object_class", type=click.Choice(_CLASSES), help="Only this class."
)
@click.option(
    "--older-than",
    "older_days",
    type=Finite(0.0, 36500.0, " days"),
    metavar="DAYS",
    help="Only objects whose newest set is older.",
)
@click.option(
    "--newer-than",
    "newer_days",
    type=Finite(0.0, 36500.0, " days"),
    metavar="DAYS",
    help="Only objects with a set that new.",
)
@click.option("--all", "everything", is_flag=True, help="Show all, however many.")
@writes("archive")
def listing(
    text: str,
    object_class: str | None,
    older_days: float | None,
    newer_days: float | None,
    everything: bool,
    output: Output,
) -> None:
    """What the archive holds: objects, classes, ages.

    The age is that of an object's newest set, now.

    \b
    Examples:
      passes elements list
      passes elements list --class station
      passes elements list R/B --older-than 7 --all
    """
    from passes.archive import Filter

    archive = common.the_archive()
    chosen = Filter(
        text=text,
        object_class=object_class or "",
        older_days=older_days,
        newer_days=newer_days,
    )
    held = archive.holdings(common.now())
    listed = archive.listing(common.now(), chosen)
    most = len(listed) if everything else _SHOWN
    output.write(
        table=lambda screen: page(
            archive, held, listed, chosen != Filter(), most, screen
        ),
        document=lambda: document(archive, held, listed),
        records=lambda: [_record(one) for one in listed],
        columns=CSV_COLUMNS,
        items=lambda: listed,
    )


def document(
    archive: Archive, held: Holdings, listed: Sequence[Listed]
) -> dict[str, Any]:
    """The JSON shape (``schemas/elements_list.json``)."""
    return {
        "archive": str(archive.path),
        "holds": common.holdings_document(held),
        "objects": [_record(one) for one in listed],
    }


def _record(one: Listed) -> dict[str, Any]:
    times = {
        key: common.iso(getattr(one, key)) for key in ("first_epoch", "last_epoch")
    }
    return {**asdict(one), **times, "age_days": round(one.age_days, 3)}


def page(
    archive: Archive,
    held: Holdings,
    listed: Sequence[Listed],
    filtered: bool,
    most: int,
    screen: Screen,
) -> str:
    """The archive as a page of text."""
    from passes.tables import labelled, paragraph, plain

    lines = labelled([("Archive", plain(str(archive.path), 400))], screen)
    if not held.objects:
        hint = "It is empty: passes elements add FILE, or passes elements fetch."
        return screen.finish([*lines, *paragraph(hint, screen)])
    lines += labelled(_heading(held), screen)
    if filtered:
        found = f"{common.many(len(listed), 'object')} of {held.objects:,} match."
        lines += ["", *paragraph(found, screen)]
    lines += ["", *_table(listed[:most], screen)] if listed else []
    if len(listed) > most:
        rest = f"… and {len(listed) - most:,} more: --all shows all of them."
        lines += paragraph(rest, screen)
    return screen.finish(lines)


def _heading(held: Holdings) -> list[tuple[str, str]]:
    from passes.tables import counted_classes

    pairs = [
        ("Holds", f"{held.objects:,} objects in {held.sets:,} element sets"),
        ("Classes", counted_classes(held.classes)),
    ]
    if lacks := common.lacks(held.classes).strip():
        pairs.append(("Missing", lacks))
    if held.first_epoch and held.last_epoch:
        epochs = (
            f"{common.minute(held.first_epoch)} to {common.minute(held.last_epoch)} UTC"
        )
        pairs.append(("Epochs", epochs))
    oldest = common.age(held.oldest_age_days)
    ages = f"half within {common.age(held.median_age_days)}, the oldest {oldest}"
    if gone := held.objects - held.usable:
        ages += (
            f"; {common.many(gone, 'object')} over 30 days away do not serve tonight"
        )
    return [*pairs, ("Age", ages)]


def _table(listed: Sequence[Listed], screen: Screen) -> list[str]:
    from passes.tables import Column, listing, plain

    columns = [
        Column("Number", "right"),
        Column("Object", elastic=True),
        Column("Designator", drop=2),
        Column("Class", drop=1),
        Column("Sets", "right"),
        Column("Newest epoch"),
        Column("Age", "right"),
    ]
    rows = [
        [
            str(one.catalog_number),
            plain(one.name),
            plain(one.designator, 20),
            one.object_class,
            f"{one.sets:,}",
            common.minute(one.last_epoch),
            common.age(one.age_days),
        ]
        for one in listed
    ]
    return listing(columns, rows, screen)
