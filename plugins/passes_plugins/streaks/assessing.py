"""A whole session looked at: crossings, marks, verdicts, remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from passes.contributions import Services
from passes.model import Crossing, Note, Rig, Session, Site, Span, Sub
from passes_plugins.streaks.belonging import (
    Pairs,
    jitter_s,
    met,
    pairs_of,
    sideways_chance,
    time_sigma_s,
)
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.exposing import Exposures, exposures_of
from passes_plugins.streaks.frames import Frame, frames_of
from passes_plugins.streaks.looks import (
    Found,
    Paths,
    Searched,
    Stays,
    looks_of,
    search,
)
from passes_plugins.streaks.marks import VERDICTS, Lit, Mark, Verdict, marks_of
from passes_plugins.streaks.remarks import remarks_on
from passes_plugins.streaks.surroundings import Surroundings, surroundings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One sub with its marks, the worst first."""

    sub: Sub
    frame: Frame | None
    verdict: Verdict
    chance_marked: float
    percent: float
    marks: tuple[Mark, ...]

    @property
    def worst(self) -> Mark | None:
        """The mark that decides; None where nothing lit is here."""
        here = [mark for mark in self.marks if mark.here and mark.verdict]
        return here[0] if here else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assessment:
    """Everything that was found of a session."""

    session: Session
    site: Site
    choices: Choices
    judged: tuple[Judged, ...]
    found: tuple[Found, ...] = ()
    searched: Searched = field(default_factory=Searched)
    around: Surroundings | None = None
    exposures: Exposures | None = None
    notes: tuple[Note, ...] = ()

    @property
    def window(self) -> Span | None:
        """From the first sub's start to the last one's end."""
        subs = self.session.subs
        if not subs:
            return None
        return Span(start=min(s.start for s in subs), end=max(s.end for s in subs))


def assess(
    session: Session,
    services: Services,
    choices: Choices,
    *,
    frames: Mapping[int, Frame] | None = None,
    given: Sequence[Found] | None = None,
    notes: Sequence[Note] = (),
) -> Assessment:
    """Judge every sub of a session.

    ``frames`` are the subs' own where a plate solution is at hand, else made of targets
    and rigs; ``given`` are crossings searched already.
    """
    site = services.site
    if not session.subs:
        return Assessment(
            session=session, site=site, choices=choices, judged=(), notes=tuple(notes)
        )
    known = frames_of(session) if frames is None else dict(frames)
    subs = sorted(session.subs, key=lambda one: one.start)
    rigs: dict[str, Rig] = {rig.name: rig for rig in session.rigs}
    around = _around(site, subs, known)
    exposures = exposures_of(subs, known, rigs, site, around, choices)
    searched = Searched()
    if given is None:
        looks = looks_of(session, known, choices.aside_deg)
        given, searched = search(services, looks, choices.margin_s)
    judged = _all_judged(given, subs, known, exposures, site, choices)
    return Assessment(
        session=session,
        site=site,
        choices=choices,
        judged=judged,
        found=tuple(given),
        searched=searched,
        around=around,
        exposures=exposures,
        notes=(*notes, *remarks_on(subs, known, judged, site, around, exposures)),
    )


def _all_judged(
    found: Sequence[Found],
    subs: Sequence[Sub],
    frames: Mapping[int, Frame],
    exposures: Exposures,
    site: Site,
    choices: Choices,
) -> tuple[Judged, ...]:
    """Every sub with its marks and its verdict."""
    marks = _marks(found, subs, frames, exposures, site, choices)
    return tuple(
        _judged(sub, frames.get(sub.index), marks.get(sub.index, ()), choices)
        for sub in subs
    )


def _around(
    site: Site, subs: Sequence[Sub], frames: Mapping[int, Frame]
) -> Surroundings:
    """The sky behind each sub, at its middle."""
    start = subs[0].start
    time_s = [(s.start - start).total_seconds() + 0.5 * s.exposure_s for s in subs]
    places = [frames.get(sub.index, sub.target) for sub in subs]
    return surroundings(
        site,
        start,
        np.array(time_s),
        np.array([place.ra_deg for place in places]),
        np.array([place.dec_deg for place in places]),
    )


def _marks(
    found: Sequence[Found],
    subs: Sequence[Sub],
    frames: Mapping[int, Frame],
    exposures: Exposures,
    site: Site,
    choices: Choices,
) -> dict[int, tuple[Mark, ...]]:
    """Marks by the index of their sub, the worst first."""
    row_of = {sub.index: row for row, sub in enumerate(subs)}
    marks: dict[int, list[Mark]] = {}
    for one in found:
        if not one.every:
            continue
        paths = Paths(one.every)
        for frame, some in _by_frame(one.look.subs, frames):
            stays, crossings = met(one, paths, frame, site, some)
            if not crossings:
                continue
            pairs = _pairs(some, crossings, stays, paths.origin, frame, site, choices)
            rows = np.array([row_of[sub.index] for sub in some])
            light = Lit(exposures, rows, frame, choices)
            for index, mark in marks_of(
                pairs, some, crossings, stays, paths.origin, light
            ):
                marks.setdefault(index, []).append(mark)
    return {index: tuple(sorted(some, key=_weight)) for index, some in marks.items()}


def _pairs(
    subs: Sequence[Sub],
    crossings: Sequence[Crossing],
    stays: Stays,
    origin: datetime,
    frame: Frame,
    site: Site,
    choices: Choices,
) -> Pairs:
    """Which of these subs each crossing of their frame may touch."""
    opens = np.array([(sub.start - origin).total_seconds() for sub in subs])
    return pairs_of(
        opens,
        opens + np.array([sub.exposure_s for sub in subs]),
        np.array([jitter_s(sub) for sub in subs]),
        stays.entry_s,
        stays.exit_s,
        time_sigma_s(crossings, frame),
        sideways_chance(crossings, frame, site, stays.beside),
        choices.least_chance,
    )


def _by_frame(
    subs: Sequence[Sub], frames: Mapping[int, Frame]
) -> list[tuple[Frame, list[Sub]]]:
    """Subs of a look by the frame they have, in order of time."""
    groups: dict[int, tuple[Frame, list[Sub]]] = {}
    for sub in subs:
        frame = frames[sub.index]
        groups.setdefault(id(frame), (frame, []))[1].append(sub)
    return list(groups.values())


def _weight(mark: Mark) -> tuple[bool, int, float]:
    """What is here first, then the worse verdict, then the stronger trail."""
    rank = VERDICTS.index(mark.verdict) if mark.verdict else -1
    ratio = mark.signal_to_noise
    return not mark.here, -rank, -ratio if ratio == ratio else 0.0


def _judged(
    sub: Sub, frame: Frame | None, marks: Sequence[Mark], choices: Choices
) -> Judged:
    """The sub's verdict: the worst of what is here, or all of it together."""
    here = [mark for mark in marks if mark.here and mark.verdict]
    verdict: Verdict = "clean" if frame is not None else "unknown"
    for mark in here:
        if mark.verdict and VERDICTS.index(mark.verdict) > VERDICTS.index(verdict):
            verdict = mark.verdict
    lost = sum(m.percent for m in here if m.verdict in ("removable", "spoiled"))
    if verdict == "removable" and lost > choices.spoiled_percent:
        verdict = "spoiled"
    untouched = 1.0
    for mark in marks:
        if mark.verdict not in (None, "clean", "unknown"):
            untouched *= 1.0 - mark.chance
    return Judged(
        sub=sub,
        frame=frame,
        verdict=verdict,
        chance_marked=1.0 - untouched,
        percent=float(lost),
        marks=tuple(marks),
    )
