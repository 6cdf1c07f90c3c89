"""What a capture script should do when: schedules, and the same given out live.

Settings of ``[plugins.scheduling]``: ``ready_s``, ``point_s``, ``lead_s``, ``tail_s``
and ``turn_s`` (see :class:`.leads.Leads`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from passes.contributions import Command, Exporter, SessionReporter
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import click

    from passes.contributions import Answer, SessionBriefing
    from passes.model import Report


def _schedule() -> click.Command:
    from passes_plugins.scheduling.command import command

    return command


def _cue() -> click.Command:
    from passes_plugins.scheduling.cue_command import command

    return command


def _report(briefing: SessionBriefing) -> Report:
    from passes_plugins.scheduling.reporting import report

    return report(briefing)


def _calendar(answer: Answer) -> str:
    from passes_plugins.scheduling.calendar import export

    return export(answer)


def _lines(answer: Answer) -> str:
    from passes.plans.schedule import schedule_text

    return schedule_text(answer.items)


@hookimpl
def passes_commands() -> Iterator[Command]:
    yield Command(
        name="schedule",
        summary="What a capture script should do when.",
        load=_schedule,
    )
    yield Command(
        name="cue",
        summary="Give out the steps of a schedule, each at its time.",
        load=_cue,
    )


@hookimpl
def passes_session_reporters() -> Iterator[SessionReporter]:
    yield SessionReporter(
        name="schedule",
        summary="The night's steps, as the schedule command makes them.",
        report=_report,
        kinds=("schedule",),
        unasked=False,
        needs_reports=True,
    )


@hookimpl
def passes_exporters() -> Iterator[Exporter]:
    yield Exporter(
        name="jsonl",
        summary="A schedule as JSON Lines, one step a line.",
        export=_lines,
        accepts=("schedule",),
        suffixes=(".jsonl", ".ndjson"),
    )
    yield Exporter(
        name="icalendar-steps",
        summary="A calendar of a schedule's recordings, with alarms (RFC 5545).",
        export=_calendar,
        accepts=("schedule",),
        suffixes=(".ics",),
    )
