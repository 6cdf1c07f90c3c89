"""What is drawn of one pass on the sky, and how heavy its line is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """One pass across the sky; arrays ``(n,)``, angles in degrees.

    ``marks`` are (index, words) at which a time is written; with no words there is
    only a dot.
    """

    label: str
    azimuth_deg: Floats
    altitude_deg: Floats
    lit: NDArray[np.bool_]
    magnitude: Floats
    marks: Sequence[tuple[int, str]] = ()


def grown(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Flags with one neighbour on each side, so that lines meet."""
    wider = flags.copy()
    wider[1:] |= flags[:-1]
    wider[:-1] |= flags[1:]
    return wider


def runs_of(wanted: NDArray[np.bool_], values: Floats) -> list[tuple[int, int]]:
    """First and last index of every run of equal values, where they are wanted."""
    runs: list[tuple[int, int]] = []
    for i in np.flatnonzero(wanted).tolist():
        if runs and runs[-1][1] == i - 1 and values[i] == values[i - 1]:
            runs[-1] = (runs[-1][0], i)
        else:
            runs.append((i, i))
    return runs


def line_width(magnitude: ArrayLike) -> Floats:
    """Line weight in points, ``(n,)``: 1 at magnitude 6 and fainter, 6 at −4."""
    known = np.nan_to_num(np.asarray(magnitude, dtype=float), nan=6.0)
    return np.asarray(np.interp(known, [-4.0, 6.0], [6.0, 1.0]))
