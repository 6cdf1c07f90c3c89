"""The seam for objects whose places do not come from SGP4."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@runtime_checkable
class Ephemeris(Protocol):
    """Places of one object, such as its operator publishes."""

    def positions(self, start: datetime, time_s: Floats) -> Floats:
        """TEME places ``(k, 3)`` km at seconds ``(k,)`` from an aware ``start``.

        nan where the ephemeris knows nothing.
        """
        ...


def ephemerides_of(catalogue: Any) -> Mapping[int, Ephemeris]:
    """Rows of a catalogue that have an ephemeris of their own, by row.

    Read from the catalogue's optional attribute ``ephemerides``.
    """
    held: Mapping[int, Ephemeris] | None = getattr(catalogue, "ephemerides", None)
    return {} if held is None else held
