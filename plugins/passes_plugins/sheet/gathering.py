"""What the page tells: everything is asked of the services, nothing is known here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from passes.errors import PassesError
from passes.model import (
    Advice,
    Event,
    Note,
    Passage,
    Report,
    Rig,
    Session,
    Span,
    Step,
    Sub,
    Track,
)
from passes_plugins.sheet.records import Card, Elements, Sheet, Wishes

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.plans import Plan


#: Kinds of report that are asked for by name.
_SCHEDULE, _TRANSIT, _STRIP = "schedule", "transit", "transit-strip"


def gather(services: Services, wishes: Wishes) -> Sheet:
    """Ask for everything; what cannot be had becomes a problem named on the page."""
    problems: list[str] = []
    parts = {
        **_passes(services, wishes, problems),
        **_told(services, wishes, problems),
        **_crossing(services, wishes, problems),
    }
    return Sheet(
        site=services.site,
        night=services.night,
        window=services.window,
        made=services.clock(),
        demo=services.demo,
        elements=_elements(services, problems),
        rigs=wishes.rigs,
        **parts,
        problems=tuple(dict.fromkeys(problems)),
    )


def _passes(services: Services, wishes: Wishes, problems: list[str]) -> dict[str, Any]:
    """The passes worth it, and cards for the best of them, both in order of time."""
    worth = list(services.worth_seeing(wishes.limit))
    tracks = {passage.id: _track(services, passage) for passage, _ in worth}
    best = sorted(worth, key=lambda pair: -pair[1])[: wishes.cards]
    return {
        "passages": tuple(passage for passage, _ in worth),
        "tracks": tuple(tracks[passage.id] for passage, _ in worth),
        "worth": tuple(value for _, value in worth),
        "cards": tuple(
            Card(passage=p, track=tracks[p.id], advice=_advice(services, p, problems))
            for p, _ in sorted(best, key=lambda pair: pair[0].start)
        ),
    }


def _told(services: Services, wishes: Wishes, problems: list[str]) -> dict[str, Any]:
    """What reporters say of the session, and the schedule of it all."""
    session = _session(services, wishes.plan, problems)
    reports = _reports(services, session, problems)
    made = next((r for r in reports if r.kind == _SCHEDULE), Report(kind=_SCHEDULE))
    apart = {_SCHEDULE, _TRANSIT} if wishes.transit_days else {_SCHEDULE}
    return {
        "subs": session.subs,
        "reports": tuple(r for r in reports if r.kind not in apart),
        "schedule": tuple(wishes.schedule) or _steps(made, problems),
        "schedule_notes": () if wishes.schedule else made.notes,
        "schedule_given": bool(wishes.schedule),
    }


def _crossing(
    services: Services, wishes: Wishes, problems: list[str]
) -> dict[str, Any]:
    """Transits of the coming days, each once, with what can be drawn of it."""
    reports = _transits(services, wishes, problems)
    once = _once(reports)
    return {
        "transits": tuple(event for event, _ in once),
        "transit_notes": _notes(reports),
        "transit_pictures": tuple(
            p for event, r in once for p in r.pictures if p.about == event.id
        ),
        "transit_days": wishes.transit_days,
    }


def _track(services: Services, passage: Passage) -> Track:
    length_s = (passage.end - passage.start).total_seconds()
    return services.track(passage, max(2.0, length_s / 90.0))


def _elements(services: Services, problems: list[str]) -> Elements | None:
    from passes.objects import object_class

    try:
        catalogue = services.catalogue()
    except PassesError as error:
        problems.append(str(error))
        return None
    age = -catalogue.epoch_s(services.window.start) / 86400.0
    kinds = object_class(catalogue.name, catalogue.designator)
    return Elements(
        objects=len(catalogue),
        classes=dict(Counter(kinds).most_common()),
        median_age_days=float(np.median(age)) if age.size else float("nan"),
        oldest_age_days=float(age.max()) if age.size else float("nan"),
        left_out=len({one.catalog_number for one in catalogue.skipped}),
    )


def _advice(
    services: Services, passage: Passage, problems: list[str]
) -> tuple[Advice, ...]:
    """What every adviser says of one pass, rig by rig."""
    found: list[Advice] = []
    for rig in services.rigs:
        try:
            found += services.advise(passage, rig)
        except PassesError as error:
            problems.append(f"{rig.name}: {error}")
    return tuple(found)


# --- the session --------------------------------------------------------------------


def _session(services: Services, plan: Plan | None, problems: list[str]) -> Session:
    """What reporters are asked about: the night alone, or the plan's subs as well."""
    rigs = services.rigs
    bare = Session(night=services.night, rigs=rigs)
    if plan is None:
        return bare
    try:
        rig = services.rig(plan.rig) if plan.rig else None
    except PassesError as error:
        problems.append(f"{plan.where}: {error}")
        return bare
    if rig is not None and rig.name not in [one.name for one in rigs]:
        rigs = (*rigs, rig)
    return Session(
        night=services.night,
        rigs=rigs,
        targets=plan.targets,
        subs=_subs(services, plan, rig),
        overheads=None if plan.subs else plan.overheads,
        dither_arcsec=plan.dither_arcsec,
    )


