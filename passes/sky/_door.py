"""The door to skyfield: its time scale, and DE421 from the packaged data.

Nothing is ever downloaded.  The time scale is the one built into skyfield; the
Earth-orientation file that comes with the packaged data is out of date and unused.
"""

from __future__ import annotations

import atexit
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import as_file, files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.errors import OutsideEphemeris

Ints = NDArray[np.int64]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_EPOCH_JD = 2440587.5
_open_files = ExitStack()


@cache
def timescale() -> Any:
    """Skyfield's own time scale (leap seconds, UT1), as it ships."""
    from skyfield.api import load

    return load.timescale(builtin=True)


@cache
def ephemeris() -> Any:
    """JPL DE421 (Folkner, Williams, Boggs 2009), as packaged, opened once."""
    from skyfield.jpllib import SpiceKernel

    path = _open_files.enter_context(
        as_file(files("skyfield_data") / "data" / "de421.bsp")
    )
    atexit.register(_open_files.close)
    kernel = SpiceKernel(str(path))
    _open_files.callback(kernel.close)
    return kernel


@cache
def ephemeris_span() -> tuple[datetime, datetime]:
    """First and last UTC midnight between which Sun, Moon and planets are known.

    A day inside what the file covers, which leaves room for interpolation.
    """
    segments = [segment.spk_segment for segment in ephemeris().segments]
    first = max(segment.start_jd for segment in segments) - _EPOCH_JD
    last = min(segment.end_jd for segment in segments) - _EPOCH_JD
    return (
        EPOCH + timedelta(days=int(np.ceil(first)) + 1),
        EPOCH + timedelta(days=int(np.floor(last)) - 1),
    )


def require_ephemeris(first_day: int, last_day: int) -> None:
    """Refuse whole days since 1970 that the ephemeris does not cover."""
    start, end = ephemeris_span()
    if first_day < (start - EPOCH).days or last_day >= (end - EPOCH).days:
        asked = EPOCH + timedelta(days=first_day)
        raise OutsideEphemeris(
            f"{asked:%Y-%m-%d} lies outside the packaged ephemeris DE421, which serves "
            f"{start:%Y-%m-%d} to {end:%Y-%m-%d}; choose a date within"
        )


def at_hours(hours: Ints) -> Any:
    """Skyfield's times at whole UTC hours since 1970, ``(m,)``."""
    return timescale().utc(1970, 1, 1 + hours // 24, hours % 24)


def earth_orientation_end() -> datetime:
    """Until when the turning of the Earth (UT1) is tabulated; then it is extended.

    What is extended is wrong by some hundredths of a second after a year, in which
    the ground turns by some ten metres (from memory of the IERS bulletins).
    """
    last_tt_jd = float(timescale().delta_t_function.table_tt[-1])
    return EPOCH + timedelta(days=round(last_tt_jd - _EPOCH_JD))
