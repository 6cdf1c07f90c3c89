"""What there is to record: passes worth it, a session's subs, every report's events."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from passes.errors import PassesError
from passes.model import (
    Advice,
    Event,
    Note,
    Passage,
    Report,
    Rig,
    Schedule,
    Session,
    Span,
)
from passes.tables import zone_of
from passes_plugins.scheduling.jobs import SUB, Job, is_recorded, job_of
from passes_plugins.scheduling.leads import Leads
from passes_plugins.scheduling.making import make_schedule, rigs_of
from passes_plugins.scheduling.openings import sub_events
from passes_plugins.scheduling.overlaps import settle

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes_plugins.scheduling.planning import Placed
    from passes_plugins.scheduling.set_up import SetUp

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

    def schedule(
        self, services: Services, leads: Leads, set_up: SetUp | None = None
    ) -> Schedule:
        """The schedule of it all, for the services' window and zone."""
        made = make_schedule(
            self.events,
            self.advice,
            self.rigs,
            leads,
            window=services.window,
            set_up=set_up,
            reserved=self.reserved,
            zone=zone_of(services.site.zone),
            demo=services.demo,
        )
        return replace(made, notes=(*made.notes, *self.notes))


def gather(
    services: Services,
    session: Placed | None,
    leads: Leads,
    *,
    limit: int,
    every: bool,
    reports: Sequence[Report] | None = None,
) -> Gathered:
    """Ask for everything that can be recorded, and how.

    Reporters are asked unless what they say is handed over as ``reports``.  Advice is
    asked for only of what its rig can still do beside heavier events.
    """
    asked = session.session if session is not None else _of_night(services)
    reserved = session.reserved if session is not None else frozenset()
    if reports is None:
        reports = services.report(asked)
    events = _passages(services, limit, every) if limit else []
    subs, notes = sub_events(asked.subs, reports, services.site)
    events += subs
    for report in reports:
        events += _inside(report.events, services.window)
        notes += [n for n in report.notes if n.severity != "info" and n not in notes]
    advice, failed = _advice(services, events, asked.rigs, reserved, leads)
    return Gathered(
        events=tuple(events),
        advice=advice,
        rigs=asked.rigs,
        reserved=reserved,
        notes=(*notes, *failed, *(() if asked.rigs else (_NO_RIG,))),
    )


def _of_night(services: Services) -> Session:
    """What reporters are asked about where no subs are planned."""
    return Session(night=services.night, rigs=services.rigs)


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
    found: dict[tuple[str, str], Advice] = {}
    failed: dict[str, Note] = {}
    for job in settle(_recordings(events, rigs, reserved, leads), leads.turn_s)[0]:
        if job.event.catalog_number is None:
            continue
        try:
            best = _fullest(services.advise(job.event, by_name[job.rig]))
        except PassesError as error:
            failed[job.event.id] = _no_advice(job.event, error)
            continue
        if best is not None:
            found[job.event.id, job.rig] = best
    return found, list(failed.values())


def _recordings(
    events: Sequence[Event],
    rigs: Sequence[Rig],
    reserved: frozenset[str],
    leads: Leads,
) -> Iterator[Job]:
    """What is to be recorded beside a session's subs, by rigs that are known."""
    for event in events:
        if is_recorded(event) and event.kind != SUB:
            for rig in rigs_of(event, rigs, reserved):
                if rig:
                    yield job_of(event, rig, None, leads)


def _no_advice(event: Event, error: PassesError) -> Note:
    return Note(severity="caution", text=f"No advice for {event.subject}: {error}")


def _fullest(advice: Sequence[Advice]) -> Advice | None:
    """Of several advisers the one that says most; the first of equals."""
    return max(advice, key=_said, default=None)


def _said(advice: Advice) -> int:
    numbers = (advice.exposure_s, advice.frame_rate_hz, advice.image_scale_arcsec_px)
    others = (advice.region_px, advice.start, advice.stop, advice.pointing)
    known = [value == value for value in numbers]
    return sum(known) + sum(o is not None for o in others) + bool(advice.gain)
