"""``passes elements export``: element sets out of the archive again."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from passes.cli.archive import common
from passes.errors import NothingToSearch
from passes.options import Evening, program, to_stdout

if TYPE_CHECKING:
    from passes.elements import Catalogue

_SUFFIXES = {".json": "omm", ".tle": "tle", ".txt": "tle"}


@click.command("export")
@click.argument("names", nargs=-1, metavar="[OBJECT...]")
@click.option(
    "--format",
    "form",
    type=click.Choice(["tle", "omm"]),
    help="Two-line text, or messages as JSON. Default: by the suffix, else omm.",
)
@click.option("--history", is_flag=True, help="Every set, not only the nearest.")
@click.option(
    "--date",
    "day",
    type=Evening(),
    metavar="YYYY-MM-DD",
    help="The sets nearest to this day. Default: to now.",
)
@click.option(
    "--output",
    "path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="FILE",
    help="Write there, whole or not at all.",
)
def export(
    names: tuple[str, ...],
    form: str | None,
    history: bool,
    day: date | None,
    path: Path | None,
) -> None:
    """Write element sets of the archive as text that others can read.

    Two lines hold numbers up to 339999; messages (OMM, CCSDS 502.0-B) hold all.

    \b
    Examples:
      passes elements export --output all.json
      passes elements export 80001 --format tle
      passes elements export --history --output every.tle
    """
    from passes import elements
    from passes.options.files import check_writable, write_whole

    to_file = path is not None and str(path) != "-"
    if path is not None and to_file:
        check_writable(path)
    suffix = path.suffix.lower() if path is not None else ""
    form = form or _SUFFIXES.get(suffix, "omm")
    catalogue = _chosen(names, history, day)
    if form == "tle":
        content = elements.tle_text(_fitting(catalogue)).encode()
    else:
        content = elements.omm_text(catalogue)
    if path is None or not to_file:
        to_stdout(content)
        return
    write_whole(path, content)
    program().say(f"wrote {path}: {common.many(len(catalogue), 'element set')}")


def _chosen(names: tuple[str, ...], history: bool, day: date | None) -> Catalogue:
    import numpy as np

    archive = common.the_archive()
    when = datetime.combine(day, time(12), UTC) if day else common.now()
    found = archive.every() if history else archive.nearest(when, publishing=True)
    if names:
        numbers = common.numbers_of(archive, names)
        found = found.take(np.isin(found.catalog_number, numbers))
    if not len(found):
        raise NothingToSearch(
            "the archive holds no element sets to export: passes elements add FILE"
        )
    return found


def _fitting(catalogue: Catalogue) -> Catalogue:
    """What two lines can hold; the rest is told."""
    from passes import elements

    fits = elements.fits_tle(catalogue)
    if left := int((~fits).sum()):
        program().say(
            f"passes: {common.many(left, 'element set')} do not fit two lines and were "
            "left out; --format omm writes all"
        )
    return catalogue.take(fits)