def _subs(services: Services, plan: Plan, rig: Rig | None) -> tuple[Sub, ...]:
    """A plan's exposures as its rig takes them: turned, and flipped at the meridian."""
    from passes import sky
    from passes.plans import subs_of

    if rig is None:
        return subs_of(plan)
    flips = rig.mount.kind != "alt-azimuth"
    return subs_of(
        plan,
        transit=sky.transits_at(services.site) if flips else None,
        rotation_deg=rig.rotation_deg,
    )


def _reports(
    services: Services, session: Session, problems: list[str]
) -> tuple[Report, ...]:
    """What every reporter says, whoever it comes from, and the schedule of it all."""
    try:
        return tuple(services.report(session, ("*", _SCHEDULE)))
    except PassesError as error:
        problems.append(str(error))
        return ()


def _steps(made: Report, problems: list[str]) -> tuple[Step, ...]:
    """A schedule's steps from the rows that a reporter gives, read as a file is."""
    from passes.plans.schedule import json_line, read_schedule_text

    where = f"schedule of reporter {made.reporter}"
    try:
        lines = b"".join(json_line(dict(row)) for row in made.rows)
        reading = read_schedule_text(lines, where)
    except (PassesError, TypeError, ValueError) as error:  # rows may hold anything
        problems.append(f"{where}: {error}")
        return ()
    problems += reading.problems
    return tuple(reading.schedule.steps)


# --- transits -----------------------------------------------------------------------


def _transits(
    services: Services, wishes: Wishes, problems: list[str]
) -> tuple[Report, ...]:
    """Transits of the coming days: rare, so looked for further ahead, and around."""
    if not wishes.transit_days:
        return ()
    start = services.window.start
    end = start + timedelta(days=wishes.transit_days)
    longer = services.moved(window=Span(start=start, end=end))
    session = Session(night=services.night, rigs=wishes.rigs)
    try:
        return tuple(longer.report(session, (_TRANSIT, _STRIP)))
    except PassesError as error:
        problems.append(str(error))
        return ()


def _notes(reports: Sequence[Report]) -> tuple[Note, ...]:
    """What is remarked: of the wider search where there is one."""
    wider = [r for r in reports if r.kind == _STRIP] or reports
    return tuple(n for r in wider for n in r.notes)


def _once(reports: Sequence[Report]) -> list[tuple[Event, Report]]:
    """Each transit once with where it is from, that with a strip if there is one."""
    found: dict[str, tuple[Event, Report]] = {}
    for report in reports:
        for event in report.events:
            if event.id not in found or event.details.get("strip"):
                found[event.id] = event, report
    return sorted(found.values(), key=lambda pair: pair[0].best)
