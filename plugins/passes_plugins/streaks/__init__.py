"""Which subs a satellite marks and whether it matters: the reporter and its command.

The settings of ``[plugins.streaks]`` are listed in :class:`.choices.Choices`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from passes.contributions import Command, SessionReporter
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import click

    from passes.contributions import SessionBriefing
    from passes.model import Report


def _report(briefing: SessionBriefing) -> Report:
    from passes_plugins.streaks.reporting import report

    return report(briefing)


def _place(briefing: SessionBriefing) -> Report:
    from passes_plugins.streaks.placing_report import report

    return report(briefing)


def _load() -> click.Command:
    from passes_plugins.streaks.command import command

    return command


def _load_gate() -> click.Command:
    from passes_plugins.streaks.gate_command import command

    return command


def _load_identify() -> click.Command:
    from passes_plugins.streaks.identify_command import command

    return command


@hookimpl
def passes_session_reporters() -> Iterator[SessionReporter]:
    yield SessionReporter(
        name="streaks",
        summary="Which subs a satellite marks, and whether it matters in the stack.",
        report=_report,
        kinds=("streak",),
    )
    yield SessionReporter(
        name="streak-placing",
        summary="When to hold subs so that most exposure is kept.",
        report=_place,
        kinds=("placing",),
    )


@hookimpl
def passes_commands() -> Iterator[Command]:
    yield Command(
        name="streaks",
        summary="Which subs a satellite marks, and whether it matters.",
        load=_load,
    )
    yield Command(
        name="gate",
        summary="May the shutter open now: open, wait or dither.",
        load=_load_gate,
    )
    yield Command(
        name="identify",
        summary="Who made a streak seen in an image.",
        load=_load_identify,
    )
