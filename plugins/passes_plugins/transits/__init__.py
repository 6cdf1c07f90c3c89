"""Transits of the Moon and the Sun, and where to drive to see them central.

The settings of ``[plugins.transits]``: ``sizes`` names a table of dimensions with the
columns of the packaged one.
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


def _load() -> click.Command:
    from passes_plugins.transits.command import command

    return command


def _report(briefing: SessionBriefing) -> Report:
    from passes_plugins.transits.reporting import report

    return report(briefing)


def _strips(briefing: SessionBriefing) -> Report:
    from passes_plugins.transits.reporting import strips

    return strips(briefing)


def _geojson(answer: Answer) -> str:
    from passes_plugins.transits.as_geojson import export

    return export(answer)


def _kml(answer: Answer) -> str:
    from passes_plugins.transits.as_kml import export

    return export(answer)


def _gpx(answer: Answer) -> str:
    from passes_plugins.transits.as_gpx import export

    return export(answer)


@hookimpl
def passes_commands() -> Iterator[Command]:
    yield Command(
        name="transits",
        summary="In front of the Moon or the Sun, and where to drive to see it.",
        load=_load,
    )


@hookimpl
def passes_session_reporters() -> Iterator[SessionReporter]:
    yield SessionReporter(
        name="transits",
        summary="Transits of the Moon and the Sun during a session.",
        report=_report,
        kinds=("transit",),
    )
    yield SessionReporter(
        name="transit-strips",
        summary="Transits to be seen from the site or from a strip within reach.",
        report=_strips,
        kinds=("transit-strip",),
        unasked=False,
    )


@hookimpl
def passes_exporters() -> Iterator[Exporter]:
    for name, export, what in (
        ("geojson", _geojson, "GeoJSON (RFC 7946)"),
        ("kml", _kml, "KML 2.2 (OGC 07-147r2)"),
        ("gpx", _gpx, "GPX 1.1"),
    ):
        yield Exporter(
            name=name,
            summary=f"Strips of transits on the ground as {what}.",
            export=export,
            accepts=("transits",),
            suffixes=(f".{name}",),
        )
