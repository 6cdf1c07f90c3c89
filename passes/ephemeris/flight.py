"""One object's published flight: places along the segments of one message."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes.ephemeris.interpolation import places
from passes.ephemeris.message import Segment

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
#: Rotations ``(n, 3, 3)`` from a frame to TEME at seconds ``(n,)`` from a start.
ToTeme = Callable[[datetime, Floats], Floats]

#: Segments that end and begin closer than this follow one another, seconds.
ABUTTING_S = 1e-3
_MICROSECOND = 1e-6


class Flight:
    """Places of one object in TEME; never interpolated from one segment into another.

    ``to_teme`` holds, by name of frame, what turns places to TEME.  Where segments
    meet, the later one has the moment; so have manoeuvres their place.
    """

    def __init__(
        self,
        segments: Sequence[Segment],
        to_teme: Mapping[str, ToTeme],
        created: datetime | None = None,
    ) -> None:
        self.segments = sorted(segments, key=lambda one: one.start)
        self.created = created or self.segments[0].start
        self._to_teme = {one.frame: to_teme[one.frame] for one in self.segments}

    @property
    def spans(self) -> list[tuple[datetime, datetime]]:
        """Stretches of time without a gap, in order."""
        joined: list[tuple[datetime, datetime]] = []
        for one in self.segments:
            last = joined[-1][1] if joined else None
            if last and (one.start - last).total_seconds() <= ABUTTING_S:
                joined[-1] = (joined[-1][0], max(last, one.stop))
            else:
                joined.append((one.start, one.stop))
        return joined

    def covers(self, start: datetime, time_s: Floats) -> Bools:
        """Which of the times ``(k,)`` from ``start`` the flight tells of."""
        covered = np.zeros(time_s.shape, dtype=np.bool_)
        for low, high in self.spans:
            # each end by itself: whoever asks exactly there must get an answer
            first = (low - start).total_seconds()
            last = (high - start).total_seconds()
            covered |= (time_s >= first) & (time_s <= last)
        return covered

    def positions(self, start: datetime, time_s: Floats) -> Floats:
        """TEME places ``(k, 3)`` km at seconds ``(k,)`` from a start; nan elsewhere."""
        found = np.full((time_s.size, 3), np.nan)
        for one in self.segments:
            at = time_s - (one.origin - start).total_seconds()
            # between segments that abut, the one before is carried on for the moment
            inside = at >= one.start_s - _MICROSECOND
            inside &= at <= one.stop_s + ABUTTING_S
            if inside.any():
                turn = self._to_teme[one.frame](start, time_s[inside])
                place = places(one, at[inside])
                found[inside] = (turn @ place[:, :, np.newaxis])[:, :, 0]
        return np.where(self.covers(start, time_s)[:, np.newaxis], found, np.nan)
