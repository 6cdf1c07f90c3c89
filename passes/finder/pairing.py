"""From crossings and tops to passes, cut to the time in which they count."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes.finder.events import Events, Places, height_at
from passes.finder.found import Bounds, Found, moments
from passes.finder.nodes import SAMPLES, Curves
from passes.finder.polish import Crossed
from passes.model import Flags

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def paired(
    rows: Ints,
    curves: Curves,
    samples: Floats,
    found: Events,
    crossed: Crossed,
    bounds: Bounds,
    limit_sine: float,
) -> tuple[Found, Ints]:
    """Passes on the curves of ``rows``; and objects whose events do not add up.

    Those are objects that are up at an end of a zone which is not an end of the time
    that counts, or whose crossings do not go up and down in turn.
    """
    edges = _edges(curves, samples, found, crossed)
    odd = _odd_zones(curves, samples, edges, bounds)
    pairs = _pairs(edges, ~odd[edges.zone], bounds)
    of, tops, heights = _tops(curves, found, edges, pairs)
    first = np.concatenate([np.ones(min(of.size, 1), np.bool_), np.diff(of) != 0])
    highest = np.full(pairs.rise.size, -np.inf)
    top = np.full((pairs.rise.size, 4), np.nan)
    highest[of[first]], top[of[first]] = heights[first], tops[first]
    outside = _end_heights(curves, pairs, limit_sine) > highest
    return (
        Found(
            row=rows[curves.of[edges.interval[pairs.rise]]],
            begin_s=pairs.begin_s,
            finish_s=pairs.finish_s,
            flags=pairs.flags | np.where(outside, int(Flags.CULMINATES_OUTSIDE), 0),
            rise=_uncut(edges.moments[pairs.rise], pairs.late),
            top=top,
            set=_uncut(edges.moments[pairs.fall], pairs.early),
            further=tops[~first],
            further_of=of[~first],
        ),
        np.unique(curves.of[_ends(curves)[0][odd]]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Crossings, and the open ends of zones that begin or end up, in order."""

    interval: Ints
    zone: Ints
    place: Floats
    time_s: Floats
    rising: Bools
    moments: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Passes: their edges, and the time that counts of them, ``(n,)`` each.

    ``late`` ones begin after they rose, ``early`` ones finish before they set.
    """

    rise: Ints
    fall: Ints
    zone: Ints
    begin_s: Floats
    finish_s: Floats
    late: Bools
    early: Bools
    flags: Ints


def _pairs(edges: _Edges, sound: Bools, bounds: Bounds) -> _Pairs:
    rise, fall = np.flatnonzero(sound)[0::2], np.flatnonzero(sound)[1::2]
    zone = edges.zone[rise]
    begin = np.maximum(edges.time_s[rise], bounds.open_s[zone])
    finish = np.minimum(edges.time_s[fall], bounds.close_s[zone])
    counts = begin < finish
    rise, fall, zone = rise[counts], fall[counts], zone[counts]
    begin, finish = begin[counts], finish[counts]
    late, early = edges.time_s[rise] < begin, edges.time_s[fall] > finish
    flags = np.where(late, bounds.open_flag[zone], 0)
    flags |= np.where(early, bounds.close_flag[zone], 0)
    return _Pairs(rise, fall, zone, begin, finish, late, early, flags)


def _ends(curves: Curves) -> tuple[Ints, Ints]:
    """First and last interval of each zone."""
    change = np.flatnonzero(np.diff(curves.zone)) + 1
    edge = np.zeros(min(curves.zone.size, 1), dtype=np.int64)
    return (
        np.concatenate([edge, change]),
        np.concatenate([change, edge + curves.zone.size]) - 1,
    )


def _edges(curves: Curves, samples: Floats, found: Events, crossed: Crossed) -> _Edges:
    first, last = _ends(curves)
    opens = first[samples[first, 0] > 0.0]
    closes = last[samples[last, -1] > 0.0]
    interval = np.concatenate([found.crossings.interval, opens, closes])
    # just before a zone's first sample, and just after its last
    offset = np.concatenate(
        [
            found.crossings.offset,
            np.full(opens.size, -0.25 / SAMPLES),
            np.full(closes.size, 1.0 - 0.5 / SAMPLES),
        ]
    )
    time_s = np.concatenate(
        [crossed.time_s, np.full(opens.size, -np.inf), np.full(closes.size, np.inf)]
    )
    rising = np.concatenate(
        [found.rising, np.ones(opens.size, np.bool_), np.zeros(closes.size, np.bool_)]
    )
    moment = np.full((time_s.size, 4), np.nan)
    moment[: crossed.time_s.size] = moments(crossed.time_s, crossed.seen)
    order = np.lexsort((offset, interval))
    return _Edges(
        interval[order],
        curves.zone[interval[order]],
        (interval + offset)[order],
        time_s[order],
        rising[order],
        moment[order],
    )


def _odd_zones(curves: Curves, samples: Floats, edges: _Edges, bounds: Bounds) -> Bools:
    """Zones that are up at an end short of their bounds, or miss a crossing."""
    first, last = _ends(curves)
    start_s = curves.time_s(first, np.zeros(first.size))
    end_s = curves.time_s(last, np.full(last.size, 1.0 - 1.0 / SAMPLES))
    odd = (samples[first, 0] > 0.0) & (start_s > bounds.open_s)
    odd |= (samples[last, -1] > 0.0) & (end_s < bounds.close_s)
    # within a zone crossings must rise, fall, rise … fall
    count = np.bincount(edges.zone, minlength=first.size)
    begin = np.cumsum(count) - count
    within = np.arange(edges.zone.size) - begin[edges.zone]
    odd[edges.zone[edges.rising != (within % 2 == 0)]] = True
    odd |= count % 2 == 1
    return np.asarray(odd)


def _tops(
    curves: Curves, found: Events, edges: _Edges, pairs: _Pairs
) -> tuple[Ints, Floats, Floats]:
    """Pass, moment and height of every top that counts, the highest of a pass first."""
    place = found.tops.interval + found.tops.offset
    of = np.searchsorted(edges.place[pairs.rise], place, side="right") - 1
    inside = of >= 0
    inside[inside] &= place[inside] < edges.place[pairs.fall][of[inside]]
    of, tops, heights = of[inside], found.tops.take(inside), found.heights[inside]
    time_s = curves.time_s(tops.interval, tops.offset)
    counts = (time_s >= pairs.begin_s[of]) & (time_s <= pairs.finish_s[of])
    order = np.flatnonzero(counts)
    order = order[np.lexsort((-heights[order], of[order]))]
    seen = curves.at(tops.interval[order], tops.offset[order])
    return of[order], moments(time_s[order], seen), heights[order]


def _end_heights(curves: Curves, pairs: _Pairs, limit_sine: float) -> Floats:
    """The greater height of the cut ends of each pass, minus infinity without any."""
    heights = np.full((2, pairs.zone.size), -np.inf)
    ends = (pairs.begin_s, pairs.late), (pairs.finish_s, pairs.early)
    for side, (time_s, cut) in enumerate(ends):
        first, last = (some[pairs.zone[cut]] for some in _ends(curves))
        ticks = curves.clocks.take(curves.of[first]).ticks(time_s[cut])
        interval = first + np.floor(ticks).astype(np.int64) - curves.tick[first]
        interval = np.clip(interval, first, last)
        places = Places(interval, ticks - curves.tick[interval])
        heights[side, cut] = height_at(curves, places, limit_sine)
    return np.asarray(heights.max(axis=0))


def _uncut(moment: Floats, cut: Bools) -> Floats:
    moment[cut] = np.nan
    return moment
