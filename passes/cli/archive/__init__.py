"""What ``passes elements`` does with the archive: one file a subcommand."""

import click

from passes.cli.archive.add import add
from passes.cli.archive.export import export
from passes.cli.archive.fetch import fetch
from passes.cli.archive.forget import forget
from passes.cli.archive.listing import listing
from passes.cli.archive.show import show
from passes.cli.archive.sources import sources

COMMANDS: tuple[click.Command, ...] = (
    add,
    export,
    fetch,
    forget,
    listing,
    show,
    sources,
)
