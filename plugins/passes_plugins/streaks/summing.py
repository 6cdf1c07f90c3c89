"""The session in a few figures: verdicts, pixels and exposure lost, worst objects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import nan

from passes import trail
from passes.model import Crossing, Span
from passes_plugins.streaks.assessing import Assessment, Judged
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.looks import Found, Paths
from passes_plugins.streaks.marks import VERDICTS, Mark
from passes_plugins.streaks.surroundings import SHADOW_HEIGHTS_KM, shadowed

#: How many of the worst objects are named.
_WORST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Hour:
    """Crossings that begin within one hour by the clock, per hour of it searched."""

    start: datetime
    hours: float
    crossings: int
    lit: int

    @property
    def lit_per_hour(self) -> float:
        """Lit crossings an hour."""
        return self.lit / self.hours


@dataclass(frozen=True, slots=True, kw_only=True)
class Shadow:
    """When what flies at a height in a target's direction is in the Earth's shadow."""

    target: str
    height_km: float
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Residue:
    """Peak of what faint trails leave in a stack, in units of the stack's noise."""

    target: str
    filter: str
    subs: int
    trails: int
    peak: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """The figures of an assessment.

    ``exposure_down_s`` is spent on fields below the horizon, whatever the verdicts.
    """

    verdicts: dict[str, int]
    crossings: int
    lit: int
    percent_lost: float
    exposure_s: float
    exposure_lost_s: float
    exposure_down_s: float
    residues: tuple[Residue, ...]
    hours: tuple[Hour, ...]
    worst: tuple[tuple[Judged, Mark], ...]
    shadows: tuple[Shadow, ...]


def summary_of(assessment: Assessment) -> Summary:
    """Add up what was found."""
    judged = assessment.judged
    counts: dict[str, int] = dict.fromkeys(reversed(VERDICTS), 0)
    for one in judged:
        counts[one.verdict] += 1
    unique = _crossings(assessment)
    kept = [one.percent for one in judged if one.verdict != "spoiled"]
    return Summary(
        verdicts=counts,
        crossings=len(unique),
        lit=sum(one.sunlit for one in unique),
        percent_lost=sum(kept) / len(kept) if kept else nan,
        exposure_s=sum(one.sub.exposure_s for one in judged),
        exposure_lost_s=sum(
            one.sub.exposure_s for one in judged if one.verdict == "spoiled"
        ),
        exposure_down_s=_down_s(assessment),
        residues=_residues(judged),
        hours=_hours(assessment, unique),
        worst=_worst(judged),
        shadows=_shadows(assessment),
    )


def _down_s(assessment: Assessment) -> float:
    if assessment.around is None:
        return 0.0
    down = (assessment.around.altitude_rad < 0.0).tolist()
    pairs = zip(assessment.judged, down, strict=True)
    return sum(one.sub.exposure_s for one, below in pairs if below)


def _crossings(assessment: Assessment) -> list[Crossing]:
    """Every crossing of the fields, once, in order of time."""
    frames = {one.sub.index: one.frame for one in assessment.judged}
    every = {
        (one.catalog_number, one.closest.time): one
        for found in assessment.found
        for one in _of_field(found, frames[found.look.subs[0].index])
    }
    return sorted(every.values(), key=lambda one: one.closest.time)


def _of_field(found: Found, frame: Frame | None) -> Sequence[Crossing]:
    """The crossings of a look's field; of a disc, those of the first frame in it."""
    if found.look.exact or frame is None or not found.crossings:
        return found.crossings
    stays = Paths(found.crossings).through(frame)
    return [found.crossings[i] for i in stays.which.tolist()]


def _residues(judged: Sequence[Judged]) -> tuple[Residue, ...]:
    like: dict[tuple[str, str], list[Judged]] = {}
    for one in judged:
        like.setdefault((one.sub.target.name, one.sub.filter), []).append(one)
    residues = []
    for (target, name), some in like.items():
        faint = [
            mark.signal_to_noise
            for one in some
            for mark in one.marks
            if mark.here and mark.verdict == "faint"
        ]
        peak = float(trail.residue(max(faint), len(some))) if faint else 0.0
        residues.append(
            Residue(
                target=target,
                filter=name,
                subs=len(some),
                trails=len(faint),
                peak=peak,
            )
        )
    return tuple(residues)


def _hours(assessment: Assessment, unique: Sequence[Crossing]) -> tuple[Hour, ...]:
    """Hours of the clock that the searches cover, in UTC."""
    margin_s = assessment.choices.margin_s
    spans = [found.look.window(margin_s) for found in assessment.found]
    covered: dict[datetime, float] = {}
    for span in spans:
        time = span.start
        while time < span.end:
            hour = time.replace(minute=0, second=0, microsecond=0)
            after = min(hour + timedelta(hours=1), span.end)
            part = (after - time).total_seconds() / 3600.0
            covered[hour] = covered.get(hour, 0.0) + part
            time = after
    counts: dict[datetime, list[Crossing]] = {}
    for one in unique:
        hour = one.closest.time.replace(minute=0, second=0, microsecond=0)
        counts.setdefault(hour, []).append(one)
    return tuple(
        Hour(
            start=hour,
            hours=covered[hour],
            crossings=len(counts.get(hour, ())),
            lit=sum(one.sunlit for one in counts.get(hour, ())),
        )
        for hour in sorted(covered)
    )


def _worst(judged: Sequence[Judged]) -> tuple[tuple[Judged, Mark], ...]:
    """The strongest trails, one an object and sub."""
    marks = [
        (one, mark)
        for one in judged
        for mark in one.marks
        if mark.here and mark.verdict not in (None, "clean", "unknown")
    ]
    marks.sort(key=lambda pair: -pair[1].signal_to_noise)
    return tuple(marks[:_WORST])


def _shadows(assessment: Assessment) -> tuple[Shadow, ...]:
    shadows: list[Shadow] = []
    for target in dict.fromkeys(
        (one.sub.target.name, one.sub.target.ra_deg, one.sub.target.dec_deg)
        for one in assessment.judged
    ):
        name, ra_deg, dec_deg = target
        if any(shadow.target == name for shadow in shadows):
            continue  # dithered frames of one field
        subs = [o.sub for o in assessment.judged if o.sub.target.name == name]
        span = Span(start=subs[0].start, end=max(sub.end for sub in subs))
        if span.duration_s > 86400.0:
            continue
        for height_km in SHADOW_HEIGHTS_KM:
            dark = shadowed(assessment.site, ra_deg, dec_deg, span, height_km)
            shadows.append(Shadow(target=name, height_km=height_km, spans=tuple(dark)))
    return tuple(shadows)
