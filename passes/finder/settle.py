"""Roots of many functions together, started close and left alone."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_MOST_STEPS = 60
#: From here on brackets are halved, whatever the secant says.
_PATIENCE = 20


def settle(
    f: Callable[[Ints, Floats], Floats],
    guess: Floats,
    slope: Floats,
    bracket: tuple[Floats, Floats],
    rising: Bools,
    last_step: float,
) -> Floats:
    """Roots ``(k,)`` of functions that rise or fall through zero within a bracket.

    ``f(which, x)`` evaluates some of them.  The first step uses the slope given, the
    later ones the secant; a step that would leave the bracket halves it.  Each root
    goes its own way, so that it comes out the same in any company.
    """
    answer = guess.copy()
    which, x = np.arange(guess.size), guess
    low, high = bracket
    last_x = last_y = guess
    for count in range(_MOST_STEPS):
        y = f(which, x)
        beyond = (y > 0.0) == rising[which]
        low, high = np.where(beyond, low, x), np.where(beyond, x, high)
        if count:
            run = x - last_x
            slope = (y - last_y) / np.where(run == 0.0, 1.0, run)
        target = x - y / np.where(slope == 0.0, np.inf, slope)
        inside = (target > low) & (target < high) & (slope != 0.0) & (count < _PATIENCE)
        target = np.where(inside, target, 0.5 * (low + high))
        target = np.where(y == 0.0, x, target)
        answer[which] = target
        going = (np.abs(target - x) > last_step) & (high - low > last_step)
        if not going.any():
            break
        last_x, last_y = x[going], y[going]
        which, x = which[going], target[going]
        low, high, slope = low[going], high[going], slope[going]
    return answer
