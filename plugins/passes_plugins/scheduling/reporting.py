"""The schedule of a session as a report, for whoever shows the night."""

from __future__ import annotations

from typing import TYPE_CHECKING

from passes.model import Report, Session
from passes.plans.schedule import step_document
from passes_plugins.scheduling.gathering import gather
from passes_plugins.scheduling.leads import Leads
from passes_plugins.scheduling.planning import Placed

if TYPE_CHECKING:
    from passes.contributions import Services, SessionBriefing

#: As many passes as the command takes where nobody says how many.
_PASSES = 12


def report(briefing: SessionBriefing) -> Report:
    """What the command makes of this session with its usual choices.

    ``rows`` are steps as files have them; what other reporters said is in the
    briefing.
    """
    services = briefing.services
    leads = Leads.of(briefing.settings, {})
    found = gather(
        services,
        _placed(briefing.session, services),
        leads,
        limit=_PASSES,
        every=False,
        reports=briefing.reports,
    )
    made = found.schedule(services, leads)
    return Report(
        kind="schedule",
        reporter="schedule",
        rows=tuple(step_document(step) for step in made.steps),
        notes=made.notes,
        summary={"steps": len(made.steps)},
    )


def _placed(session: Session, services: Services) -> Placed | None:
    """The session's subs and the rig that exposes them, which does nothing else."""
    if not session.subs:
        return None
    name = session.subs[0].rig
    rig = services.rig(name) if name else session.rigs[0]
    others = any(one.name != rig.name for one in services.rigs)
    return Placed(
        targets=session.targets,
        subs=session.subs,
        rig=rig,
        services=services,
        reserved=frozenset({rig.name} if others else ()),
        overheads=session.overheads,
        dither_arcsec=session.dither_arcsec,
    )
