"""The crossings of each sub of a session: one search a field, then shared out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from math import isnan
from typing import NamedTuple

import numpy as np

from passes.forecast.crossings import Crossings
from passes.model import Crossing, LineOfSight, Rig, Session, Span, Sub, Target

#: Finds the crossings of a line of sight in a window.
Find = Callable[[LineOfSight, Span], Crossings]


class _Field(NamedTuple):
    """What subs must have in common to share a search."""

    ra_deg: float
    dec_deg: float
    position_angle_deg: float
    rig: Rig


def field_of(target: Target, rig: Rig) -> LineOfSight:
    """The frame of a rig whose middle is the target, its up at the target's angle.

    How the camera is turned and where its rig stands on the platform is settled in the
    target already.  A camera turned by 180° has the same frame.
    """
    axes = (rig.width_px, rig.height_px)
    focal_um = rig.effective_focal_length_mm * 1000.0
    width, height = (2 * np.arctan(0.5 * n * rig.pixel_um / focal_um) for n in axes)
    return LineOfSight.of_field(
        target.ra_deg,
        target.dec_deg,
        width_deg=float(np.degrees(width)),
        height_deg=float(np.degrees(height)),
        position_angle_deg=target.position_angle_deg,
    )


def crossings_by_sub(session: Session, find: Find) -> Mapping[int, Sequence[Crossing]]:
    """The crossings of every sub's field, by the sub's index, in order of entry.

    A sub gets those that touch it, and those that may: within their own 95 % bound in
    time, and the sub's jitter, of the time the shutter is open.  A sub whose rig is not
    among the session's (or not named, while there are several) has no known field, and
    no entry.
    """
    groups: dict[_Field, list[Sub]] = {}
    for sub in session.subs:
        target, rig = sub.target, _rig_of(sub, session.rigs)
        if rig is not None:
            angle_deg = target.position_angle_deg
            key = _Field(target.ra_deg, target.dec_deg, angle_deg, rig)
            groups.setdefault(key, []).append(sub)
    found: dict[int, Sequence[Crossing]] = {}
    for key, subs in groups.items():
        found |= _shared_out(key.rig, subs, find)
    return {s.index: found[s.index] for s in session.subs if s.index in found}


def _rig_of(sub: Sub, rigs: Sequence[Rig]) -> Rig | None:
    named = [rig for rig in rigs if rig.name == sub.rig or not sub.rig]
    return named[0] if len(named) == 1 else None


def _shared_out(
    rig: Rig, subs: Sequence[Sub], find: Find
) -> dict[int, Sequence[Crossing]]:
    line = field_of(subs[0].target, rig)
    start, end = min(s.start for s in subs), max(s.end for s in subs)
    every = find(line, Span(start=start - _MARGIN, end=end + _MARGIN))
    if not len(every):
        return {sub.index: () for sub in subs}
    every, origin = every.in_pixels(rig.width_px, rig.height_px), every.table.start
    bound_s = np.nan_to_num(every.uncertainty.timing_bound_s)
    found: dict[int, Sequence[Crossing]] = {}
    for sub in subs:
        jitter_s = 0.0 if isnan(sub.start_jitter_s) else sub.start_jitter_s
        room_s = bound_s + jitter_s
        opens, closes = (
            (time - origin).total_seconds() for time in (sub.start, sub.end)
        )
        touches = every.table.entry.time_s <= closes + room_s
        touches &= every.table.exit.time_s >= opens - room_s
        found[sub.index] = every.take(np.flatnonzero(touches))
    return found


#: Searched before the first sub and after the last, so that crossings are whole there
#: and those that may come late or early are seen.
_MARGIN = timedelta(seconds=120.0)
