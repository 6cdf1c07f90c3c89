"""The night on one page, for a phone with no network and for paper."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from passes.contributions import Command
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import click


def _load() -> click.Command:
    from passes_plugins.sheet.command import command

    return command


@hookimpl
def passes_commands() -> Iterator[Command]:
    yield Command(
        name="sheet",
        summary="The night on one page, for a phone with no network.",
        load=_load,
    )
