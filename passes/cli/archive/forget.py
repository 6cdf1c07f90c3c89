"""``passes elements forget``: let go of element sets, by object or by age."""

from __future__ import annotations

from datetime import timedelta

import click

from passes.cli.archive import common
from passes.options import Finite, program


@click.command("forget")
@click.argument("names", nargs=-1, metavar="[OBJECT...]")
@click.option(
    "--older-than",
    "older_days",
    type=Finite(0.0, 36500.0, " days"),
    metavar="DAYS",
    help="Only sets whose epoch is that long ago.",
)
@click.option("--yes", is_flag=True, help="Do not ask.")
def forget(names: tuple[str, ...], older_days: float | None, yes: bool) -> None:
    """Let go of element sets: of some objects, beyond some age, or both.

    It asks first. OBJECT is a catalogue number or a name.

    \b
    Examples:
      passes elements forget --older-than 60
      passes elements forget 80001 --yes
    """
    if not names and older_days is None:
        raise click.UsageError("say which OBJECT, or --older-than DAYS")
    archive = common.the_archive()
    numbers = common.numbers_of(archive, names)
    before = None if older_days is None else common.now() - timedelta(days=older_days)
    count = archive.would_forget(numbers, before)
    if not count:
        program().say("passes: nothing in the archive is meant by that")
        return
    what = common.many(count, "element set")
    if numbers:
        what += f" of {common.many(len(numbers), 'object')}"
    if not yes:
        from passes.tables import plain

        where = plain(str(archive.path), 400)
        click.confirm(f"Forget {what} in {where}?", abort=True, err=True)
    gone = archive.forget(numbers, before)
    click.echo(f"Forgot {common.many(gone, 'element set')}.")
    click.echo(common.holds(archive.holdings(common.now())))
