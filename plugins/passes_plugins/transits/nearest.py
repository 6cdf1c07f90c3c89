"""Where a centre line comes nearest to a place, and how far a wrong time moves it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from passes import strip, vectors
from passes_plugins.transits.line import Line

if TYPE_CHECKING:
    from passes.model import Growth

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Looks along a stretch, then around the nearest of them, twice.
_LOOKS = (61, 41, 21)
#: A share of normal errors within 95 %, in sigmas.
NORMAL_95 = 1.96
#: A line that a wrong time moves is looked for so long before and after, seconds.
_AROUND_S = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class Nearest:
    """Nearest points of centre lines to places, ``(m,)``; nan where there is none."""

    time_s: Floats
    place_km: Floats
    distance_km: Floats


def nearest(
    line: Line,
    rows: Ints,
    begin_s: Floats,
    end_s: Floats,
    place_km: Floats,
    height_km: float,
    aside_km: Floats | None = None,
) -> Nearest:
    """Of rows ``(m,)`` within stretches, to places ``(m, 3)`` on the ground."""
    low, high = begin_s, end_s
    every = np.arange(rows.size)
    for looks in _LOOKS:
        time_s = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, looks)
        ground = line.ground(rows, time_s, height_km, aside_km)
        square = vectors.norm(ground - place_km[:, np.newaxis]) ** 2
        square = np.where(np.isnan(square), np.inf, square)
        best = square.argmin(axis=1)
        low = time_s[every, np.maximum(best - 1, 0)]
        high = time_s[every, np.minimum(best + 1, looks - 1)]
    when = _vertex(time_s, square, best)[:, np.newaxis]
    ground = line.ground(rows, when, height_km, aside_km)[:, 0]
    return Nearest(when[:, 0], ground, vectors.norm(ground - place_km))


def _vertex(time_s: Floats, square: Floats, best: Ints) -> Floats:
    """The lowest point of parabolas through three looks; ends stay as they are."""
    every = np.arange(best.size)
    inner = np.clip(best, 1, time_s.shape[1] - 2)
    left, middle, right = (square[every, inner + k] for k in (-1, 0, 1))
    step = time_s[every, inner] - time_s[every, inner - 1]
    with np.errstate(all="ignore"):
        bend = left + right - 2.0 * middle
        offset = 0.5 * (left - right) / bend
    sound = np.isfinite(offset) & (bend > 0.0)
    offset = np.clip(np.where(sound, offset, 0.0), -1.0, 1.0)
    on_end = (best != inner) & (offset == 0.0)
    return np.where(on_end, time_s[every, best], time_s[every, inner] + offset * step)


@dataclass(frozen=True, slots=True, eq=False)
class Shifts:
    """How far lines may lie beside their nearest points at 95 %, km, ``(m,)``.

    ``late_km`` holds the ground from the nearest point to the line of an object late
    by the bound, ``(m, 3)``.
    """

    by_time_km: Floats
    by_side_km: Floats
    late_km: Floats

    @property
    def both_km(self) -> Floats:
        """Time and side together; they have nothing to do with each other."""
        return np.hypot(self.by_time_km, self.by_side_km)


def shifts(
    line: Line,
    rows: Ints,
    found: Nearest,
    bound_s: Floats,
    cross_sigma_km: Floats,
    height_km: float,
) -> Shifts:
    """By shifting epochs: the same path in space, later, over an Earth that has turned.

    The object early and late by its bound, and beside its path by 95 % of the error
    across it.
    """
    moved: list[Nearest] = []
    for sign in (1.0, -1.0):
        late = line.late(rows, sign * bound_s)
        moved.append(_beside(late, found, sign * bound_s, height_km))
    side = [
        _beside(
            line.late(rows, np.zeros(rows.size)),
            found,
            np.zeros(rows.size),
            height_km,
            sign * NORMAL_95 * cross_sigma_km,
        ).distance_km
        for sign in (1.0, -1.0)
    ]
    return Shifts(
        by_time_km=np.maximum(moved[0].distance_km, moved[1].distance_km),
        by_side_km=np.maximum(*side),
        late_km=moved[0].place_km - found.place_km,
    )


def _beside(
    line: Line,
    found: Nearest,
    late_s: Floats,
    height_km: float,
    aside_km: Floats | None = None,
) -> Nearest:
    """The nearest points of moved lines (a row each) to the expected ones."""
    rows = np.arange(late_s.size)
    around = _AROUND_S + 0.1 * np.abs(late_s)
    middle = found.time_s + late_s
    return nearest(
        line,
        rows,
        middle - around,
        middle + around,
        found.place_km,
        height_km,
        aside_km,
    )


def widths_km(left_km: Floats, right_km: Floats, along_km: Floats) -> Floats:
    """Width of strips across themselves from points of both edges, ``(...)`` km.

    ``along_km`` points along the strip.
    """
    apart, along = left_km - right_km, vectors.unit(along_km)
    level = strip.up_at(right_km)
    apart = apart - level * vectors.dot(apart, level)[..., np.newaxis]
    return vectors.norm(apart - along * vectors.dot(apart, along)[..., np.newaxis])


def settled_at_age(
    growth: Growth, room_km: float, km_per_s: float, side_gain: float
) -> float:
    """The greatest age (days) of elements at which a line is sure to ``room_km``.

    ``km_per_s`` is how far a second of time moves it, ``side_gain`` how far a
    kilometre across the path does.  nan where even fresh elements do not suffice.
    """
    from passes import growth as growths

    ages = np.linspace(0.0, 30.0, 1201)
    _, bound_s, cross_km = growths.errors(growth, ages)
    side_km = side_gain * NORMAL_95 * np.nan_to_num(cross_km)
    sure = np.hypot(km_per_s * bound_s, side_km) <= room_km
    return float(ages[sure].max()) if sure.any() else float("nan")
