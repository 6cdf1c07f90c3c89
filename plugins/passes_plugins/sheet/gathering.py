"""What the page tells: everything is asked of the services, nothing is known here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from passes.errors import PassesError
from passes.model import (
    Advice,
    Night,
    Note,
    Passage,
    Report,
    Session,
    Site,
    Span,
    Step,
    Sub,
    Track,
)

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.plans import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the person wants on the page."""

    limit: int = 12
    cards: int = 3
    transit_days: int = 7
    plan: Plan | None = None
    schedule: Sequence[Step] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Elements:
    """What the predictions rest on."""

    objects: int
    classes: dict[str, int]
    median_age_days: float
    oldest_age_days: float
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One of the passes most worth it, its path, and how to shoot it."""

    passage: Passage
    track: Track
    advice: tuple[Advice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything on the page; what is missing is empty."""

    site: Site
    night: Night
    window: Span
    made: datetime
    demo: bool
    elements: Elements | None
    passages: tuple[Passage, ...]
    tracks: tuple[Track, ...]
    cards: tuple[Card, ...]
    subs: tuple[Sub, ...] = ()
    reports: tuple[Report, ...] = ()
    transits: tuple[Report, ...] = ()
    transit_days: int = 0
    schedule: tuple[Step, ...] = ()
    problems: tuple[str, ...] = ()
    remarks: tuple[Note, ...] = field(default=())


def gather(services: Services, wishes: Wishes) -> Sheet:
    """Ask for everything; what cannot be had becomes a problem named on the page."""
    problems: list[str] = []
    worth = list(services.worth_seeing(wishes.limit))
    passages = tuple(passage for passage, _ in worth)
    tracks = {p.id: _track(services, p) for p in passages}
    best = sorted(worth, key=lambda pair: -pair[1])[: wishes.cards]
    subs = _subs(services, wishes.plan, problems)
    reports = _reports(services, wishes.plan, subs, problems)
    transits = _transits(services, wishes.transit_days, problems)
    return Sheet(
        site=services.site,
        night=services.night,
        window=services.window,
        made=services.clock(),
        demo=services.demo,
        elements=_elements(services, problems),
        passages=passages,
        tracks=tuple(tracks[p.id] for p in passages),
        cards=tuple(
            Card(passage=p, track=tracks[p.id], advice=_advice(services, p, problems))
            for p, _ in sorted(best, key=lambda pair: pair[0].start)
        ),
        subs=subs,
        reports=tuple(r for r in reports if r.kind != "transit" or not transits),
        transits=transits,
        transit_days=wishes.transit_days,
        schedule=tuple(wishes.schedule),
        problems=tuple(dict.fromkeys((*problems, *services.problems))),
    )


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


def _subs(
    services: Services, plan: Plan | None, problems: list[str]
) -> tuple[Sub, ...]:
    """A plan's exposures, with the frame of its rig."""
    if plan is None:
        return ()
    from passes.plans import subs_of

    try:
        rig = services.rig(plan.rig) if plan.rig else None
    except PassesError as error:
        problems.append(f"{plan.where}: {error}")
        return ()
    return subs_of(plan, rotation_deg=rig.rotation_deg if rig else 0.0)


def _reports(
    services: Services,
    plan: Plan | None,
    subs: tuple[Sub, ...],
    problems: list[str],
) -> tuple[Report, ...]:
    """What every reporter says of the session, whoever it comes from."""
    rigs = services.rigs
    if plan is not None and plan.rig:
        rigs = tuple(r for r in rigs if r.name == plan.rig) or rigs
    session = Session(
        night=services.night,
        rigs=rigs,
        targets=plan.targets if plan else (),
        subs=subs,
    )
    try:
        return tuple(services.report(session))
    except PassesError as error:
        problems.append(str(error))
        return ()


def _transits(services: Services, days: int, problems: list[str]) -> tuple[Report, ...]:
    """Transits of the coming days: rare, so looked for further ahead."""
    if not days:
        return ()
    start = services.window.start
    longer = services.moved(window=Span(start=start, end=start + timedelta(days=days)))
    try:
        return tuple(longer.report(Session(night=services.night), ("transit",)))
    except PassesError as error:
        problems.append(str(error))
        return ()
