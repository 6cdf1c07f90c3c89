"""The chance that a crossing falls into a sub, given what is uncertain of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes import trail
from passes.constants import EARTH_ROTATION_RAD_S
from passes.model import Crossing, Site, Sub
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.looks import Found, Paths, Stays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: A shutter's sigma where nobody states one: planned, and read from a file, seconds.
PLANNED_JITTER_S, RECORDED_JITTER_S = 3.0, 0.5
#: Least sigma of a time; keeps a division from failing.
_LEAST_S = 1e-4
#: Speed of the Earth's surface at the equator, km/s.
GROUND_KM_S = 6378.137 * EARTH_ROTATION_RAD_S
#: Paths further beside a frame than so many sigma do not touch it.
_ASIDE = 3.0
#: The sigma of an evenly spread error is half its range over the root of three.
_EVEN = 3.0**-0.5
#: A step by which a direction is taken, degrees.
_STEP_DEG = 1e-4
#: Places of a loose frame within its play, right and up: middles of eight by eight.
_PLAY = np.stack(np.meshgrid(*[(np.arange(8) + 0.5) / 4.0 - 1.0] * 2)).reshape(2, 64)


def jitter_s(sub: Sub) -> float:
    """Sigma of the time at which a sub opened or will open."""
    if isnan(sub.start_jitter_s):
        return RECORDED_JITTER_S if sub.path else PLANNED_JITTER_S
    return sub.start_jitter_s


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """A sub and a crossing that may touch it, ``(k,)`` each.

    ``here`` marks the subs to which a crossing most likely belongs: the likeliest, and
    any other that it touches with a chance of a half or more.
    """

    sub: Ints
    stay: Ints
    chance: Floats
    here: Bools


def pairs_of(
    opens_s: Floats,
    closes_s: Floats,
    jitter: Floats,
    entry_s: Floats,
    exit_s: Floats,
    sigma_s: Floats,
    sideways: Floats,
    least: float,
) -> Pairs:
    """Every sub a crossing may touch, with the chance of it.

    Sub arrays are ``(n,)`` in order of time, crossing arrays ``(m,)``, seconds from one
    start.  The chance is that of a normal error of sigma and jitter together to bring
    the crossing into the open shutter, times ``sideways``, that of the path to lead
    through the frame at all.
    """
    reach = _room_s(sigma_s, float(jitter.max(initial=0.0)))
    low = np.searchsorted(closes_s, entry_s - reach)
    high = np.searchsorted(opens_s, exit_s + reach)
    count = np.maximum(high - low, 0)
    stay = np.repeat(np.arange(entry_s.size), count)
    sub = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    sub = sub + low[stay]
    spread = np.maximum(np.hypot(sigma_s[stay], jitter[sub]), _LEAST_S)
    chance = sideways[stay] * trail.within(
        (opens_s[sub] - exit_s[stay]) / spread, (closes_s[sub] - entry_s[stay]) / spread
    )
    best = np.zeros(entry_s.size)
    np.maximum.at(best, stay, chance)
    likeliest = (chance >= best[stay]) & (chance >= _outside(stay, chance, best))
    here = (chance > 0.0) & (likeliest | (chance >= 0.5))
    kept = (chance >= least) | here
    return Pairs(sub[kept], stay[kept], chance[kept], here[kept])


def _outside(stay: Ints, chance: Floats, best: Floats) -> Floats:
    """The chance that a crossing falls into no sub at all, at each pair."""
    total = np.zeros(best.size)
    np.add.at(total, stay, chance)
    return np.maximum(1.0 - total, 0.0)[stay]


def across_rad(crossings: Sequence[Crossing], site: Site) -> Floats:
    """Sigma of each path to either side, ``(m,)``, as seen from the site.

    From the error across the track and from how far the site turns with the Earth
    while an object is late, both seen from the object's range.
    """
    ground_km_s = GROUND_KM_S * np.cos(np.radians(site.latitude_deg))
    late = np.nan_to_num([c.timing_sigma_s for c in crossings]) * ground_km_s
    across_km = np.hypot(
        np.nan_to_num([c.cross_track_sigma_km for c in crossings]), late
    )
    range_km = np.array([c.range_km for c in crossings])
    return np.asarray(np.maximum(across_km / range_km, 1e-9))


def met(
    found: Found, paths: Paths, frame: Frame, site: Site, subs: Sequence[Sub] = ()
) -> tuple[Stays, list[Crossing]]:
    """Stays in a frame of a look, or beside it within their errors; whose they are.

    Of crossings near the times of ``subs`` only, where such are given.
    """
    every = found.every
    some = _near(paths, frame, subs) if subs else np.arange(len(every))
    across = across_rad([every[i] for i in some.tolist()], site)
    aside = np.radians(frame.loose_deg) + _ASIDE * across
    stays = paths.stays(found, frame, some, aside)
    return stays, [every[i] for i in stays.which.tolist()]


def _near(paths: Paths, frame: Frame, subs: Sequence[Sub]) -> Ints:
    """The crossings that may touch one of these subs."""
    opens = [(sub.start - paths.origin).total_seconds() for sub in subs]
    closes = [at + sub.exposure_s for at, sub in zip(opens, subs, strict=True)]
    jitter = max(jitter_s(sub) for sub in subs)
    own = np.hypot(paths.sigma_s, _EVEN * frame.loose_deg / paths.rate_deg_s)
    return paths.between(min(opens), max(closes), _room_s(own, jitter))


def _room_s(sigma_s: Floats, jitter: float) -> Floats:
    """Beyond so many seconds no chance is worth a look."""
    return np.asarray(5.0 * np.hypot(sigma_s, jitter) + 1e-3)


def time_sigma_s(crossings: Sequence[Crossing], frame: Frame) -> Floats:
    """Sigma of when each object meets a frame, ``(m,)``; the frame may be loose."""
    rate = np.maximum([c.angular_rate_deg_s for c in crossings], 1e-9)
    timing = np.nan_to_num([c.timing_sigma_s for c in crossings])
    return np.asarray(np.hypot(timing, _EVEN * frame.loose_deg / rate))


def sideways_chance(
    crossings: Sequence[Crossing], frame: Frame, site: Site, beside: Bools
) -> Floats:
    """Chance that a path leads through a frame at all, ``(m,)``.

    Paths ``beside`` it are predicted to miss it.  A loose frame may be anywhere
    within its play along both sides, evenly.
    """
    sigma = across_rad(crossings, site)
    offset, turn = _passing(crossings, frame)
    half = plane.reach(*frame.halves, turn)
    # a bent path may be in the frame though its tangent is not
    offset = np.where(beside, offset, np.clip(offset, -half, half))
    sides = np.cos(turn)[:, np.newaxis], np.sin(turn)[:, np.newaxis]
    play = np.radians(frame.loose_deg) * (_PLAY[0] * sides[0] - _PLAY[1] * sides[1])
    moved = np.nan_to_num(offset)[:, np.newaxis] + play
    low, high = -half[:, np.newaxis] - moved, half[:, np.newaxis] - moved
    sigma = sigma[:, np.newaxis]
    return np.asarray(trail.within(low / sigma, high / sigma).mean(axis=1))


def _passing(crossings: Sequence[Crossing], frame: Frame) -> tuple[Floats, Floats]:
    """How far aside of a frame's middle paths run in its plane, ``(m,)`` each.

    And which way they go, from the frame's up.  North at the place is not north in the
    middle, so the direction is taken from a step along it.
    """
    ra = np.array([one.closest.ra_deg for one in crossings])
    dec = np.array([one.closest.dec_deg for one in crossings])
    angle = np.radians([one.position_angle_deg for one in crossings])
    level = np.maximum(np.cos(np.radians(dec)), 1e-6)
    right, up = frame.place(ra, dec)
    ahead = frame.place(
        ra + _STEP_DEG * np.sin(angle) / level, dec + _STEP_DEG * np.cos(angle)
    )
    turn = np.arctan2(ahead[0] - right, ahead[1] - up)
    return right * np.cos(turn) - up * np.sin(turn), turn
