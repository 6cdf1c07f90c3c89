"""What is seen from places on the ground: when, where on the disc, how fast."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes import shadow, sky, strip, vectors
from passes_plugins.transits.line import Line, compass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Newton steps that settle closest approach, entry and exit far below a microsecond.
_STEPS = 8
#: The largest step of one of them, seconds.
_LEAP_S = 20.0
#: Steps smaller than this end the search, seconds.
_SETTLED_S = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Transits (or near misses) seen from one place each, ``(m,)`` arrays.

    Times are seconds from the line's start; entry and exit are nan for a miss.
    ``offset`` and ``entry``, ``leaving`` are (east, north) on the star field from the
    disc's centre, ``(m, 2)``, in radii of the disc; angles in radians.
    """

    best_s: Floats
    entry_s: Floats
    exit_s: Floats
    offset: Floats
    entry: Floats
    leaving: Floats
    radius_rad: Floats
    rate_rad_s: Floats
    motion_rad: Floats
    altitude_rad: Floats
    azimuth_rad: Floats
    body_altitude_rad: Floats
    range_km: Floats
    direction: Floats
    lit: Floats
    phase_rad: Floats
    bright_limb_rad: Floats

    @property
    def duration_s(self) -> Floats:
        """How long the object is in front of the disc; 0 for a miss."""
        return np.nan_to_num(self.exit_s - self.entry_s)

    @property
    def offset_radii(self) -> Floats:
        """Distance of the chord from the disc's centre, in its radii."""
        return np.hypot(self.offset[:, 0], self.offset[:, 1])

    def lit_part_s(self, i: int) -> float:
        """Seconds that one of them spends on the lit part of the disc."""
        if np.isnan(self.entry_s[i]):
            return 0.0
        share = 1.0
        if np.isfinite(self.phase_rad[i]):
            entry, leaving = self.entry[i], self.leaving[i]
            share = strip.lit_share(
                (float(entry[0]), float(entry[1])),
                (float(leaving[0]), float(leaving[1])),
                float(self.bright_limb_rad[i]),
                float(self.phase_rad[i]),
            )
        return share * float(self.duration_s[i])


