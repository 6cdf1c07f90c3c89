"""One moment a passage: the brightest, placed between samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import sky
from passes.forecast.geometry import View
from passes.forecast.sampled import Sampled

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Times tried at once between the neighbours of a sample, and how often ever closer:
#: a second is found near the Earth, where samples stand 20 s apart.
_POINTS, _ROUNDS = 9, 3


@dataclass(frozen=True, slots=True, eq=False)
class Peaks:
    """One moment a passage, with its brightness; ``(n,)``, nan where there is none."""

    time_s: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    range_km: Floats
    magnitude: Floats
    magnitude_above_atmosphere: Floats
    magnitude_sigma: Floats
    phase_angle_deg: Floats
    angular_rate_deg_s: Floats


def highest_s(sampled: Sampled, altitude_rad: Floats) -> Floats:
    """Time of the highest sample of each passage, ``(n,)``."""
    top = sampled.most(altitude_rad)
    at = np.flatnonzero(altitude_rad == top[sampled.samples.passage])
    _, first = np.unique(sampled.samples.passage[at], return_index=True)
    return sampled.samples.time_s[at[first]]


def peaks_of(sampled: Sampled, seen: Floats) -> Peaks:
    """The brightest moment of each passage, placed between samples."""
    n = len(sampled.table)
    lowest = -sampled.most(-seen)
    first = np.flatnonzero(seen == lowest[sampled.samples.passage])
    of, where = np.unique(sampled.samples.passage[first], return_index=True)
    time_s = _brightest_s(sampled, seen, of, first[where])
    view = sampled.at(of, time_s)
    magnitudes = sampled.magnitudes(of, view)
    columns = {
        "time_s": time_s,
        "altitude_deg": np.degrees(view.altitude_rad),
        "azimuth_deg": np.degrees(view.azimuth_rad),
        "range_km": view.range_km,
        "magnitude": magnitudes.seen,
        "magnitude_above_atmosphere": magnitudes.above,
        "magnitude_sigma": magnitudes.sigma,
        "phase_angle_deg": np.degrees(view.phase_rad),
        "angular_rate_deg_s": _rate(sampled, of, time_s, view),
    }
    spread = {name: np.full(n, np.nan) for name in columns}
    for name, column in columns.items():
        spread[name][of] = column
    return Peaks(**spread)


def _brightest_s(sampled: Sampled, seen: Floats, of: Ints, at: Ints) -> Floats:
    """When passages ``of`` are brightest, beside their brightest samples ``at``."""
    time_s, low_s, high_s = _vertex(sampled, seen, at)
    tried = _seen(sampled, of, time_s)
    # A parabola does not fit where a neighbour lies in the penumbra or the shadow.
    worse = np.flatnonzero(~(tried < seen[at]) & (high_s > low_s))
    of, low_s, high_s = of[worse], low_s[worse], high_s[worse]
    each = np.arange(worse.size)
    for _ in range(_ROUNDS):
        at_s = np.linspace(low_s, high_s, _POINTS)
        magnitude = _seen(sampled, np.tile(of, _POINTS), at_s.ravel())
        best = np.where(np.isnan(magnitude), np.inf, magnitude)
        i = best.reshape(at_s.shape).argmin(axis=0)
        time_s[worse] = at_s[i, each]
        low_s = at_s[np.maximum(i - 1, 0), each]
        high_s = at_s[np.minimum(i + 1, _POINTS - 1), each]
    return time_s


def _seen(sampled: Sampled, of: Ints, at_s: Floats) -> Floats:
    return sampled.magnitudes(of, sampled.at(of, at_s)).seen


def _vertex(sampled: Sampled, seen: Floats, at: Ints) -> tuple[Floats, Floats, Floats]:
    """Where a parabola through a sample and its neighbours is brightest.

    Beside it the times between which the brightest moment lies: those of the
    neighbours, where they are seen, else of the sample itself.
    """
    time_s, passage = sampled.samples.time_s, sampled.samples.passage
    before, after = np.maximum(at - 1, 0), np.minimum(at + 1, seen.size - 1)
    a, b, c = seen[before], seen[at], seen[after]
    left = (passage[before] == passage[at]) & np.isfinite(a)
    right = (passage[after] == passage[at]) & np.isfinite(c)
    bend = a - 2 * b + c
    usable = left & right & (before < at) & (after > at) & (bend > 0.0)
    shift = np.where(usable, 0.5 * (a - c) / np.where(usable, bend, 1.0), 0.0)
    return (
        time_s[at] + np.clip(shift, -1.0, 1.0) * (time_s[after] - time_s[at]),
        np.where(left, time_s[before], time_s[at]),
        np.where(right, time_s[after], time_s[at]),
    )


def _rate(sampled: Sampled, of: Ints, time_s: Floats, view: View) -> Floats:
    half = 0.25
    ahead = sampled.samples.at(of, time_s + half)
    behind = sampled.samples.at(of, time_s - half)
    return sampled.viewer.rate_deg_s(view, (ahead - behind) / (2 * half))


def surroundings(sampled: Sampled, brightest: Peaks) -> tuple[Floats, Floats]:
    """Sun's altitude and distance from the Moon, at brightest or else highest."""
    table = sampled.table
    middle = (table.begin_s + table.finish_s) / 2
    when = np.where(
        np.isnan(table.culmination.time_s), middle, table.culmination.time_s
    )
    when = np.where(np.isnan(brightest.time_s), when, brightest.time_s)
    view = sampled.at(np.arange(len(table)), when)
    moon = sampled.viewer.moon(view, sky.moon_teme_km(sampled.viewer.start, when))
    return np.degrees(view.sun_altitude_rad), np.degrees(moon.separation_rad)
