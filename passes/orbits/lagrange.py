"""Interpolation through six nodes, for many stretches of nodes at once.

Positions alone are interpolated: SGP4's velocity is not the derivative of its
position (0.02 m/s off in a low circular orbit, 1.7 m/s at the perigee of a very
eccentric one), so a form that also used velocities would have an error floor.
Through six positions of a circular orbit of radius ``a``, ``d`` radians apart, the
error in the middle interval is at most ``a · d⁶ · 0.0049``: 4 mm in the lowest
orbits with a node a minute.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: How many nodes carry each interval, and how many of them lie before it.
POINTS = 6
BEFORE = 2
#: Where the nodes stand, in steps from the beginning of the interval.
PLACES = tuple(range(-BEFORE, POINTS - BEFORE))


def weights(offset: ArrayLike) -> Floats:
    """Weight of each of six even nodes (at −2 … 3 steps) at offsets, ``(6, ...)``."""
    p = np.asarray(offset, dtype=np.float64)
    a, b, c, d, e = p + 2.0, p + 1.0, p - 1.0, p - 2.0, p - 3.0
    de, ab = d * e, a * b
    pc = p * c
    return np.stack(
        [
            b * pc * de / -120.0,
            a * pc * de / 24.0,
            ab * c * de / -12.0,
            ab * p * de / 12.0,
            ab * pc * e / -24.0,
            ab * pc * d / 120.0,
        ]
    )


def slopes(offset: ArrayLike) -> Floats:
    """Derivatives of :func:`weights` with respect to the offset, ``(6, ...)``."""
    p = np.asarray(offset, dtype=np.float64)
    return np.stack([_horner(row, p) for row in _SLOPES])


def _horner(powers: tuple[float, ...], p: Floats) -> Floats:
    total = np.full(p.shape, powers[-1])
    for power in powers[-2::-1]:
        total *= p
        total += power
    return total


def _slope_powers() -> tuple[tuple[float, ...], ...]:
    """Coefficients, lowest power first, of the derivative of each weight."""
    rows = []
    for place in PLACES:
        others = [float(other) for other in PLACES if other != place]
        scale = float(np.prod([place - other for other in others]))
        powers = np.polynomial.polynomial.polyfromroots(others) / scale
        rows.append(tuple(np.polynomial.polynomial.polyder(powers).tolist()))
    return tuple(rows)


_SLOPES = _slope_powers()


def extrapolate(nodes: Floats, *, backwards: bool = False) -> Floats:
    """The next even node after ``(m, w)`` (or before them), ``(w,)``; m ≥ 6."""
    near = nodes[:POINTS] if backwards else nodes[: -POINTS - 1 : -1]
    signs = np.array([6.0, -15.0, 20.0, -15.0, 6.0, -1.0])
    return np.asarray((signs[:, np.newaxis] * near).sum(axis=0))


def between(
    node_time: Floats,
    node_value: Floats,
    offsets: Ints,
    stretch: ArrayLike,
    time: ArrayLike,
) -> Floats:
    """Values at times ``(k,)``, each within its own stretch of nodes, ``(k, w)``.

    ``node_time`` ``(m,)`` rises within each stretch and need not be even;
    ``node_value`` is ``(m, w)``; stretch ``s`` owns nodes ``offsets[s]`` up to
    ``offsets[s + 1]``, at least six.  The six nodes around a time are used, those at
    the end of the stretch where there are no more; just beyond an end the polynomial
    is carried on.  Raises ValueError where a stretch asked about is too short.
    """
    which = np.asarray(stretch, dtype=np.int64)
    at = np.asarray(time, dtype=np.float64)
    low, high = offsets[which], offsets[which + 1]
    if which.size and (high - low).min() < POINTS:
        raise ValueError(f"interpolation needs at least {POINTS} nodes a stretch")
    first = np.clip(
        _last_at_or_before(node_time, low, high, at) - BEFORE, low, high - 6
    )
    times = [node_time[first + i] for i in range(POINTS)]
    total = np.zeros((at.size, node_value.shape[1]))
    for i in range(POINTS):
        weight = np.ones(at.size)
        for j in range(POINTS):
            if j != i:
                weight *= (at - times[j]) / (times[i] - times[j])
        total += weight[:, np.newaxis] * node_value[first + i]
    return total


def _last_at_or_before(node_time: Floats, low: Ints, high: Ints, at: Floats) -> Ints:
    """Index of the last node of each stretch not after a time, by halving."""
    left, right = low.copy(), high - 1
    for _ in range(int((right - left).max(initial=0)).bit_length() + 1):
        middle = (left + right + 1) // 2
        below = node_time[middle] <= at
        left = np.where(below, middle, left)
        right = np.where(below, right, np.maximum(middle - 1, left))
    return left
