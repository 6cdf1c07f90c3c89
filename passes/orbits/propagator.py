"""Where objects are: SGP4 behind one door, in seconds from a window's start."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import SECONDS_PER_DAY
from passes.errors import InputError
from passes.orbits import sgp4_calls
from passes.orbits.ephemerides import Ephemeris, ephemerides_of
from passes.orbits.fast import Fast, wanted

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Codes = NDArray[np.uint8]

#: SGP4's refusals (AIAA 2006-6753, and its published code), and two of our own.
ERROR_WORDS: dict[int, str] = {
    0: "no error",
    1: "mean eccentricity outside 0 to 1",
    2: "mean motion below zero",
    3: "eccentricity, disturbed by Sun and Moon, outside 0 to 1",
    4: "semilatus rectum below zero",
    5: "elements of an orbit inside the Earth",
    6: "decayed, its place lies inside the Earth",
    7: "outside the time its ephemeris covers",
    8: "its elements give no place that is a number",
}
NO_EPHEMERIS, NO_NUMBER = 7, 8

#: Radius of the Earth in SGP4's units (WGS 72), km.
_SGP4_RADIUS_KM = 6378.135
_UNIX_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_UNIX_EPOCH_JD = 2440587.5
#: Half the step over which the velocity along an ephemeris is taken, seconds.
_HALF_STEP_S = 0.5


class Columns(Protocol):
    """What the propagator needs of a catalogue (fast ones need the element columns)."""

    @property
    def late_s(self) -> Floats | None:
        """Seconds by which each row is late, ``(n,)``, or None."""

    def satrec(self, row: int) -> Any:
        """The SGP4 record of one row."""


@dataclass(frozen=True, slots=True, eq=False)
class MeanOrbits:
    """SGP4's mean elements of some rows at one time, ``(m,)`` each.

    Drag and the secular terms are in, the periodic ones are not.  Meaningless where
    ``error`` is not 0.
    """

    error: Codes
    axis_km: Floats
    eccentricity: Floats
    inclination_rad: Floats
    node_rad: Floats
    argument_rad: Floats
    anomaly_rad: Floats
    motion_rad_s: Floats


class Propagator:
    """States of the rows of a catalogue, TEME, at seconds from an aware start.

    A row that is late (``catalogue.late_s``) is where its elements put it that many
    seconds earlier.  Rows with an ephemeris of their own take their places from it.
    Errors are codes (:data:`ERROR_WORDS`); positions that go with codes 1 to 4 are
    nan, with code 6 they are plausible and false: look at the code.  A position with
    code 0 is always a number.

    ``fast`` chooses heyoka for near-Earth objects: True insists on it, False refuses
    it, None takes it where it is installed and ``expected``, the number of places
    that will be asked for, makes it worth starting; the variable PASSES_FAST, 0 or 1,
    speaks for None.  Answers differ by under 1e-8 km in low orbits.  Not to be shared
    between threads: an SGP4 record keeps notes while it works.
    """

    def __init__(
        self,
        catalogue: Columns,
        start: datetime,
        *,
        fast: bool | None = None,
        expected: int = 0,
    ) -> None:
        if start.tzinfo is None:
            raise InputError(f"the time {start.isoformat()} has no zone; add Z")
        self.catalogue, self.start = catalogue, start
        since = start - _UNIX_EPOCH
        self._jd = _UNIX_EPOCH_JD + since.days
        self._fraction = (since.seconds + since.microseconds * 1e-6) / SECONDS_PER_DAY
        self._late = catalogue.late_s
        self._ephemerides = ephemerides_of(catalogue)
        self._fast = Fast(catalogue, self._jd) if wanted(fast, expected) else None

    @property
    def fast(self) -> bool:
        """Whether near-Earth objects go through heyoka."""
        return self._fast is not None

    def given(self, rows: Ints) -> Bools:
        """Which rows take their places from an ephemeris of their own, ``(m,)``."""
        return np.isin(rows, list(self._ephemerides))

    # --- one row ---------------------------------------------------------------

    def states(self, row: int, time_s: ArrayLike) -> tuple[Floats, Floats, Codes]:
        """Positions ``(k, 3)`` km, velocities ``(k, 3)`` km/s, error codes ``(k,)``."""
        times = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
        one, stretch = np.array([row], dtype=np.int64), np.array([0, times.size])
        return self._along(one, stretch, times, velocities=True, alone=True)

    def positions(self, row: int, time_s: ArrayLike) -> tuple[Floats, Codes]:
        """Positions ``(k, 3)`` km and error codes ``(k,)``."""
        position, _, error = self.states(row, time_s)
        return position, error

    # --- many rows -------------------------------------------------------------

    def many(self, rows: ArrayLike, time_s: ArrayLike) -> tuple[Floats, Floats, Codes]:
        """States of rows ``(m,)`` at times ``(k,)``, or each at its own ``(m, k)``.

        Positions and velocities ``(m, k, 3)``, error codes ``(m, k)``.
        """
        which = np.asarray(rows, dtype=np.int64)
        times = np.asarray(time_s, dtype=np.float64)
        times = np.broadcast_to(times, (which.size, times.shape[-1]))
        offsets = np.arange(which.size + 1) * times.shape[1]
        position, velocity, error = self.along(which, offsets, times.reshape(-1))
        shape = times.shape
        return (
            position.reshape(*shape, 3),
            velocity.reshape(*shape, 3),
            error.reshape(shape),
        )

    def along(
        self, rows: Ints, offsets: Ints, time_s: Floats
    ) -> tuple[Floats, Floats, Codes]:
        """States of rows ``(m,)``, each along its own stretch of times.

        Row ``rows[i]`` is wanted at ``time_s[offsets[i]:offsets[i + 1]]``; positions
        and velocities are ``(len(time_s), 3)``, error codes ``(len(time_s),)``.
        """
        return self._along(rows, offsets, time_s, velocities=True)

    def places(self, rows: Ints, offsets: Ints, time_s: Floats) -> tuple[Floats, Codes]:
        """The same without the velocities."""
        position, _, error = self._along(rows, offsets, time_s, velocities=False)
        return position, error

    def age_s(self, rows: Ints) -> Floats:
        """Time from each row's epoch to the window's start, less its lateness."""
        catalogue: Any = self.catalogue
        days = (self._jd - catalogue.epoch_jd[rows]) + (
            self._fraction - catalogue.epoch_fraction[rows]
        )
        late = 0.0 if self._late is None else self._late[rows]
        return np.asarray(days * SECONDS_PER_DAY - late)

    def mean(self, rows: Ints, time_s: float) -> MeanOrbits:
        """Mean elements of rows ``(m,)`` at one time; an ephemeris is not looked at."""
        late = np.zeros(rows.size) if self._late is None else self._late[rows]
        fraction = self._fraction + (time_s - late) / SECONDS_PER_DAY
        satrecs = [self.catalogue.satrec(row) for row in rows.tolist()]
        error, mean = sgp4_calls.mean_elements(satrecs, self._jd, fraction.tolist())
        axis, eccentricity, inclination, node, argument, anomaly, motion = mean.T.copy()
        return MeanOrbits(
            error,
            axis * _SGP4_RADIUS_KM,
            eccentricity,
            inclination,
            node,
            argument,
            anomaly,
            motion / 60.0,
        )

    def _along(
        self,
        rows: Ints,
        offsets: Ints,
        time_s: Floats,
        *,
        velocities: bool,
        alone: bool = False,
    ) -> tuple[Floats, Floats, Codes]:
        """States; without ``velocities`` what stands for them means nothing.

        A row ``alone`` never goes the fast way.
        """
        if self._late is not None:
            time_s = time_s - np.repeat(self._late[rows], np.diff(offsets))
        error, position, velocity = sgp4_calls.room(time_s.size)
        by_sgp4, given = self._sorted_by_source(rows)
        fraction = self._fraction + time_s / SECONDS_PER_DAY
        if self._fast is not None and not alone:
            filled = velocity if velocities else None
            by_sgp4 &= self._fast.fill(rows, offsets, fraction, position, filled)
        self._by_sgp4(rows, offsets, by_sgp4, fraction, error, position, velocity)
        for i in given:
            part = slice(int(offsets[i]), int(offsets[i + 1]))
            source = self._ephemerides[int(rows[i])]
            position[part], velocity[part], error[part] = _states_of(
                source, self.start, time_s[part]
            )
        silent = (error == 0) & ~np.isfinite(position.sum(axis=1))
        error[silent] = NO_NUMBER
        return position, velocity, error

    def _sorted_by_source(self, rows: Ints) -> tuple[Bools, list[int]]:
        """Which stretches SGP4 fills ``(m,)``, and the places of the others."""
        if not self._ephemerides:
            return np.ones(rows.size, dtype=np.bool_), []
        given = self.given(rows)
        return ~given, np.flatnonzero(given).tolist()

    def _by_sgp4(
        self,
        rows: Ints,
        offsets: Ints,
        chosen: Bools,
        fraction: Floats,
        error: Codes,
        position: Floats,
        velocity: Floats,
    ) -> None:
        """Fill the chosen stretches by the sgp4 package, one call a stretch."""
        days = np.full(fraction.size, self._jd)
        satrec, fill = self.catalogue.satrec, sgp4_calls.fill()
        lows, highs = offsets[:-1][chosen].tolist(), offsets[1:][chosen].tolist()
        for row, low, high in zip(rows[chosen].tolist(), lows, highs, strict=True):
            part = slice(low, high)
            fill(
                satrec(row),
                days[part],
                fraction[part],
                error[part],
                position[part],
                velocity[part],
            )


def _states_of(
    source: Ephemeris, start: datetime, times: Floats
) -> tuple[Floats, Floats, Codes]:
    """States along an ephemeris; velocities are differences over a second."""
    position = np.asarray(source.positions(start, times), dtype=np.float64)
    ahead = source.positions(start, times + _HALF_STEP_S)
    behind = source.positions(start, times - _HALF_STEP_S)
    velocity = np.asarray((ahead - behind) / (2 * _HALF_STEP_S))
    known = np.isfinite(position).all(axis=1)
    return position, velocity, np.where(known, 0, NO_EPHEMERIS).astype(np.uint8)
