"""The calls into the sgp4 package: states over stretches of time, mean elements."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import chain
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]
#: Fills error codes ``(k,)``, positions and velocities ``(k, 3)`` for one record, at
#: Julian dates in two parts ``(k,)``.
Fill = Callable[[Any, Floats, Floats, Codes, Floats, Floats], None]

#: Mean elements as SGP4 leaves them behind after a call: with drag and the secular
#: terms of Earth, Sun and Moon, without the periodic ones.  Semi-major axis in Earth
#: radii, angles in radians, mean motion in rad/min.
MEAN_WORDS = ("am", "em", "im", "Om", "om", "mm", "nm")
_mean_of = attrgetter(*MEAN_WORDS)


def room(count: int) -> tuple[Codes, Floats, Floats]:
    """Empty error codes, positions and velocities for so many places."""
    return (
        np.zeros(count, dtype=np.uint8),
        np.empty((count, 3)),
        np.empty((count, 3)),
    )


@cache
def fill() -> Fill:
    """How to fill a caller's arrays: by the package's inner call, if it can be trusted.

    It is quicker on short stretches, because it makes no arrays of its own.
    """
    from sgp4.api import Satrec

    return trusted(getattr(Satrec, "_sgp4", None))


def trusted(inner: Fill | None) -> Fill:
    """The inner call, if it is there and gives what the public one gives; or that."""
    from sgp4.api import WGS72, Satrec

    if inner is None:
        return public
    trial = Satrec()
    trial.sgp4init(WGS72, "i", 80001, 27000.0, 0, 0, 0, 0.001, 0, 1.0, 0, 0.06, 0)
    days, fraction = np.array([2460310.5, 2460310.5]), np.array([0.25, 0.5])
    ours, theirs = room(2), room(2)
    public(trial, days, fraction, *theirs)
    try:
        inner(trial, days, fraction, *ours)
    except (TypeError, AttributeError, ValueError):
        return public
    pairs = zip(map(np.asarray, ours), map(np.asarray, theirs), strict=True)
    same = all(np.array_equal(a, b) for a, b in pairs)
    return inner if same else public


def public(
    satrec: Any,
    days: Floats,
    fraction: Floats,
    error: Codes,
    position: Floats,
    velocity: Floats,
) -> None:
    """Fill through the package's public call."""
    error[:], position[:], velocity[:] = satrec.sgp4_array(days, fraction)


def mean_elements(
    satrecs: list[Any], days: float, fraction: list[float]
) -> tuple[Codes, Floats]:
    """Error codes ``(m,)`` and mean elements ``(m, 7)``, each record at its time."""
    if len(set(map(id, satrecs))) < len(satrecs):
        # one record at several times keeps only its last elements
        parts = [
            mean_elements([satrec], days, [part])
            for satrec, part in zip(satrecs, fraction, strict=True)
        ]
        return np.concatenate([c for c, _ in parts]), np.concatenate(
            [mean for _, mean in parts]
        )
    codes = [
        satrec.sgp4(days, part)[0]
        for satrec, part in zip(satrecs, fraction, strict=True)
    ]
    width = len(MEAN_WORDS)
    values = chain.from_iterable(map(_mean_of, satrecs))
    mean = np.fromiter(values, np.float64, count=width * len(satrecs))
    return np.array(codes, dtype=np.uint8), mean.reshape(-1, width)
