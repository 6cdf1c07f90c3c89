"""Transits during a session, for whoever plans the night."""

from __future__ import annotations

from typing import TYPE_CHECKING

from passes.model import Note, Report
from passes_plugins.transits.cautions import cautions
from passes_plugins.transits.document import transit
from passes_plugins.transits.finding import find
from passes_plugins.transits.wanted import Wanted

if TYPE_CHECKING:
    from passes.contributions import SessionBriefing


def report(briefing: SessionBriefing) -> Report:
    """What crosses the Moon or the Sun at the site within the services' window."""
    from passes.errors import PassesError

    wanted = Wanted(whole_window=True)
    try:
        found = find(briefing.services, wanted)
    except PassesError as error:  # nothing to search, or elements too old
        return Report(
            kind="transit", reporter="transits", notes=(Note(text=str(error)),)
        )
    bodies = {event.details["body"] for event in found.events}
    warnings = cautions(bodies, found.events) if bodies else ()
    return Report(
        kind="transit",
        reporter="transits",
        events=found.events,
        rows=tuple(transit(found, event) for event in found.events),
        notes=(
            *found.notes,
            *(Note(text=text, severity="warning") for text in warnings),
        ),
        summary={"transits": len(found.events), "objects": found.searched},
    )
