"""Where words have room in a crowded picture."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Spot = tuple[float, float]

#: Width and height of a letter, in its size (a plain sans-serif, measured).
_WIDE, _HIGH = 0.62, 1.15
#: Kept free around words, in letters' size.
_GAP = 0.2
_AROUND = np.radians(np.arange(0.0, 360.0, 22.5))


class Room:
    """Boxes that are taken, and lines that words had better not lie on.

    Lengths are those of the axes; ``per_point`` is how many of them a point is.
    Nothing is put further than ``reach`` from the middle.
    """

    def __init__(self, per_point: float, reach: float = inf) -> None:
        self._per_point, self._reach = per_point, reach
        self._boxes: list[tuple[float, float, float, float]] = []
        self._lines = np.empty((0, 2))

    def half_size(self, words: str, size: float) -> Spot:
        """Half the width and half the height of words in that size of letters."""
        lines = words.split("\n")
        unit = 0.5 * size * self._per_point
        return max(map(len, lines)) * _WIDE * unit, len(lines) * _HIGH * unit

    def avoid(self, x: ArrayLike, y: ArrayLike) -> None:
        """Points of a line, close together."""
        points = np.stack([np.ravel(x), np.ravel(y)], axis=1)
        self._lines = np.concatenate([self._lines, points])

    def take(self, x: float, y: float, half: Spot) -> None:
        """A box that is taken."""
        self._boxes.append((x, y, *half))

    def cost(self, x: float, y: float, half: Spot) -> float:
        """How many points of lines lie under a box; infinite where it is taken."""
        wide, high = half
        if np.hypot(abs(x) + wide, abs(y) + high) > self._reach:
            return inf
        for other_x, other_y, other_wide, other_high in self._boxes:
            beside = abs(x - other_x) > wide + other_wide
            if not (beside or abs(y - other_y) > high + other_high):
                return inf
        apart = np.abs(self._lines - (x, y))
        return float(((apart[:, 0] < wide) & (apart[:, 1] < high)).sum())

    def beside(
        self, points: Iterable[Spot], words: str, size: float, away: float
    ) -> tuple[int, Spot] | None:
        """The freest place beside one of some points, and which point; then taken.

        ``away`` is how far the words stand off.  None where no place is free.
        """
        wide, high = self.half_size(words, size)
        gap = _GAP * size * self._per_point
        best, found = inf, None
        for i, (x, y) in enumerate(points):
            for angle in _AROUND:
                at = (
                    x + (wide + away) * float(np.cos(angle)),
                    y + (high + away) * float(np.sin(angle)),
                )
                cost = self.cost(*at, (wide + gap, high + gap))
                if cost < best:
                    best, found = cost, (i, at)
            if best == 0.0:
                break
        if found is not None:
            self.take(*found[1], (wide, high))
        return found
