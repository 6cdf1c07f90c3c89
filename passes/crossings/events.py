"""When objects are in the field: changes of sign of smooth functions of time.

A field is where some functions are all below zero: for a disc one that grows with the
distance from its centre, for a rectangle one for each side, and one for the horizon.
Each is smooth where the field has corners, so its roots can all be found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes.crossings.aim import Aim
from passes.crossings.curves import Curves
from passes.model import Flags
from passes.roots import refine

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
#: A function of runs ``(k,)`` and times ``(k,)``.
Measure = Callable[[Ints, Floats], Floats]

#: Looks at each interval between two nodes.
LOOKS = 6
#: Roots are settled to this; stays shorter than this are rounding.
TOLERANCE_S, SHORTEST_S = 1e-6, 2e-6
#: How far a look that hits a root is moved.
_OFF_S = 1e-3
#: Looks whose distances differ by more are unevenly spaced.
_UNEVEN_S = 1e-6
#: Looks between two corners of a path, as shares of the time between them.
_SHARES = np.array([0.25, 0.5, 0.75])
#: Half the stretch over which a slope is taken.
_BESIDE_S = 0.02
#: Looks at each stay when its closest approach is sought.
_LOOKS_INSIDE = 17


@dataclass(frozen=True, slots=True, eq=False)
class Stays:
    """Stays in the field, ``(k,)``; the flags say how they begin and end, if oddly."""

    run: Ints
    begin_s: Floats
    end_s: Floats
    flags: Ints


class Field:
    """The functions that bound the field of a line of sight on curves."""

    def __init__(self, curves: Curves, aim: Aim) -> None:
        self.curves, self.aim = curves, aim

    def edges(self) -> list[tuple[Measure, int, int]]:
        """The functions below zero inside, and what crossing them in and out means."""
        rise, fall = int(Flags.RISES_IN_FIELD), int(Flags.SETS_IN_FIELD)
        sides: list[Measure] = [self._disc]
        if self.aim.rectangle:
            sides = [self._side(axis, sign) for axis in (0, 1) for sign in (1, -1)]
        return [(side, 0, 0) for side in sides] + [(self._below, rise, fall)]

    def _below(self, run: Ints, time_s: Floats) -> Floats:
        return np.asarray(-self.curves.at(run, time_s)[3])

    def _disc(self, run: Ints, time_s: Floats) -> Floats:
        seen = self.curves.at(run, time_s)[:3]
        toward, radius = self.aim.look(time_s)
        ahead, aside2 = _split(seen, toward.T)
        sine2 = np.sin(radius) ** 2
        behind = np.where(ahead > 0.0, -1.0, 1.0)
        return np.asarray(aside2 * (1.0 - sine2) + behind * sine2 * ahead**2)

    def _side(self, axis: int, sign: int) -> Measure:
        tangent = self.aim.tangents[axis]

        def side(run: Ints, time_s: Floats) -> Floats:
            seen = self.curves.at(run, time_s)[:3]
            toward, _ = self.aim.look(time_s)
            along = self.aim.axes(toward)[axis]
            aside = sign * _dot(seen, along.T)
            return np.asarray(aside - tangent * _dot(seen, toward.T))

        return side

    def offset(self, run: Ints, time_s: Floats) -> Floats:
        """Squared tangent of the angle from the field's centre, ``(k,)``."""
        seen = self.curves.at(run, time_s)[:3]
        ahead, aside2 = _split(seen, self.aim.look(time_s)[0].T)
        return np.asarray(aside2 / ahead**2)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def _split(seen: Floats, toward: Floats) -> tuple[Floats, Floats]:
    """Distance along a direction, and the square of that across it."""
    ahead = _dot(seen, toward)
    aside = seen - ahead * toward
    return ahead, _dot(aside, aside)


def stays(curves: Curves, aim: Aim) -> tuple[Stays, Ints]:
    """Every stay in the field, and the runs that begin inside it, which none should."""
    run, time_s = _looks(curves, aim)
    opens = np.flatnonzero(np.diff(run, prepend=-1))
    outside = np.zeros(curves.row.size, dtype=np.int64)
    events: list[tuple[Ints, Floats, Ints, Ints]] = []
    for measure, on_entry, on_exit in Field(curves, aim).edges():
        looked_s, values = _beside_roots(measure, run, time_s)
        outside += values[opens] > 0.0
        of, when, enters = _changes(measure, run, looked_s, values)
        flag = np.where(enters, on_entry, on_exit)
        events.append((of, when, np.where(enters, -1, 1), flag))
    every = np.arange(curves.row.size)
    begins_early = time_s[opens] < curves.low_s
    outside += begins_early
    early = every[begins_early]
    one = np.ones(every.size, dtype=np.int64)
    events.append(
        (early, curves.low_s[early], -one[early], curves.low_flag[early]),
    )
    events.append((every, curves.high_s, one, curves.high_flag))
    return _all_inside(outside, events), np.flatnonzero(outside == 0)


def _looks(curves: Curves, aim: Aim) -> tuple[Ints, Floats]:
    """Run and time of every look, from one before each run to one after it."""
    count = curves.count * LOOKS + 3
    run = np.repeat(np.arange(count.size), count)
    index = np.arange(run.size) - np.repeat(np.cumsum(count) - count, count) - 1
    time_s = curves.begin_s[run] + index * (curves.step_s[run] / LOOKS)
    corners = aim.corners_s()
    if not corners.size or not run.size:
        return run, time_s
    first = np.flatnonzero(np.diff(run, prepend=-1))
    of, more_s = _at_corners(aim, corners, time_s[first], time_s[first + count - 1])
    run, time_s = np.concatenate([run, of]), np.concatenate([time_s, more_s])
    order = np.lexsort((time_s, run))
    run, time_s = run[order], time_s[order]
    twice = (np.diff(time_s, prepend=np.inf) == 0.0) & (np.diff(run, prepend=-1) == 0)
    return run[~twice], time_s[~twice]


