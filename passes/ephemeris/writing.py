"""States out: an orbit ephemeris message (CCSDS 502.0-B) as keywords and values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Polynomials through eight states: at a state a second, exact to under a millimetre.
_DEGREE = 7


def oem_text(
    name: str,
    object_id: str,
    start: datetime,
    stretches: Iterable[tuple[Floats, Floats, Floats]],
    *,
    created: datetime,
    comments: Sequence[str] = (),
) -> str:
    """A message in GCRF and UTC; each stretch is a segment of its own.

    A stretch is times ``(n,)`` in seconds from an aware ``start``, positions
    ``(n, 3)`` km and velocities ``(n, 3)`` km/s.  Times are rounded to microseconds,
    which is under 4 mm of a low orbit, places to a millimetre.
    """
    lines = ["CCSDS_OEM_VERS = 2.0", *(f"COMMENT {one}" for one in comments)]
    lines += [f"CREATION_DATE = {_time(created, 0.0)}", "ORIGINATOR = PASSES"]
    for time_s, position_km, velocity_km_s in stretches:
        lines += _segment(name, object_id, start, time_s, position_km, velocity_km_s)
    return "".join(f"{line}\n" for line in lines)


def _segment(
    name: str,
    object_id: str,
    start: datetime,
    time_s: Floats,
    position_km: Floats,
    velocity_km_s: Floats,
) -> Iterator[str]:
    yield from ("", "META_START", f"OBJECT_NAME = {name}", f"OBJECT_ID = {object_id}")
    yield from ("CENTER_NAME = EARTH", "REF_FRAME = GCRF", "TIME_SYSTEM = UTC")
    yield f"START_TIME = {_time(start, time_s[0])}"
    yield f"STOP_TIME = {_time(start, time_s[-1])}"
    degree = min(_DEGREE, len(time_s) - 1)
    yield from ("INTERPOLATION = LAGRANGE", f"INTERPOLATION_DEGREE = {degree}")
    yield from ("META_STOP", "")
    states = np.hstack([position_km, velocity_km_s]).tolist()
    for seconds, (x, y, z, vx, vy, vz) in zip(time_s.tolist(), states, strict=True):
        place = f"{x:.6f} {y:.6f} {z:.6f}"
        yield f"{_time(start, seconds)} {place} {vx:.9f} {vy:.9f} {vz:.9f}"


def _time(start: datetime, seconds: float) -> str:
    moment = start.astimezone(UTC) + timedelta(seconds=float(seconds))
    return f"{moment:%Y-%m-%dT%H:%M:%S.%f}"
