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
    sound = ~odd[edges.zone]
    rise, fall = np.flatnonzero(sound)[0::2], np.flatnonzero(sound)[1::2]
    zone = edges.zone[rise]
    begin = np.maximum(edges.time_s[rise], bounds.open_s[zone])
    finish = np.minimum(edges.time_s[fall], bounds.close_s[zone])
    counts = begin < finish
    rise, fall, zone = rise[counts], fall[counts], zone[counts]
    begin, finish = begin[counts], finish[counts]
    cut = edges.time_s[rise] < begin, edges.time_s[fall] > finish
    flags = np.where(cut[0], bounds.open_flag[zone], 0)
    flags |= np.where(cut[1], bounds.close_flag[zone], 0)
    of, tops, heights = _tops(curves, found, edges, rise, fall, (begin, finish))
    first = np.concatenate([np.ones(min(of.size, 1), np.bool_), np.diff(of) != 0])
    highest = np.full(rise.size, -np.inf)
    top = np.full((rise.size, 4), np.nan)
    highest[of[first]], top[of[first]] = heights[first], tops[first]
    ends = [
        _end_heights(curves, zone, time_s, some, limit_sine)
        for time_s, some in zip((begin, finish), cut, strict=True)
    ]
    outside = np.maximum(*ends) > highest
    flags |= np.where(outside, int(Flags.CULMINATES_OUTSIDE), 0)
    return (
        Found(
            row=rows[curves.of[edges.interval[rise]]],
            begin_s=begin,
            finish_s=finish,
            flags=flags,
            rise=_uncut(edges.moments[rise], cut[0]),
            top=top,
            set=_uncut(edges.moments[fall], cut[1]),
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
    curves: Curves,
    found: Events,
    edges: _Edges,
    rise: Ints,
    fall: Ints,
    bounds: tuple[Floats, Floats],
) -> tuple[Ints, Floats, Floats]:
    """Pass, moment and height of every top that counts, the highest of a pass first."""
    place = found.tops.interval + found.tops.offset
    of = np.searchsorted(edges.place[rise], place, side="right") - 1
    inside = of >= 0
    inside[inside] &= place[inside] < edges.place[fall][of[inside]]
    of, tops, heights = of[inside], found.tops.take(inside), found.heights[inside]
    time_s = curves.time_s(tops.interval, tops.offset)
    counts = (time_s >= bounds[0][of]) & (time_s <= bounds[1][of])
    order = np.flatnonzero(counts)
    order = order[np.lexsort((-heights[order], of[order]))]
    seen = curves.at(tops.interval[order], tops.offset[order])
    return of[order], moments(time_s[order], seen), heights[order]


def _end_heights(
    curves: Curves, zone: Ints, time_s: Floats, cut: Bools, limit_sine: float
) -> Floats:
    """Heights at the cut ends of passes, minus infinity at the others."""
    heights = np.full(zone.size, -np.inf)
    first, last = (ends[zone[cut]] for ends in _ends(curves))
    ticks = curves.clocks.take(curves.of[first]).ticks(time_s[cut])
    interval = first + np.floor(ticks).astype(np.int64) - curves.tick[first]
    interval = np.clip(interval, first, last)
    places = Places(interval, ticks - curves.tick[interval])
    heights[cut] = height_at(curves, places, limit_sine)
    return heights


def _uncut(moment: Floats, cut: Bools) -> Floats:
    moment[cut] = np.nan
    return moment
