"""Records behind columns: some rows of a table, each made when it is looked at."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import Self, TypeVar, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

R = TypeVar("R")


class Chosen(Sequence[R]):
    """Rows ``chosen`` ``(n,)`` of a table; ``[i]`` is a record, a slice a selection."""

    chosen: NDArray[np.int64]

    @abstractmethod
    def take(self, which: ArrayLike) -> Self:
        """Some of these (indices or a mask), in that order."""

    @abstractmethod
    def record(self, i: int) -> R:
        """The record of row ``i`` of the table."""

    def __len__(self) -> int:
        return int(self.chosen.size)

    @overload
    def __getitem__(self, item: int) -> R: ...
    @overload
    def __getitem__(self, item: slice) -> Self: ...
    def __getitem__(self, item: int | slice) -> R | Self:
        if isinstance(item, slice):
            return self.take(np.arange(len(self))[item])
        return self.record(int(self.chosen[item]))
