"""Roots and peaks of many functions at once, each within its own bracket.

A function here takes times ``(k,)``, one a bracket and always in the same order, and
returns values ``(k,)``, so it may close over what belongs to each bracket.  All
brackets advance together; a bracket that has settled is asked again at its answer.
"""

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Function: TypeAlias = Callable[[Floats], Floats]

_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
#: Halving a bracket this often exhausts double precision.
_MOST_STEPS = 200


def _ends(low: ArrayLike, high: ArrayLike) -> tuple[Floats, Floats]:
    a, b = np.broadcast_arrays(
        np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    )
    return np.array(a), np.array(b)


def changes(values: ArrayLike) -> tuple[Ints, NDArray[np.bool_]]:
    """Where samples ``(n,)`` change sign: index before the change, and if it rises.

    Zero counts as not above; so does nan.
    """
    above = np.asarray(values) > 0.0
    index = np.flatnonzero(above[1:] != above[:-1])
    return index, above[index + 1]


def bisect(f: Function, low: ArrayLike, high: ArrayLike, tol: float) -> Floats:
    """Roots ``(k,)`` of bracketed functions by halving; slow, sure, no surprises.

    The answer lies within ``tol`` of a change of sign.  nan where the two ends have
    the same sign; an end where the function is exactly zero is the answer.
    """
    a, b = _ends(low, high)
    fa, fb = f(a), f(b)
    above = fa > 0.0
    bracketed, answer = _settled(a, b, fa, fb)
    for _ in range(_MOST_STEPS):
        width = np.abs(b - a)[bracketed]
        if not width.size or width.max() <= 2.0 * tol:
            break
        middle = 0.5 * (a + b)
        stay = (f(middle) > 0.0) == above
        a, b = np.where(stay, middle, a), np.where(stay, b, middle)
    return np.where(bracketed, 0.5 * (a + b), answer)


def _settled(
    a: Floats, b: Floats, fa: Floats, fb: Floats
) -> tuple[NDArray[np.bool_], Floats]:
    """Which brackets need work, and the answers of those that do not."""
    answer = np.where(fa == 0.0, a, np.where(fb == 0.0, b, np.nan))
    bracketed = ((fa > 0.0) != (fb > 0.0)) & np.isnan(answer)
    return bracketed & np.isfinite(fa) & np.isfinite(fb), answer


def refine(f: Function, low: ArrayLike, high: ArrayLike, tol: float) -> Floats:
    """Roots ``(k,)`` as :func:`bisect` finds them, in far fewer calls of ``f``.

    Inverse quadratic steps where they can be trusted, halving elsewhere
    (Chandrupatla 1997, Adv. Eng. Software 28, 145), so never slower than twice the
    halving.  nan where there is no change of sign.
    """
    a, b = _ends(low, high)
    fa, fb = f(a), f(b)
    open_, answer = _settled(a, b, fa, fb)
    step = np.full(a.shape, 0.5)
    for _ in range(_MOST_STEPS):
        if not open_.any():
            break
        x = np.where(open_, a + step * (b - a), np.where(np.isnan(answer), a, answer))
        fx = f(x)
        same = (fx > 0.0) == (fa > 0.0)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        room = np.abs(b - a)
        done = open_ & ((room <= tol) | (fa == 0.0))
        answer = np.where(done, np.where(fa == 0.0, a, best), answer)
        open_ = open_ & ~done
        step = _next_step(np.stack([a, b, c]), np.stack([fa, fb, fc]), tol, open_)
    return np.where(open_, a, answer)


def _next_step(x: Floats, y: Floats, tol: float, open_: NDArray[np.bool_]) -> Floats:
    """How far to go from the newest point to the other end, 0 to 1."""
    (a, b, c), (fa, fb, fc) = x, y
    with np.errstate(all="ignore"):  # settled brackets may divide zero by zero
        shape, slope = (a - b) / (c - b), (fa - fb) / (fc - fb)
        trusted = (slope**2 < shape) & ((1.0 - slope) ** 2 < 1.0 - shape)
        inverse = fa / (fb - fa) * fc / (fb - fc)
        inverse = inverse + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        least = np.minimum(0.5 * tol / np.abs(b - a), 0.5)
        step = np.clip(np.where(trusted, inverse, 0.5), least, 1.0 - least)
    return np.where(open_ & np.isfinite(step), step, 0.5)


def parabola(t: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Vertex (time, value) of parabolas through three points; ``(..., 3)`` each.

    The times need not be evenly spaced.  nan where the points lie on a line.
    """
    x = np.asarray(t, dtype=np.float64)
    v = np.asarray(y, dtype=np.float64)
    origin, level = x[..., 1], v[..., 1]
    p, q = x[..., 0] - origin, x[..., 2] - origin
    u, w = v[..., 0] - level, v[..., 2] - level
    with np.errstate(divide="ignore", invalid="ignore"):
        curve = (u / p - w / q) / (p - q)
        slope = u / p - curve * p
        shift = np.where(curve == 0.0, np.nan, -slope / (2.0 * curve))
    return origin + shift, level + 0.5 * slope * shift


def highest(
    f: Function, low: ArrayLike, high: ArrayLike, tol: float
) -> tuple[Floats, Floats]:
    """Times ``(k,)`` and values ``(k,)`` of the highest points, by golden section.

    ``f`` must have one maximum in each bracket; if it only rises or falls, an end
    comes back.  A maximum is flat: no method that compares values can place it better
    than about 1e-8 of the scale on which it bends; use :func:`parabola` or the root
    of a derivative beyond that.
    """
    a, b = _ends(low, high)
    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    fc, fd = f(c), f(d)
    for _ in range(_MOST_STEPS):
        if not a.size or np.abs(b - a).max() <= 2.0 * tol:
            break
        left = fc >= fd
        a, b = np.where(left, a, c), np.where(left, d, b)
        fresh = np.where(left, b - _GOLDEN * (b - a), a + _GOLDEN * (b - a))
        value = f(fresh)
        c, d = np.where(left, fresh, d), np.where(left, c, fresh)
        fc, fd = np.where(left, value, fd), np.where(left, fc, value)
    best = np.where(fc >= fd, c, d)
    return best, np.maximum(fc, fd)
