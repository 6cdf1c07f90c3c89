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
    time_s = _vertex(sampled, seen, first[where])
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


def _vertex(sampled: Sampled, seen: Floats, at: Ints) -> Floats:
    """Where a parabola through a sample and its neighbours is brightest."""
    time_s, passage = sampled.samples.time_s, sampled.samples.passage
    before, after = np.maximum(at - 1, 0), np.minimum(at + 1, seen.size - 1)
    a, b, c = seen[before], seen[at], seen[after]
    inside = (passage[before] == passage[at]) & (passage[after] == passage[at])
    bend = a - 2 * b + c
    usable = inside & (before < at) & (after > at) & (bend > 0.0)
    shift = np.where(usable, 0.5 * (a - c) / np.where(usable, bend, 1.0), 0.0)
    return time_s[at] + np.clip(shift, -1.0, 1.0) * (time_s[after] - time_s[at])


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
