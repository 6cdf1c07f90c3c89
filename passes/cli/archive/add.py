"""``passes elements add``: keep element sets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import common
from passes.options import Output, program, writes
from passes.options.asking import expanded, max_size, read_limits

if TYPE_CHECKING:
    from passes.archive import Added, Archive, Holdings
    from passes.elements import Reading
    from passes.tables import Screen


@click.command("add")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--strict", is_flag=True, help="Add nothing if anything is bad.")
@max_size
@writes("archive", csv=False)
def add(
    files: tuple[str, ...], strict: bool, max_size: float | None, output: Output
) -> None:
    """Keep the element sets of files in the archive.

    FILE is TLE or OMM, also gzip, told apart by content; - is stdin. What is kept
    already is left as it is, so that files may be given again and again.

    \b
    Examples:
      passes elements add active.tle
      passes elements add '*.tle.gz'
      passes elements add - < new.json
    """
    from passes import elements

    limits = read_limits(max_size)
    reading = elements.read(expanded(files), strict=strict, **limits)
    archive = common.the_archive()
    added = archive.add(reading.catalogue, common.now())
    tell(reading, added, archive)
    held = archive.holdings(common.now())
    output.write(
        table=lambda screen: page(added, held, archive, screen),
        document=lambda: document(reading, added, held, archive),
    )


def tell(reading: Reading, added: Added, archive: Archive) -> None:
    """On stderr: what was left out, and what became of a damaged archive."""
    from passes.elements import rejected_lines
    from passes.tables import plain

    run = program()
    if added.aside:
        run.say(
            f"passes: the archive {archive.path} was damaged; it was set aside as "
            f"{added.aside} and a new one begun"
        )
    for line in rejected_lines(reading.rejected, verbose=run.verbose):
        run.say(f"passes: {plain(line, 400)}")
    for note in reading.notes:
        run.say(f"passes: {plain(note, 400)}")


def page(added: Added, held: Holdings, archive: Archive, screen: Screen) -> str:
    """What was added, for people."""
    from passes.tables import paragraph

    lines = paragraph(sentence(added), screen)
    return screen.finish([*lines, *paragraph(common.holds(held), screen)])


def sentence(added: Added) -> str:
    """What was added, in one sentence."""
    known = added.sets - added.new
    if not added.new:
        known_all = common.many(added.sets, "element set")
        return f"Nothing new; kept already: {known_all}."
    said = f"Added {common.many(added.new, 'element set')}"
    said += f" with {common.many(added.new_objects, 'new object')}"
    return said + (f"; {known:,} were kept already." if known else ".")


def document(
    reading: Reading, added: Added, held: Holdings, archive: Archive
) -> dict[str, Any]:
    """The JSON shape (``schemas/elements_add.json``)."""
    return {
        "archive": str(archive.path),
        "read": len(reading.catalogue),
        "rejected": [
            {"where": one.where, "reason": one.reason} for one in reading.rejected
        ],
        "added": added.new,
        "added_objects": added.new_objects,
        "set_aside": added.aside or None,
        "holds": common.holdings_document(held),
    }
