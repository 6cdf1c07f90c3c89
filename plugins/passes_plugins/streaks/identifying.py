"""Who made a streak: every object that may have, weighed against none of them.

Each candidate's chance is Bayes' rule over what is seen of the streak.  For an object
the offset from its path, the angle to it, the time and the length are normal errors
of the object's own sigmas; for whatever is not catalogued (or is no satellite) they are
spread evenly over field, angles and exposure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import hypot, pi, radians

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes import trail, vectors
from passes.constants import ARCSEC_PER_RAD
from passes.contributions import Services
from passes.model import Crossing, LineOfSight, Site, Span
from passes_plugins.streaks.belonging import GROUND_KM_S

Floats = NDArray[np.float64]

#: Streaks of things not catalogued, for each that one lit object is expected to leave
#: (common practice, no source).
_OTHERS = 0.1
#: An object in the Earth's shadow leaves a streak only if light or time is off.
_UNLIT = 0.02
#: Nobody is named under this chance, nor with an error of more sigmas than this.
FLOOR, MOST_SIGMAS = 0.5, 4.0
#: Searched around the streak and on either side of the exposure.
_AROUND_DEG, AROUND_S = 1.0, 120.0
#: A path's own bend and turn against its parabola, radians.
_MODEL_RAD = 3e-4


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
class Candidate:
    """One object and how it fits; offsets are of the streak from the prediction.

    ``late_s`` is by how much the streak says it came after its prediction, within
    ``late_span_s`` where the streak cannot tell; ``length_ratio`` is the time it takes
    to run the streak over the exposure.
    """

    crossing: Crossing
    offset_deg: float
    offset_sigma_deg: float
    turn_deg: float
    turn_sigma_deg: float
    late_s: float
    late_span_s: tuple[float, float]
    late_sigma_s: float
    length_ratio: float
    length_sigmas: float
    chance: float = 0.0

    @property
    def timed(self) -> bool:
        """Whether the streak fixes the moment, not only a range."""
        return self.late_span_s[0] == self.late_span_s[1]

    @property
    def sigmas(self) -> float:
        """The worst of its errors in its own sigmas."""
        return max(
            abs(self.offset_deg) / self.offset_sigma_deg,
            abs(self.turn_deg) / self.turn_sigma_deg,
            abs(self.late_s) / self.late_sigma_s,
            self.length_sigmas,
        )


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


def identify(streak: Streak, services: Services) -> Identification:
    """Search around a streak and weigh what crosses there."""
    ra_deg, dec_deg, length_deg = streak.middle()
    line = LineOfSight.of_field(
        ra_deg, dec_deg, radius_deg=0.5 * length_deg + _AROUND_DEG
    )
    around = timedelta(seconds=AROUND_S)
    window = Span(start=streak.start - around, end=streak.end + around)
    crossings = list(services.crossings(line, window=window))
    return weighed(streak, crossings, services.site)


def weighed(
    streak: Streak, crossings: Sequence[Crossing], site: Site
) -> Identification:
    """The chance of each crossing, and of none, to have made a streak."""
    if not crossings:
        return Identification(streak=streak, candidates=(), none_chance=1.0)
    fits = _fits(streak, crossings, site)
    ratios = np.array([_odds(streak, one) for one in fits])
    whole = ratios.sum() + _OTHERS
    found = [
        _with_chance(one, float(ratio / whole))
        for one, ratio in zip(fits, ratios, strict=True)
    ]
    found.sort(key=lambda one: (-one.chance, one.sigmas))
    return Identification(
        streak=streak, candidates=tuple(found), none_chance=float(_OTHERS / whole)
    )


def _with_chance(one: Candidate, chance: float) -> Candidate:
    return replace(one, chance=chance)


def _odds(streak: Streak, one: Candidate) -> float:
    """How much likelier what is seen is from this object than from anything else."""
    offset = _normal(one.offset_deg, one.offset_sigma_deg) * streak.field_deg
    turn = _normal(one.turn_deg, one.turn_sigma_deg) * 180.0
    low, high = one.late_span_s
    if one.timed:
        time = _normal(one.late_s, one.late_sigma_s) * streak.exposure_s
    else:
        time = float(trail.within(low / one.late_sigma_s, high / one.late_sigma_s))
    length = float(np.exp(-0.5 * one.length_sigmas**2))
    lit = 1.0 if one.crossing.sunlit else _UNLIT
    return offset * turn * time * length * lit


def _normal(value: float, sigma: float) -> float:
    return float(np.exp(-0.5 * (value / sigma) ** 2) / (sigma * (2.0 * pi) ** 0.5))


# --- geometry ---------------------------------------------------------


def _fits(streak: Streak, crossings: Sequence[Crossing], site: Site) -> list[Candidate]:
    """How each crossing's path and time fit a streak."""
    ra0, dec0, _ = streak.middle()
    centre = radians(ra0), radians(dec0)
    moments = [(c.entry, c.closest, c.exit) for c in crossings]
    time_s = np.array(
        [[(p.time - streak.start).total_seconds() for p in row] for row in moments]
    )
    ra = np.radians([[p.ra_deg for p in row] for row in moments])
    dec = np.radians([[p.dec_deg for p in row] for row in moments])
    middle, half, east, north = plane.parabolas(
        time_s, *plane.standard(ra, dec, *centre)
    )
    ends = np.stack(
        plane.standard(
            np.radians([e[0] for e in streak.ends]),
            np.radians([e[1] for e in streak.ends]),
            *centre,
        ),
        axis=-1,
    )
    found = []
    for i, crossing in enumerate(crossings):
        near = [_nearest(east[i], north[i], end) for end in ends]
        times = [float(middle[i] + half[i] * u) for u, _ in near]
        offsets = [offset for _, offset in near]
        found.append(_candidate(streak, crossing, times, offsets, site))
    return found


