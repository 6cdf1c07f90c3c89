"""Transits during a session, for whoever plans the night."""

from __future__ import annotations

from typing import TYPE_CHECKING

from passes.errors import PassesError
from passes.model import Note, Report
from passes_plugins.transits.cautions import cautions
from passes_plugins.transits.document import transit
from passes_plugins.transits.drawing import REACH_KM, pictures_of
from passes_plugins.transits.finding import find
from passes_plugins.transits.wanted import Wanted

if TYPE_CHECKING:
    from passes.contributions import SessionBriefing


def report(briefing: SessionBriefing) -> Report:
    """What crosses the Moon or the Sun at the site within the services' window."""
    return _report(briefing, "transit", Wanted(whole_window=True))


def strips(briefing: SessionBriefing) -> Report:
    """The same, and what is worth a drive: strips on the ground within reach."""
    wanted = Wanted(whole_window=True, reach_km=REACH_KM)
    return _report(briefing, "transit-strip", wanted)


def _report(briefing: SessionBriefing, kind: str, wanted: Wanted) -> Report:
    try:
        found = find(briefing.services, wanted)
    except PassesError as error:  # nothing to search, or elements too old
        note = Note(text=str(error))
        return Report(kind=kind, reporter="transits", notes=(note,))
    bodies = {event.details["body"] for event in found.events}
    warnings = cautions(bodies, found.events) if bodies else ()
    return Report(
        kind=kind,
        reporter="transits",
        events=found.events,
        rows=tuple(transit(found, event) for event in found.events),
        notes=(
            *found.notes,
            *(Note(text=text, severity="warning") for text in warnings),
        ),
        summary={"transits": len(found.events), "objects": found.searched},
        pictures=pictures_of(found, briefing.session.rigs),
    )
