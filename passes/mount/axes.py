"""Which part of a path a mount's axes can follow."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def within_limits(
    rate: ArrayLike,
    acceleration: ArrayLike,
    rate_limit: ArrayLike,
    acceleration_limit: ArrayLike,
) -> Bools:
    """Where an axis can keep up, ``(...)``; all in one unit of angle.

    A limit that is nan is taken as none; a rate that is nan (the pole of the axes) is
    out of reach, an unknown acceleration counts as zero.
    """
    speed = np.abs(np.asarray(rate, dtype=np.float64))
    pull = np.abs(np.nan_to_num(np.asarray(acceleration, dtype=np.float64)))
    fastest = np.nan_to_num(np.asarray(rate_limit, dtype=np.float64), nan=np.inf)
    hardest = np.nan_to_num(
        np.asarray(acceleration_limit, dtype=np.float64), nan=np.inf
    )
    return np.asarray((speed <= fastest) & (pull <= hardest))


def runs(mask: ArrayLike) -> list[tuple[int, int]]:
    """Unbroken stretches of true in ``(n,)``: first and last index of each."""
    padded = np.concatenate([[False], np.asarray(mask, dtype=bool), [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def longest_run(mask: ArrayLike) -> tuple[int, int] | None:
    """The longest of :func:`runs`, the first of equals; None where nothing is true."""
    found = runs(mask)
    return max(found, key=lambda run: run[1] - run[0]) if found else None