def _at_corners(
    aim: Aim, corners: Floats, low_s: Floats, high_s: Floats
) -> tuple[Ints, Floats]:
    """Run and time of further looks, within runs, where a path turns.

    Functions are smooth between two corners only: so some looks between them, and one
    on either side of each, which tells whether a function falls or rises there.
    """
    ends = np.concatenate([[aim.begin_s], corners, [aim.end_s]])
    between = ends[:-1, np.newaxis] + np.diff(ends)[:, np.newaxis] * _SHARES
    beside = (corners - _OFF_S, corners + _OFF_S)
    every = np.sort(np.concatenate([corners, *beside, between.reshape(-1)]))
    begin, end = np.searchsorted(every, low_s, "right"), np.searchsorted(every, high_s)
    count = np.maximum(end - begin, 0)
    of = np.repeat(np.arange(count.size), count)
    place = np.arange(of.size) - np.repeat(np.cumsum(count) - count, count)
    return of, every[begin[of] + place]


def _beside_roots(measure: Measure, run: Ints, time_s: Floats) -> tuple[Floats, Floats]:
    """Times and values of looks; one that hits a root exactly is moved off it.

    A root is then always between two looks, and a bracket never starts on one.
    """
    values = measure(run, time_s)
    on = np.flatnonzero(values == 0.0)
    if on.size:
        time_s = time_s.copy()
        time_s[on] += _OFF_S
        values[on] = measure(run[on], time_s[on])
    return time_s, values


def _changes(
    measure: Measure, run: Ints, time_s: Floats, values: Floats
) -> tuple[Ints, Floats, Bools]:
    """Every change of sign: run, time, and whether the value falls below zero."""
    of, when, extreme = _hidden(measure, run, time_s, values)
    if of.size:
        run, time_s = np.concatenate([run, of]), np.concatenate([time_s, when])
        values = np.concatenate([values, extreme])
        order = np.lexsort((time_s, run))
        run, time_s, values = run[order], time_s[order], values[order]
    above = values > 0.0
    i = np.flatnonzero((above[1:] != above[:-1]) & (run[1:] == run[:-1]))
    of = run[i]
    roots = refine(lambda t: measure(of, t), time_s[i], time_s[i + 1], TOLERANCE_S)
    return of, roots, above[i]


def _hidden(
    measure: Measure, run: Ints, time_s: Floats, values: Floats
) -> tuple[Ints, Floats, Floats]:
    """Turning points between looks at which the sign may differ from both sides."""
    left, middle, right = values[:-2], values[1:-1], values[2:]
    dips = (middle > 0.0) & (middle <= left) & (middle <= right)
    tops = (middle <= 0.0) & (middle >= left) & (middle >= right)
    same = run[2:] == run[:-2]
    bend, lean = left + right - 2.0 * middle, right - left
    with np.errstate(all="ignore"):
        reach = lean**2 / (8.0 * np.abs(bend))  # a parabola's; thrice that is enough
    reach = np.where(bend == 0.0, np.abs(lean), reach)
    may = 3.0 * reach + 0.1 * np.abs(bend) > np.abs(middle)
    may |= np.abs(np.diff(time_s, 2)) > _UNEVEN_S  # around the corners of a path
    i = np.flatnonzero((dips | tops) & same & may) + 1
    of = run[i]
    when = turning(measure, of, time_s[i - 1], time_s[i + 1], time_s[i])
    return of, when, measure(of, when)


def turning(
    measure: Measure, run: Ints, low: Floats, high: Floats, other: Floats
) -> Floats:
    """Times of turning points in brackets ``(k,)``; ``other`` where there is none."""

    def slope(t: Floats) -> Floats:
        return measure(run, t + _BESIDE_S) - measure(run, t - _BESIDE_S)

    found = refine(slope, low, high, TOLERANCE_S)
    return np.where(np.isnan(found), other, found)


def _all_inside(outside: Ints, events: list[tuple[Ints, Floats, Ints, Ints]]) -> Stays:
    """Where everything is satisfied, given how many things are not at first."""
    run, when, step, flag = (
        np.concatenate(column) for column in zip(*events, strict=True)
    )
    order = np.lexsort((step, when, run))
    run, when, step, flag = run[order], when[order], step[order], flag[order]
    first = np.flatnonzero(np.diff(run, prepend=-1))
    total = np.cumsum(step)
    before = np.repeat(total[first] - step[first], np.diff(np.append(first, run.size)))
    inside = outside[run] + total - before == 0
    begin = np.flatnonzero(inside[:-1] & (run[1:] == run[:-1]))
    begin = begin[when[begin + 1] - when[begin] > SHORTEST_S]
    end = begin + 1
    return Stays(run[begin], when[begin], when[end], flag[begin] | flag[end])


def closest_s(curves: Curves, aim: Aim, found: Stays) -> Floats:
    """When each stay comes closest to the field's centre, ``(k,)``."""
    share = np.linspace(0.0, 1.0, _LOOKS_INSIDE)
    looks = found.begin_s[:, None] + (found.end_s - found.begin_s)[:, None] * share
    run = np.repeat(found.run, _LOOKS_INSIDE)
    offset = Field(curves, aim).offset
    values = offset(run, looks.reshape(-1)).reshape(looks.shape)
    best = values.argmin(axis=1)
    row = np.arange(best.size)
    low = looks[row, np.maximum(best - 1, 0)]
    high = looks[row, np.minimum(best + 1, _LOOKS_INSIDE - 1)]
    return turning(offset, found.run, low, high, looks[row, best])
