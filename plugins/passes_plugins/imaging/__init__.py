"""How to shoot one pass or transit with a rig: the adviser and its command.

The settings of ``[plugins.imaging]`` are listed in :class:`.choices.Choices`; what is
read of a transit's details is listed in :mod:`.transit`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from passes.contributions import Adviser, Command
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import click

    from passes.contributions import Briefing
    from passes.model import Advice


def _advise(briefing: Briefing) -> Advice:
    from passes_plugins.imaging.advising import advise
    from passes_plugins.imaging.chart import pictured

    return pictured(advise(briefing), briefing)


def _load() -> click.Command:
    from passes_plugins.imaging.command import command

    return command


@hookimpl
def passes_advisers() -> Iterator[Adviser]:
    yield Adviser(
        name="imaging",
        summary="Pointing, shutter, gain, frame rate and recording times for a rig.",
        advise=_advise,
    )


@hookimpl
def passes_commands() -> Iterator[Command]:
    yield Command(
        name="advise",
        summary="How to shoot one pass with these rigs.",
        load=_load,
    )