def _nearest(east: Floats, north: Floats, end: Floats) -> tuple[float, float]:
    """Scaled time at which a path is nearest to a place, and how far right of it."""
    u = np.linspace(-1.0, 1.0, 401)
    away = np.hypot(plane.at(east, u) - end[0], plane.at(north, u) - end[1])
    best = float(u[away.argmin()])
    for _ in range(4):  # Newton along the tangent; beyond the ends the path runs on
        run = np.array([east[1] + 2 * best * east[2], north[1] + 2 * best * north[2]])
        gap = end - np.array([plane.at(east, best), plane.at(north, best)])
        best += float(gap @ run / (run @ run))
    run = np.array([east[1] + 2 * best * east[2], north[1] + 2 * best * north[2]])
    gap = end - np.array([plane.at(east, best), plane.at(north, best)])
    across = float((run[0] * gap[1] - run[1] * gap[0]) / np.hypot(*run))
    return best, across


def _candidate(
    streak: Streak,
    crossing: Crossing,
    times: Sequence[float],
    offsets: Sequence[float],
    site: Site,
) -> Candidate:
    first, last = (0, 1) if times[0] <= times[1] else (1, 0)
    length_rad = max(radians(streak.middle()[2]), 1e-9)
    end_rad = radians(streak.sigma_deg)
    turn = float(np.arctan((offsets[last] - offsets[first]) / length_rad))
    timing = float(np.nan_to_num(crossing.timing_sigma_s))
    ground = GROUND_KM_S * float(np.cos(np.radians(site.latitude_deg)))
    across_km = hypot(
        float(np.nan_to_num(crossing.cross_track_sigma_km)), timing * ground
    )
    offset_sigma = hypot(across_km / crossing.range_km, end_rad, _MODEL_RAD / 10.0)
    run_s = times[last] - times[first]
    rate = max(radians(crossing.angular_rate_deg_s), 1e-9)
    run_sigma = hypot(1.414 * end_rad / rate, 0.01 * run_s, 0.2)
    late, span, lengths = _late(
        streak, times[first], run_s, (streak.cut[first], streak.cut[last]), run_sigma
    )
    return Candidate(
        crossing=crossing,
        offset_deg=float(np.degrees(0.5 * (offsets[0] + offsets[1]))),
        offset_sigma_deg=float(np.degrees(offset_sigma)),
        turn_deg=float(np.degrees(turn)),
        turn_sigma_deg=float(np.degrees(hypot(1.414 * end_rad / length_rad, 2e-3))),
        late_s=late,
        late_span_s=span,
        late_sigma_s=hypot(timing, streak.clock_sigma_s, run_sigma if late else 0.0),
        length_ratio=run_s / streak.exposure_s,
        length_sigmas=lengths,
    )


def _late(
    streak: Streak,
    begins_s: float,
    run_s: float,
    cut: tuple[bool, bool],
    run_sigma: float,
) -> tuple[float, tuple[float, float], float]:
    """How late the object came, within which range, and how wrong its run's length is.

    An end inside the frame is where the shutter opened (or closed); an end at its edge
    only says that the shutter was open.
    """
    opened, closed = -begins_s, streak.exposure_s - begins_s - run_s
    excess = (run_s - streak.exposure_s) / run_sigma
    if not any(cut):
        late = 0.5 * (opened + closed)
        return late, (late, late), abs(excess)
    lengths = max(excess, 0.0)
    if cut == (False, True):
        return opened, (opened, opened), lengths
    if cut == (True, False):
        return closed, (closed, closed), lengths
    low, high = min(opened, closed), max(opened, closed)
    late = min(max(0.0, low), high)
    return late, (low, high), lengths


def arcsec(angle_deg: float) -> float:
    """Degrees as arcseconds."""
    return radians(angle_deg) * ARCSEC_PER_RAD
