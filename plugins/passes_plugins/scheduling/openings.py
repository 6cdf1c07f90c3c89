"""When a session's subs open: as planned, or as a placing has moved them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from passes.errors import InputError
from passes.model import Event, Note, Report, Site, Sub
from passes_plugins.scheduling.jobs import PLACING, SUB

#: What one exposure of a session weighs: a pass that is seen well weighs more.
_SUB_WEIGHT = 0.2
#: Subs by rig and index; None for one that is left out.
_Opened = dict[tuple[str, int], Sub | None]


def sub_events(
    subs: Sequence[Sub], reports: Iterable[Report], site: Site
) -> tuple[list[Event], list[Note]]:
    """A session's subs as events, where they open now, and what to tell of that.

    Their ids are made of the planned starts, which fresher elements keep.
    """
    planned = {(sub.rig, sub.index): sub.start for sub in subs}
    now, placed, notes = opened(subs, reports)
    events = [
        _event(
            sub,
            planned[sub.rig, sub.index],
            placed=sub.rig in placed,
            meridian=_meridian(sub, site, min(planned.values())),
        )
        for sub in now
    ]
    return events, notes


def _meridian(sub: Sub, site: Site, after: datetime) -> datetime | None:
    """When the target of a flip crosses the meridian: no mount must flip before."""
    if "flip" not in sub.before:
        return None
    from passes import sky

    target = sub.target
    return sky.next_transit(site, target.ra_deg, target.dec_deg, after)


def _event(
    sub: Sub, planned: datetime, *, placed: bool, meridian: datetime | None
) -> Event:
    details: dict[str, Any] = {
        "rig": sub.rig,
        "exposure_s": sub.exposure_s,
        "filter": sub.filter,
        "gain": sub.gain,
        "ra_deg": sub.target.ra_deg,
        "dec_deg": sub.target.dec_deg,
        "position_angle_deg": sub.target.position_angle_deg,
        "before": sub.before,
        "placed": placed,
        "meridian": meridian,
    }
    return Event(
        id=f"sub-{planned:%Y%m%dT%H%M%S}",
        kind=SUB,
        subject=sub.target.name,
        start=sub.start,
        best=sub.start + (sub.end - sub.start) / 2,
        end=sub.end,
        weight=_SUB_WEIGHT,
        details=details,
    )


def opened(
    subs: Sequence[Sub], reports: Iterable[Report]
) -> tuple[list[Sub], frozenset[str], list[Note]]:
    """The subs as they open, the rigs whose subs were placed, and what to tell.

    The first report of kind ``placing`` that gives every sub of a rig counts for that
    rig.  Where one cannot be used the subs stay as planned, and that is told.
    """
    found: _Opened = {}
    notes: list[Note] = []
    for report in reports:
        if report.kind == PLACING:
            mine, remarks = _of(report, subs)
            found = mine | found
            notes += remarks
    placed = frozenset(rig for rig, _ in found)
    now = [found.get((sub.rig, sub.index), sub) for sub in subs]
    return [sub for sub in now if sub is not None], placed, notes


def _of(report: Report, subs: Sequence[Sub]) -> tuple[_Opened, list[Note]]:
    """What one report says of these subs, rig by rig."""
    rows = {(row.get("rig", ""), str(row.get("sub"))): row for row in report.rows}
    found: _Opened = {}
    notes = []
    for rig in dict.fromkeys(sub.rig for sub in subs):
        mine = [sub for sub in subs if sub.rig == rig]
        if not any((rig, str(sub.index)) in rows for sub in mine):
            continue
        try:
            moved = [_moved(sub, rows[rig, str(sub.index)]) for sub in mine]
            _apart([sub for sub in moved if sub is not None])
        except (KeyError, TypeError, ValueError, InputError) as error:
            notes.append(_unusable(report, rig, error))
            continue
        pairs = zip(mine, moved, strict=True)
        found |= {(rig, sub.index): now for sub, now in pairs}
        notes += [note for note in report.notes if note not in notes]
    return found, notes


def _moved(sub: Sub, row: Mapping[str, Any]) -> Sub | None:
    """A sub as its row places it; KeyError, TypeError or ValueError for no such row."""
    if row["placed"] is None:
        return None
    before = row.get("before")
    angle = float(row.get("position_angle_deg", sub.target.position_angle_deg))
    return replace(
        sub,
        start=datetime.fromisoformat(row["placed"]),
        before=sub.before if before is None else tuple(str(before).split()),
        target=replace(sub.target, position_angle_deg=angle),
    )


def _apart(subs: Sequence[Sub]) -> None:
    """ValueError where a camera would have to expose twice at once."""
    order = sorted(subs, key=lambda sub: sub.start)
    for one, other in pairwise(order):
        if other.start < one.end - timedelta(milliseconds=1):
            raise ValueError(f"subs {one.index} and {other.index} overlap")


def _unusable(report: Report, rig: str, error: Exception) -> Note:
    what = f"no row for a sub ({error})" if isinstance(error, KeyError) else str(error)
    return Note(
        severity="caution",
        text=f"The placing of {report.reporter or 'a plugin'} cannot be used for "
        f"{rig or 'these subs'}: {what}. They stay as planned.",
    )
