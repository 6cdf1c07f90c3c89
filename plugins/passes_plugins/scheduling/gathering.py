"""What there is to record: passes worth it, a session's subs, every report's events."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from passes.errors import PassesError
from passes.model import Advice, Event, Note, Passage, Rig, Session, Span, Sub
from passes_plugins.scheduling.jobs import AVOIDED, SUB, job_of
from passes_plugins.scheduling.leads import Leads
from passes_plugins.scheduling.making import rigs_of
from passes_plugins.scheduling.overlaps import settle

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes_plugins.scheduling.planning import Placed

#: What one exposure of a session weighs: a pass that is seen well weighs more.
_SUB_WEIGHT = 0.2
#: A pass asked for by name is wanted, however little it is worth.
_LEAST_WEIGHT = 0.01
_NO_RIG = Note(text="No rig is known, so there is no advice: passes rig add NAME.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """Events of the window with their advice by (event id, rig name)."""

    events: tuple[Event, ...]
    advice: dict[tuple[str, str], Advice]
    rigs: tuple[Rig, ...]
    reserved: frozenset[str] = frozenset()
    notes: tuple[Note, ...] = ()


def gather(
    services: Services,
    session: Placed | None,
    leads: Leads,
    *,
    limit: int,
    every: bool,
) -> Gathered:
    """Ask for everything that can be recorded, and how.

    Advice is asked for only of what its rig can still do beside heavier events.
    """
    rigs = services.rigs
    if session is not None and session.rig.name not in [rig.name for rig in rigs]:
        rigs = (*rigs, session.rig)
    reserved = session.reserved if session is not None else frozenset()
    events = _passages(services, limit, every) if limit else []
    events += [_sub_event(sub) for sub in (session.subs if session else ())]
    notes: list[Note] = []
    for report in services.report(_session(services, session, rigs)):
        events += _inside(report.events, services.window)
        notes += [n for n in report.notes if n.severity != "info"]
    advice, failed = _advice(services, events, rigs, reserved, leads)
    return Gathered(
        events=tuple(events),
        advice=advice,
        rigs=rigs,
        reserved=reserved,
        notes=(*notes, *failed, *(() if rigs else (_NO_RIG,))),
    )


def _session(
    services: Services, session: Placed | None, rigs: tuple[Rig, ...]
) -> Session:
    """What reporters are asked about."""
    if session is None:
        return Session(night=services.night, rigs=rigs)
    return Session(
        night=services.night,
        rigs=rigs,
        targets=session.targets,
        subs=session.subs,
    )


# --- events ------------------------------------------------------------------------


def _passages(services: Services, limit: int, every: bool) -> list[Event]:
    """The passes worth it, or every visible one, as events."""
    if every:
        found = [(p, _LEAST_WEIGHT) for p in services.passes() if p.visible]
        worth = dict((p.id, w) for p, w in services.worth_seeing(limit=10_000))
        found = [(p, max(worth.get(p.id, 0.0), w)) for p, w in found]
    else:
        found = [(p, max(w, _LEAST_WEIGHT)) for p, w in services.worth_seeing(limit)]
    return [passage_event(passage, weight) for passage, weight in found]


def passage_event(passage: Passage, weight: float) -> Event:
    """A pass as an event: from first to last visible, else the whole of it."""
    start, end = passage.start, passage.end
    if passage.visible:
        start, end = passage.visible[0].start, passage.visible[-1].end
    bright = passage.brightest
    moment = bright or passage.culmination
    best = moment.time if moment is not None else start + (end - start) / 2
    return Event(
        id=passage.id,
        kind="passage",
        subject=passage.name or str(passage.catalog_number),
        catalog_number=passage.catalog_number,
        start=start,
        best=min(max(best, start), end),
        end=end,
        timing_sigma_s=passage.timing_sigma_s,
        timing_bound_s=passage.timing_bound_s,
        magnitude=bright.magnitude if bright is not None else float("nan"),
        weight=weight,
        flags=passage.flags,
    )


def _inside(events: Sequence[Event], window: Span) -> Iterator[Event]:
    for event in events:
        if window.start <= event.best <= window.end:
            yield event


def _sub_event(sub: Sub) -> Event:
    details: dict[str, Any] = {
        "rig": sub.rig,
        "exposure_s": sub.exposure_s,
        "filter": sub.filter,
        "gain": sub.gain,
        "ra_deg": sub.target.ra_deg,
        "dec_deg": sub.target.dec_deg,
        "position_angle_deg": sub.target.position_angle_deg,
    }
    return Event(
        id=f"sub-{sub.start:%Y%m%dT%H%M%S}",
        kind=SUB,
        subject=sub.target.name,
        start=sub.start,
        best=sub.start + (sub.end - sub.start) / 2,
        end=sub.end,
        weight=_SUB_WEIGHT,
        details=details,
    )


# --- advice ------------------------------------------------------------------------


def _advice(
    services: Services,
    events: Sequence[Event],
    rigs: Sequence[Rig],
    reserved: frozenset[str],
    leads: Leads,
) -> tuple[dict[tuple[str, str], Advice], list[Note]]:
    """What the advisers say of each event that its rig can do."""
    by_name = {rig.name: rig for rig in rigs}
    wanted = [
        job_of(event, rig, None, leads)
        for event in events
        if event.weight > 0.0 and event.kind not in AVOIDED and event.kind != SUB
        for rig in rigs_of(event, rigs, reserved)
        if rig
    ]
    found: dict[tuple[str, str], Advice] = {}
    failed: dict[str, Note] = {}
    for job in settle(wanted, leads.turn_s)[0]:
        if job.event.catalog_number is None:
            continue
        try:
            best = _fullest(services.advise(job.event, by_name[job.rig]))
        except PassesError as error:
            failed[job.event.id] = Note(
                severity="caution", text=f"No advice for {job.event.subject}: {error}"
            )
            continue
        if best is not None:
            found[job.event.id, job.rig] = best
    return found, list(failed.values())


def _fullest(advice: Sequence[Advice]) -> Advice | None:
    """Of several advisers the one that says most; the first of equals."""
    return max(advice, key=_said, default=None)


def _said(advice: Advice) -> int:
    numbers = (advice.exposure_s, advice.frame_rate_hz, advice.image_scale_arcsec_px)
    others = (advice.region_px, advice.start, advice.stop, advice.pointing)
    known = [value == value for value in numbers]
    return sum(known) + sum(o is not None for o in others) + bool(advice.gain)