def see(line: Line, rows: Ints, near_s: Floats, place_km: Floats) -> Sight:
    """What is seen of rows ``(m,)`` from places ``(m, 3)`` around times ``(m,)``."""
    looks = _Looks(line, rows, place_km)
    best_s = looks.closest(near_s)
    now = looks.at(best_s[:, np.newaxis])
    flat, radius, rate = now.offset[:, 0], now.radius[:, 0], now.rate[:, 0]
    speed = vectors.norm(rate)
    nearest = np.hypot(flat[:, 0], flat[:, 1])
    with np.errstate(invalid="ignore"):
        half_s = np.sqrt(radius**2 - nearest**2) / speed
    limb_s = looks.limb(np.stack([best_s - half_s, best_s + half_s], axis=1))
    limb = looks.at(np.nan_to_num(limb_s))
    on_limb = limb.offset / limb.radius[..., np.newaxis]
    on_limb[np.isnan(limb_s)] = np.nan
    north, east = compass(now.body[:, 0], now.frame[:, 0])
    motion = np.arctan2(vectors.dot(rate, east), vectors.dot(rate, north))
    return Sight(
        best_s=best_s,
        entry_s=limb_s[:, 0],
        exit_s=limb_s[:, 1],
        offset=flat / radius[:, np.newaxis],
        entry=on_limb[:, 0],
        leaving=on_limb[:, 1],
        radius_rad=radius,
        rate_rad_s=speed,
        motion_rad=motion % (2 * np.pi),
        **_where(looks, best_s, now),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """Vectors to object and body, ``(m, k, 3)``, and what follows from them."""

    seen: Floats
    body: Floats
    rate: Floats
    frame: Floats
    position: Floats
    radius: Floats

    @property
    def apart(self) -> Floats:
        """From the body to the object, directions."""
        return vectors.unit(self.seen) - vectors.unit(self.body)

    @property
    def offset(self) -> Floats:
        """From the disc's centre, (east, north) in radians of arc, ``(m, k, 2)``."""
        return _offset(self.seen, self.body, self.frame)


class _Looks:
    """Looks at rows ``(m,)`` from places ``(m, 3)`` at times ``(m, k)``."""

    def __init__(self, line: Line, rows: Ints, place_km: Floats) -> None:
        self.line, self.rows, self.place = line, rows, place_km

    def at(self, time_s: Floats) -> _Look:
        """Everything at these times."""
        seen, body, there, rate = self.line.moving(
            self.rows, time_s, self.place[:, np.newaxis]
        )
        radius = np.arcsin(self.line.radius_km / vectors.norm(body))
        return _Look(seen, body, rate, there.frame, there.object_km, radius)

    def closest(self, time_s: Floats) -> Floats:
        """When the object is nearest to the centre of the disc, ``(m,)``."""
        when = time_s[:, np.newaxis]
        for _ in range(_STEPS):
            look = self.at(when)
            step = vectors.dot(look.apart, look.rate) / vectors.dot(
                look.rate, look.rate
            )
            when = when - np.clip(step, -_LEAP_S, _LEAP_S)
            if not (np.abs(step) > _SETTLED_S).any():
                break
        return when[:, 0]

    def limb(self, time_s: Floats) -> Floats:
        """When the object is on the limb, ``(m, 2)``; nan stays nan."""
        for _ in range(_STEPS if np.isfinite(time_s).any() else 0):
            look = self.at(np.nan_to_num(time_s))
            separation = vectors.separation_rad(look.seen, look.body)
            slope = vectors.dot(look.apart, look.rate)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = (separation - look.radius) * separation / slope
            step = np.nan_to_num(step, posinf=0.0, neginf=0.0)
            time_s = time_s - np.clip(step, -_LEAP_S, _LEAP_S)
            if not (np.abs(step)[np.isfinite(time_s)] > _SETTLED_S).any():
                break
        return time_s


def _offset(seen: Floats, body: Floats, frame: Floats) -> Floats:
    """From the disc's centre, (east, north) in radians of arc, ``(..., 2)``."""
    north, east = compass(body, frame)
    apart = vectors.separation_rad(seen, body)
    x, y = vectors.dot(seen, east), vectors.dot(seen, north)
    across = np.hypot(x, y)
    scale = apart / np.where(across > 0.0, across, 1.0)
    return np.stack([x * scale, y * scale], axis=-1)


def _where(looks: _Looks, time_s: Floats, now: _Look) -> dict[str, Any]:
    """Altitude, azimuth, range and light at times ``(m,)``."""
    body, frame, position = now.body[:, 0], now.frame[:, 0], now.position[:, 0]
    place, line = looks.place, looks.line
    geometric = position - place
    up = strip.up_at(place)
    east = vectors.unit(vectors.cross(np.array([0.0, 0.0, 1.0]), up))
    north = vectors.cross(up, east)
    flat = np.arctan2(vectors.dot(geometric, east), vectors.dot(geometric, north))
    turn = sky.gmst_rad(line.start, time_s)
    sun = vectors.rotate_z(sky.sun_teme_km(line.start, time_s), -turn)
    return {
        "altitude_rad": np.arcsin(vectors.dot(vectors.unit(geometric), up)),
        "azimuth_rad": flat % (2 * np.pi),
        "body_altitude_rad": np.arcsin(vectors.dot(vectors.unit(body), up)),
        "range_km": vectors.norm(geometric),
        "direction": vectors.apply(frame, vectors.unit(body)),
        "lit": shadow.lit_fraction(position, sun),
        **_phase(line, body, sun - place, frame),
    }


def _phase(line: Line, body: Floats, sun: Floats, frame: Floats) -> dict[str, Floats]:
    """Phase angle of the body and position angle of its bright limb; nan for the Sun.

    Meeus, Astronomical Algorithms, chapter 48.
    """
    if line.body == "sun":
        unknown = np.full(len(body), np.nan)
        return {"phase_rad": unknown, "bright_limb_rad": unknown}
    north, east = compass(body, frame)
    limb = np.arctan2(vectors.dot(sun, east), vectors.dot(sun, north)) % (2 * np.pi)
    phase = vectors.separation_rad(-body, sun - body)
    return {"phase_rad": phase, "bright_limb_rad": limb}
