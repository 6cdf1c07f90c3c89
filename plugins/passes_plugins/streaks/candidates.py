"""A streak that was seen, and who may have made it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from passes import trail, vectors
from passes.model import Crossing

#: Nobody is named under this chance, nor with an error of more sigmas than this.
FLOOR, MOST_SIGMAS = 0.5, 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Streak:
    """What was seen: two ends (ICRS degrees), when, and what limits each end.

    ``cut`` says whether the frame's edge cuts the streak at each end.  ``sigma_deg``
    is an end's own error, ``field_deg`` the frame's size, ``clock_sigma_s`` that of
    the recorded times.
    """

    ends: tuple[tuple[float, float], tuple[float, float]]
    start: datetime
    exposure_s: float
    cut: tuple[bool, bool] = (False, False)
    sigma_deg: float = 5.0 / 3600.0
    field_deg: float = 2.0
    clock_sigma_s: float = 0.5
    path: str = ""

    @property
    def end(self) -> datetime:
        """When the shutter closed."""
        return self.start + timedelta(seconds=self.exposure_s)

    def middle(self) -> tuple[float, float, float]:
        """RA and Dec of the middle, and the length, degrees."""
        ends = vectors.direction(
            *(np.radians([e[i] for e in self.ends]) for i in (0, 1))
        )
        lon, lat, _ = vectors.spherical(ends.sum(axis=0))
        length = vectors.separation_rad(ends[0], ends[1])
        return (
            float(np.degrees(lon)) % 360.0,
            float(np.degrees(lat)),
            float(np.degrees(length)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """What a streak says of when an object came, and for how long.

    ``late_s`` is by how much it came after its prediction, within ``span_s`` where the
    streak cannot tell; the bound is of 95 % of errors, nan where they are normal.
    ``partly`` says that an end inside the frame is not the shutter's: the object faded
    or entered the shadow, or the streak was not measured to its end.
    """

    late_s: float
    span_s: tuple[float, float]
    sigma_s: float
    bound_s: float
    length_sigmas: float
    partly: bool = False

    @property
    def fixed(self) -> bool:
        """Whether the streak fixes the moment, not only a range."""
        return self.span_s[0] == self.span_s[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One object and how it fits; offsets are of the streak from the prediction.

    ``length_ratio`` is the time it takes to run the streak over the exposure.
    """

    crossing: Crossing
    offset_deg: float
    offset_sigma_deg: float
    offset_bound_deg: float
    turn_deg: float
    turn_sigma_deg: float
    length_ratio: float
    timing: Timing
    chance: float = 0.0

    @property
    def sigmas(self) -> float:
        """The worst of its errors, as a normal error of so many sigmas."""
        time = self.timing
        late = trail.deviate(time.late_s, time.sigma_s, time.bound_s)
        offset = trail.deviate(
            self.offset_deg, self.offset_sigma_deg, self.offset_bound_deg
        )
        turn = abs(self.turn_deg) / self.turn_sigma_deg
        return max(abs(float(offset)), turn, abs(float(late)), time.length_sigmas)


@dataclass(frozen=True, slots=True, kw_only=True)
class Identification:
    """A streak's candidates, the likeliest first, and the chance of none of them."""

    streak: Streak
    candidates: tuple[Candidate, ...]
    none_chance: float

    @property
    def named(self) -> Candidate | None:
        """Who made it; None under the floor."""
        if not self.candidates:
            return None
        best = self.candidates[0]
        fits = best.chance >= FLOOR and best.sigmas <= MOST_SIGMAS
        return best if fits else None
