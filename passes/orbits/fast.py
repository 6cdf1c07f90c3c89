"""Near-Earth objects through heyoka, where it is installed and worth starting.

heyoka evaluates the same SGP4 equations for many objects side by side, compiled when
first asked for (Biscani and Izzo, heyoka.py).  It takes a fifth of the time a place
and agrees to 1e-8 km in low orbits (2e-8 km farther out).  It solves Kepler's equation
for several objects until the last of them has settled, so an object's last bit hangs on
its neighbours.
"""

from __future__ import annotations

import os
import sys
from functools import cache
from importlib.util import find_spec
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.errors import InputError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Codes = NDArray[np.uint8]

#: Says 0 or 1 in place of the caller who leaves the choice open.
VARIABLE = "PASSES_FAST"
#: Objects that go through the compiled kernel side by side.
WIDTH = 256
#: Fewer places than this are not worth handing over.
LEAST = 2000
#: Fewer places in all than this are not worth the import and the compiler.
LEAST_COLD = 400_000
#: SGP4's own border is 225 minutes of a period it first corrects; below this, sure.
_NEAR_EARTH_MIN = 220.0
#: What heyoka wants of each object, in its order.
_DATA = (
    "mean_motion_rad_min",
    "eccentricity",
    "inclination_rad",
    "raan_rad",
    "argument_rad",
    "mean_anomaly_rad",
    "bstar",
    "epoch_jd",
    "epoch_fraction",
)
_STILL = (0.06, 0.001, 1.0, 0.0, 0.0, 0.0, 0.0, 2451545.0, 0.0)


def wanted(choice: bool | None, expected: int) -> bool:
    """Whether to use heyoka, given the caller's choice and the places expected.

    Raises InputError where the caller insists and it is not installed.
    """
    if choice is None:
        said = os.environ.get(VARIABLE, "")
        choice = {"0": False, "1": True}.get(said)
    if choice is False:
        return False
    loaded = "heyoka" in sys.modules
    if choice is None and expected < (LEAST if loaded else LEAST_COLD):
        return False
    if loaded or find_spec("heyoka") is not None:
        return True
    if choice:
        raise InputError("heyoka is not installed; pip install 'passes[fast]'")
    return False


@cache
def _kernel() -> Any:
    """The compiled propagator; its objects are replaced before every use."""
    import heyoka

    data = np.repeat(np.array(_STILL)[:, np.newaxis], WIDTH, axis=1)
    return heyoka.model.sgp4_propagator(np.ascontiguousarray(data))


class Fast:
    """Places of the near-Earth rows of a catalogue, by heyoka."""

    def __init__(self, catalogue: Any, jd: float) -> None:
        self._data = np.array([getattr(catalogue, name) for name in _DATA])
        self._jd = jd
        period_min = 2 * pi / np.maximum(self._data[0], 1e-9)
        self._able = (period_min < _NEAR_EARTH_MIN) & (self._data[1] < 1.0)

    def fill(
        self,
        rows: Ints,
        offsets: Ints,
        fraction: Floats,
        position: Floats,
        velocity: Floats | None,
    ) -> Bools:
        """Fill what can be filled; says which stretches are still to do, ``(m,)``.

        Those are deep-space rows, and rows in which anything went wrong: the code that
        names what went wrong is SGP4's own.  Velocities are left out where there is
        nowhere to put them.
        """
        counts = np.diff(offsets)
        todo: Bools = ~self._able[rows]
        near = np.flatnonzero(~todo & (counts > 0))
        near = near[np.argsort(counts[near], kind="stable")]
        for begin in range(0, near.size, WIDTH):
            some = near[begin : begin + WIDTH]
            bad = self._batch(
                rows[some], offsets[some], counts[some], fraction, position, velocity
            )
            todo[some[bad]] = True
        return todo

    def _batch(
        self,
        rows: Ints,
        first: Ints,
        counts: Ints,
        fraction: Floats,
        position: Floats,
        velocity: Floats | None,
    ) -> Bools:
        """Up to WIDTH rows side by side; says in which of them something failed."""
        padded = np.resize(np.arange(rows.size), WIDTH)
        data = np.ascontiguousarray(self._data[:, rows[padded]])
        step = np.arange(int(counts.max()))[:, np.newaxis]
        place = first[padded] + np.minimum(step, counts[padded] - 1)
        minutes = (self._jd - data[7]) * 1440.0 + (fraction[place] - data[8]) * 1440.0
        kernel = _kernel()
        kernel.replace_sat_data(data)
        states = kernel(np.ascontiguousarray(minutes))[:, :, : rows.size]
        # a padded time repeats the last one, so it does no harm where it is written
        place = place[:, : rows.size]
        position[place] = states[:, 0:3].transpose(0, 2, 1)
        if velocity is not None:
            velocity[place] = states[:, 3:6].transpose(0, 2, 1)
        whole = np.isfinite(states[:, :6]).all(axis=(0, 1))
        failed: Bools = ~whole | (states[:, 6] != 0.0).any(axis=0)
        return failed
