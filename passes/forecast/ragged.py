"""Spans of time that belong to passages: found as runs in samples, then refined."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
#: Says of passages ``(k,)`` and times ``(k,)`` whether a condition holds, ``(k,)``.
Condition = Callable[[Ints, Floats], Bools]

#: Halvings of a bracket: 20 s shrink to 10 ms.
_HALVINGS = 11


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Spans ``(k,)`` in seconds from the window's start, in order of passage."""

    of: Ints
    start_s: Floats
    end_s: Floats

    def per(self, n: int) -> Ints:
        """Where each of ``n`` passages' spans begin, ``(n + 1,)``."""
        return np.searchsorted(self.of, np.arange(n + 1))

    def duration_s(self, n: int) -> Floats:
        """Total length of each passage's spans, ``(n,)``."""
        return np.bincount(self.of, self.end_s - self.start_s, minlength=n).astype(
            float
        )


def spans_where(
    holds: Bools, passage: Ints, time_s: Floats, condition: Condition
) -> Spans:
    """Spans of each passage in which a condition holds.

    ``holds`` is the condition at the samples ``(m,)``; a change between two samples
    of one passage is located by halving with ``condition``.  A dip shorter than the
    sampling can be missed.
    """
    same = passage[1:] == passage[:-1]
    change = np.flatnonzero(same & (holds[1:] != holds[:-1]))
    edge_s = _locate(
        passage[change],
        time_s[change],
        time_s[change + 1],
        holds[change + 1],
        condition,
    )
    opens = holds & np.concatenate(([True], ~same | ~holds[:-1]))
    closes = holds & np.concatenate((~same | ~holds[1:], [True]))
    start, end = time_s.copy(), time_s.copy()
    start[change + 1] = edge_s
    end[change] = edge_s
    return Spans(passage[opens], start[opens], end[closes])


def _locate(
    passage: Ints, low: Floats, high: Floats, rising: Bools, condition: Condition
) -> Floats:
    """Halve every bracket together; ``rising`` says the condition holds at ``high``."""
    for _ in range(_HALVINGS if passage.size else 0):
        middle = (low + high) / 2
        beyond = condition(passage, middle) == rising
        high = np.where(beyond, middle, high)
        low = np.where(beyond, low, middle)
    return (low + high) / 2


def intersect(first: Spans, second: Spans) -> Spans:
    """Spans in which both hold; each input holds disjoint spans in order."""
    count = int(max(first.of.max(initial=-1), second.of.max(initial=-1))) + 1
    begin = second.per(count)
    many = begin[first.of + 1] - begin[first.of]
    left = np.repeat(np.arange(first.of.size), many)
    within = np.arange(left.size) - np.repeat(np.cumsum(many) - many, many)
    right = begin[first.of[left]] + within
    start = np.maximum(first.start_s[left], second.start_s[right])
    end = np.minimum(first.end_s[left], second.end_s[right])
    keep = end > start
    return Spans(first.of[left][keep], start[keep], end[keep])
