"""The page for a person: which subs are marked, what it costs, why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from math import isfinite

from passes.model import Span
from passes.tables import (
    Column,
    Screen,
    clock,
    counted_classes,
    labelled,
    listing,
    number,
    offset,
    paragraph,
    place,
    plain,
    seconds,
    span,
    step_s,
    zone_of,
)
from passes_plugins.streaks.assessing import Assessment, Judged
from passes_plugins.streaks.lengths import sky_limits
from passes_plugins.streaks.lengths_page import limit_words
from passes_plugins.streaks.marks import Mark
from passes_plugins.streaks.remarks import STACKING
from passes_plugins.streaks.summing import Summary

_DEMO = "Demo: the site, the objects, the rig and the plan are invented."

_COLUMNS = (
    Column("Sub", "right"),
    Column("Start"),
    Column("Verdict"),
    Column("Marked", "right"),
    Column("Object", elastic=True),
    Column("At"),
    Column("±", "right", drop=2),
    Column("Mag", "right"),
    Column("S/N", "right"),
    Column("Touched", "right", drop=1),
    Column("Width", "right", drop=4),
    Column("mag/arcsec²", "right", drop=5),
    Column("Rate", "right", drop=3),
    Column("Range", "right", drop=6),
    Column("File", drop=7),
)


def page(
    assessment: Assessment,
    summary: Summary,
    screen: Screen,
    *,
    demo: bool,
    everything: bool,
) -> str:
    """Everything the command says about a session."""
    zone = zone_of(assessment.site.zone)
    lines = paragraph(_DEMO, screen) if demo else []
    lines += labelled(_heading(assessment, zone), screen)
    shown = [one for one in assessment.judged if everything or one.verdict != "clean"]
    if shown:
        lines += ["", *listing(_COLUMNS, [_row(one, zone) for one in shown], screen)]
    lines += ["", *labelled(_figures(assessment, summary, zone), screen)]
    for note in assessment.notes:
        lines += ["", *paragraph(plain(note.text, 400), screen)]
    lines += ["", *paragraph(_legend(assessment, zone, len(shown)), screen)]
    return screen.finish(lines)


def _heading(assessment: Assessment, zone: tzinfo) -> list[tuple[str, str]]:
    judged, when = assessment.judged, assessment.window
    pairs = [("Site", place(assessment.site))]
    if when is not None:
        first = when.start.astimezone(zone)
        times = f"{first:%Y-%m-%d} {span(when, zone)}, {_count(len(judged), 'sub')}"
        pairs.append(("Session", times))
    for name, some in _by_target(judged).items():
        pairs.append(("Field", _field(name, some)))
    searched = assessment.searched
    if searched.objects is not None:
        said = f"{_count(searched.objects, 'object')}"
        counts = counted_classes(searched.classes or {})
        said += f": {counts}" if counts else ""
        if searched.median_age_days is not None:
            said += f"; elements {searched.median_age_days:.1f} days old (median)"
        if searched.skipped:
            said += f"; {_count(len(searched.skipped), 'object')} left out"
        pairs.append(("Searched", said))
    return pairs


def _by_target(judged: Sequence[Judged]) -> dict[str, list[Judged]]:
    groups: dict[str, list[Judged]] = {}
    for one in judged:
        groups.setdefault(one.sub.target.name, []).append(one)
    return groups


def _field(name: str, some: Sequence[Judged]) -> str:
    frames = [one.frame for one in some if one.frame is not None]
    if not frames:
        return f"{plain(name, 40)}: no rig, so no field"
    first = frames[0]
    wide, high = first.size_deg
    turns = sorted({round(one.position_angle_deg % 360.0, 1) for one in frames})
    turned = f"{turns[0]:g}°" if len(turns) == 1 else f"{turns[0]:g}° to {turns[-1]:g}°"
    rigs = ", ".join(sorted({plain(one.sub.rig, 40) for one in some if one.sub.rig}))
    return (
        f"{plain(name, 40)} at {first.ra_deg:.3f}°, {first.dec_deg:+.3f}° (ICRS), "
        f"{wide:.2f} × {high:.2f}°, up at {turned}" + (f", rig {rigs}" if rigs else "")
    )


def _row(one: Judged, zone: tzinfo) -> list[str]:
    mark = one.worst
    head = [
        str(one.sub.index),
        clock(one.sub.start, zone, 1.0),
        one.verdict,
        f"{100.0 * one.chance_marked:.0f} %",
    ]
    file = plain(one.sub.path, 60) if one.sub.path else ""
    if mark is None:
        return [*head, "", "", "", "", "", number(0.0, 2, " %"), *[""] * 4, file]
    return [*head, *_mark(mark, one, zone), file]


def _mark(mark: Mark, one: Judged, zone: tzinfo) -> list[str]:
    crossing = mark.crossing
    lit = sum(m.here and m.verdict is not None for m in one.marks)
    more = f" +{lit - 1}" if lit > 1 else ""
    name = plain(crossing.name, 40) or str(crossing.catalog_number)
    step = step_s(crossing.timing_sigma_s)
    return [
        name + more,
        clock(crossing.entry.time, zone, step),
        seconds(crossing.timing_sigma_s, 0.1).replace(" ", ""),
        number(crossing.magnitude, 1),
        ratio(mark) + ("!" if mark.saturated else ""),
        number(one.percent, 2, " %"),
        number(mark.width_arcsec, 1, "″"),
        number(mark.surface_mag_arcsec2, 1),
        number(crossing.angular_rate_deg_s, 2, "°/s"),
        number(crossing.range_km, 0, " km"),
    ]


def ratio(mark: Mark) -> str:
    """Signal over noise, as finely as it deserves."""
    value = mark.signal_to_noise
    return number(value, 0 if value >= 9.95 else 1)


def _figures(
    assessment: Assessment, summary: Summary, zone: tzinfo
) -> Iterator[tuple[str, str]]:
    counted = [f"{n} {word}" for word, n in summary.verdicts.items() if n]
    yield "Verdicts", ", ".join(counted) or "no subs"
    yield (
        "Crossings",
        f"{summary.crossings} of the field, {summary.lit} of them lit",
    )
    if summary.hours and summary.lit:
        yield "Lit an hour", _hours(summary, zone)
    if isfinite(summary.percent_lost):
        yield "Pixels lost", f"{summary.percent_lost:.3f} % in subs that stack"
    for residue in summary.residues:
        if residue.trails:
            yield "Residue", _residue(residue.filter, residue.trails, residue.peak)
    lost, whole = summary.exposure_lost_s, summary.exposure_s
    said = f"{whole / 3600:.2f} h, {lost / 3600:.2f} h of it spoiled"
    if summary.exposure_down_s > 0.0:
        said += f", {summary.exposure_down_s / 3600:.2f} h below the horizon"
    yield "Exposure", said
    for words in limit_words(sky_limits(assessment)):
        yield "Sky limit", words
    if summary.worst:
        yield "Worst", _worst(summary)
    for shadow in summary.shadows:
        several = len({one.target for one in summary.shadows}) > 1
        where = f"{plain(shadow.target, 40)}: " if several else ""
        yield "Shadow", where + _shadow(shadow.height_km, shadow.spans, zone)


def _hours(summary: Summary, zone: tzinfo) -> str:
    return ", ".join(
        f"{clock(one.start, zone)} {one.lit_per_hour:.0f}"
        for one in summary.hours
        if one.hours > 0.1
    )


def _residue(name: str, trails: int, peak: float) -> str:
    which = f" in {plain(name, 40)}" if name else ""
    return (
        f"{_count(trails, 'faint trail')}{which}; the strongest leaves "
        f"{peak:.2f} × the stack's noise, if it is not rejected"
    )


def _worst(summary: Summary) -> str:
    names: dict[str, float] = {}
    for _, mark in summary.worst:
        name = plain(mark.crossing.name, 30) or str(mark.crossing.catalog_number)
        names.setdefault(name, mark.signal_to_noise)
    first = list(names.items())[:4]
    return ", ".join(f"{name} (S/N {number(value, 0)})" for name, value in first)


def _shadow(height_km: float, spans: Sequence[Span], zone: tzinfo) -> str:
    what = f"at {height_km:,.0f} km"
    if not spans:
        return f"{what} the field stays lit throughout"
    times = " and ".join(span(one, zone) for one in spans)
    return f"{what} the field is in the Earth's shadow {times}"


def _legend(assessment: Assessment, zone: tzinfo, shown: int) -> str:
    choices, when = assessment.choices, assessment.window
    local = plain(assessment.site.zone)
    if when is not None and offset(when.start, zone) != local:
        local += f" ({offset(when.start, zone)})"
    hidden = len(assessment.judged) - shown
    said = (
        f"{_count(hidden, 'clean sub')} not listed (--all lists them). "
        if hidden
        else ""
    )
    said += (
        f"Times are {local}; ± is one sigma. Marked is the chance of any trail that "
        "shows; S/N a trail's peak in one pixel over the noise (! saturated). "
        f"clean: S/N under {choices.clean_below:g}; faint: under "
        f"{choices.removable_from:g}, rejection may miss it; removable: rejection "
        "takes it out; spoiled: saturated, fewer than "
        f"{choices.least_subs:g} like subs, or over {choices.spoiled_percent:g} % of "
        f"the frame. {STACKING}"
    )
    return said


def _count(n: int, what: str) -> str:
    return f"{n:,} {what}" + ("" if n == 1 else "s")
