"""Slow quantities tabulated at whole UTC hours and interpolated between.

The hours are those of the clock, not counted from a window's start, so the same
moment has the same value whatever window it is asked in.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.errors import InputError
from passes.sky._door import EPOCH

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LINEAR, CUBIC = 1, 3
_LONGEST_DAYS = 500
#: Hours handed to skyfield at once: bounds its memory (the nutation series has 1365
#: terms an hour), not its answers.
_HOURS_AT_ONCE = 480
#: Times interpolated at once: what fits a processor's cache.
_TIMES_AT_ONCE = 8192


def seconds_of_day(start: datetime, time_s: ArrayLike) -> tuple[int, Floats]:
    """Days from 1970 to the UTC midnight before ``start``, and seconds from there."""
    if start.tzinfo is None:
        raise InputError(f"the time {start.isoformat()} has no zone; add Z")
    since = start - EPOCH
    second = since.seconds + since.microseconds * 1e-6
    return since.days, np.asarray(time_s, dtype=np.float64) + second


def interpolated(
    table: Callable[[int, int], Floats], start: datetime, time_s: ArrayLike
) -> Floats:
    """A tabulated quantity at times ``(...)`` from ``start``, ``(..., p)``.

    ``table(first_day, last_day)`` gives polynomials as :func:`tabulated` makes them.
    A time that is nan gives nan.
    """
    day, seconds = seconds_of_day(start, time_s)
    hours = seconds.reshape(-1) / 3600.0
    known = np.isfinite(hours)
    if not known.all():
        hours = np.where(known, hours, hours[known][0] if known.any() else 0.0)
    if not hours.size:
        return np.empty((*seconds.shape, table(day, day).shape[2]))
    first, last = int(hours.min() // 24.0), int(hours.max() // 24.0)
    if last - first > _LONGEST_DAYS:
        raise InputError(
            f"a window of {last - first} days is too long; "
            f"ask for at most {_LONGEST_DAYS} at a time"
        )
    values = _evaluate(table(day + first, day + last), hours - 24.0 * first)
    if not known.all():
        values[~known] = np.nan
    return values.reshape(*seconds.shape, values.shape[1])


def by_pieces(of: Callable[[Floats], Floats], time_s: ArrayLike) -> Floats:
    """``of(times)`` for times ``(...)`` in pieces that fit the cache, ``(..., p)``.

    Changes no answer: ``of`` treats each time alone and gives ``(n, p)`` for ``(n,)``.
    """
    times = np.asarray(time_s, dtype=np.float64)
    flat = times.reshape(-1)
    pieces = [
        of(flat[begin : begin + _TIMES_AT_ONCE])
        for begin in range(0, max(flat.size, 1), _TIMES_AT_ONCE)
    ]
    values = pieces[0] if len(pieces) == 1 else np.concatenate(pieces)
    return values.reshape(*times.shape, values.shape[1])


def _evaluate(polynomials: Floats, hours: Floats) -> Floats:
    """Polynomials ``(hour, power, p)`` at hours ``(n,)`` from the first, ``(n, p)``."""
    count, powers, width = polynomials.shape
    rows = [np.ascontiguousarray(polynomials[:, power]) for power in range(powers)]
    values = np.empty((hours.size, width))
    for begin in range(0, hours.size, _TIMES_AT_ONCE):
        some = slice(begin, begin + _TIMES_AT_ONCE)
        index = np.minimum(hours[some].astype(np.int64), count - 1)
        within = (hours[some] - index)[:, np.newaxis]
        total = rows[-1].take(index, axis=0)
        for row in rows[-2::-1]:
            total *= within
            total += row.take(index, axis=0)
        values[some] = total
    return values


def tabulated(of: Callable[[Ints], Floats], order: int) -> Callable[[int, int], Floats]:
    """Make a table of ``of``, which takes hours since 1970 ``(m,)``, gives ``(m, p)``.

    The table takes the first and the last day and gives one polynomial an hour,
    ``(24 · days, order + 1, p)``, lowest power first; recent tables are kept.
    """

    @lru_cache(maxsize=64)
    def table(first_day: int, last_day: int) -> Floats:
        hours = np.arange(24 * first_day - 1, 24 * (last_day + 1) + 2)
        pieces = [
            of(hours[begin : begin + _HOURS_AT_ONCE])
            for begin in range(0, hours.size, _HOURS_AT_ONCE)
        ]
        polynomials = (_line if order == LINEAR else _cubic)(np.concatenate(pieces))
        polynomials.setflags(write=False)
        return polynomials

    return table


def _line(values: Floats) -> Floats:
    """Straight lines between inner nodes; ``(m, p)`` to ``(m - 3, 2, p)``."""
    inner = values[1:-1]
    return np.stack([inner[:-1], np.diff(inner, axis=0)], axis=1)


def _cubic(values: Floats) -> Floats:
    """Cubics through four neighbours; ``(m, p)`` to ``(m - 3, 4, p)``."""
    a, b, c, d = values[:-3], values[1:-2], values[2:-1], values[3:]
    linear = c - a / 3.0 - b / 2.0 - d / 6.0
    square = (a + c) / 2.0 - b
    cube = (d - a) / 6.0 + (b - c) / 2.0
    return np.stack([b, linear, square, cube], axis=1)
