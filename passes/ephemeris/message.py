"""What an orbit ephemeris message (CCSDS 502.0-B) holds, checked."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray

from passes.errors import EphemerisError

Floats = NDArray[np.float64]

EME2000, GCRF, TEME, ITRF = FRAMES = ("EME2000", "GCRF", "TEME", "ITRF")
LAGRANGE, HERMITE, LINEAR = METHODS = ("LAGRANGE", "HERMITE", "LINEAR")
#: The names under which the frames go in messages; ITRF also with the year of one.
_FRAME_NAMES = {
    "EME2000": EME2000,
    "J2000": EME2000,
    "GCRF": GCRF,
    "ICRF": GCRF,
    "TEME": TEME,
}
_ITRF = re.compile(r"ITRF[-_ ]?(\d{2}|\d{4})?")
#: Used where a message does not say how to interpolate (common practice, no source).
USUAL_DEGREE = 7
#: Polynomials of a higher degree swing more than they tell (common practice).
LARGEST_DEGREE = 25
#: Distances from the Earth's centre that make sense, km: others are other units.
LEAST_KM, MOST_KM = 6300.0, 2_000_000.0
_DAY_ZERO = datetime(1970, 1, 1, tzinfo=UTC)
_TIME = re.compile(
    r"(\d{4})-(?:(\d\d)-(\d\d)|(\d{3}))T(\d\d):(\d\d):(\d\d(?:\.\d*)?)Z?", re.ASCII
)
_REQUIRED = (
    "OBJECT_NAME",
    "OBJECT_ID",
    "CENTER_NAME",
    "REF_FRAME",
    "TIME_SYSTEM",
    "START_TIME",
    "STOP_TIME",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segment:
    """States of one object between two events, such as manoeuvres.

    ``time_s`` ``(n,)`` counts from ``origin``, a midnight UTC; ``position_km`` and
    ``velocity_km_s`` are ``(n, 3)`` in ``frame``.  ``start_s`` and ``stop_s`` bound
    what may be used; ``nodes`` is how many states carry each interpolated place.
    """

    object_name: str
    object_id: str
    frame: str
    origin: datetime
    time_s: Floats
    position_km: Floats
    velocity_km_s: Floats
    start_s: float
    stop_s: float
    method: str = LAGRANGE
    nodes: int = USUAL_DEGREE + 1

    @property
    def start(self) -> datetime:
        """The first moment that may be used."""
        return self.origin + timedelta(seconds=self.start_s)

    @property
    def stop(self) -> datetime:
        """The last moment that may be used."""
        return self.origin + timedelta(seconds=self.stop_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Message:
    """One message: who made it when, its segments, remarks of its own and of ours."""

    where: str
    originator: str = ""
    created: datetime | None = None
    segments: tuple[Segment, ...] = ()
    comments: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class Block:
    """One segment as it is read: its metadata, and where each state stood."""

    where: str
    meta: dict[str, str] = field(default_factory=dict)
    epochs: list[float] = field(default_factory=list)
    states: list[list[float]] = field(default_factory=list)
    origin: datetime = _DAY_ZERO

    def put(self, key: str, value: str) -> None:
        """Add a field of the metadata; one that is given twice is refused."""
        if self.meta.setdefault(key, value) != value:
            raise EphemerisError(self.where, f"{key} is given twice")

    def state(self, where: str, epoch: str, values: list[str]) -> None:
        """Add a state: an epoch and six numbers (accelerations are passed over)."""
        if not self.epochs:
            moment = instant(where, "epoch", epoch)[0]
            self.origin = moment
        numbers = _numbers(where, values)
        if numbers is None or len(numbers) not in (6, 9):
            raise EphemerisError(where, "a state is an epoch and six numbers")
        distance = float(np.hypot.reduce(numbers[:3]))
        if not LEAST_KM < distance < MOST_KM:
            reason = f"a place {distance:,.0f} km from the Earth's centre"
            raise EphemerisError(where, f"{reason}: are these kilometres?")
        seconds = seconds_since(self.origin, where, "epoch", epoch)
        if self.epochs and seconds <= self.epochs[-1]:
            raise EphemerisError(where, f"epoch {epoch} is not after the one before")
        self.epochs.append(seconds)
        self.states.append(numbers[:6])

    def segment(self, notes: list[str]) -> Segment:
        """The segment, checked; what was assumed goes into the notes."""
        meta, where = self.meta, self.where
        for key in _REQUIRED:
            if not meta.get(key):
                raise EphemerisError(where, f"{key} is missing")
        self._wanted("CENTER_NAME", "EARTH", "give one about the Earth")
        self._wanted("TIME_SYSTEM", "UTC", "give one in UTC")
        if len(self.epochs) < 2:
            raise EphemerisError(where, "a segment needs at least two states")
        start, stop = self._span()
        method, nodes = self._interpolation(notes)
        states = np.array(self.states)
        return Segment(
            object_name=meta["OBJECT_NAME"],
            object_id=meta["OBJECT_ID"],
            frame=self._frame(),
            origin=self.origin,
            time_s=np.array(self.epochs),
            position_km=states[:, :3],
            velocity_km_s=states[:, 3:],
            start_s=max(start, self.epochs[0]),
            stop_s=min(stop, self.epochs[-1]),
            method=method,
            nodes=nodes,
        )

    def _wanted(self, key: str, wanted: str, hint: str) -> None:
        if self.meta[key].upper() != wanted:
            reason = f"{key} {self.meta[key]!r} is not supported; {hint}"
            raise EphemerisError(self.where, reason)

    def _frame(self) -> str:
        name = self.meta["REF_FRAME"].upper()
        frame = _FRAME_NAMES.get(name, ITRF if _ITRF.fullmatch(name) else "")
        dated = frame == TEME and "REF_FRAME_EPOCH" in self.meta
        if not frame or dated:
            said = f"{self.meta['REF_FRAME']!r}{' of one epoch' if dated else ''}"
            reason = f"REF_FRAME {said} is not supported ({', '.join(FRAMES)} are)"
            raise EphemerisError(self.where, reason)
        return frame

    def _span(self) -> tuple[float, float]:
        """What may be used, seconds from the origin."""
        edges = []
        for usable, whole in (
            ("USEABLE_START_TIME", "START_TIME"),
            ("USEABLE_STOP_TIME", "STOP_TIME"),
        ):
            key = usable if self.meta.get(usable) else whole
            edges.append(seconds_since(self.origin, self.where, key, self.meta[key]))
        start, stop = edges
        if max(start, self.epochs[0]) >= min(stop, self.epochs[-1]):
            reason = "no state lies within the time that may be used"
            raise EphemerisError(self.where, reason)
        return start, stop

    def _interpolation(self, notes: list[str]) -> tuple[str, int]:
        """How to interpolate, and through how many states."""
        method = self.meta.get("INTERPOLATION", "").upper()
        if method and method not in METHODS:
            reason = f"INTERPOLATION {method!r} is not supported ({', '.join(METHODS)})"
            raise EphemerisError(self.where, reason)
        said = self.meta.get("INTERPOLATION_DEGREE", "")
        if said and not (said.isascii() and said.isdecimal() and int(said[:4]) > 0):
            reason = f"INTERPOLATION_DEGREE {said!r} is not a whole number above 0"
            raise EphemerisError(self.where, reason)
        degree = int(said[:4]) if said else 1 if method == LINEAR else USUAL_DEGREE
        if degree > LARGEST_DEGREE:
            reason = f"INTERPOLATION_DEGREE {said} is too high (up to {LARGEST_DEGREE})"
            raise EphemerisError(self.where, reason)
        if not method or (not said and method != LINEAR):
            notes.append(
                f"{self.where}: says not how to interpolate; "
                f"{method or LAGRANGE} of degree {degree} is used"
            )
        nodes = 2 if method == LINEAR else degree + 1
        nodes = ceil(nodes / 2) if method == HERMITE else nodes
        if nodes > len(self.epochs):
            notes.append(f"{self.where}: too few states for degree {degree}; all used")
        return method or LAGRANGE, max(min(nodes, len(self.epochs)), 2)


def _numbers(where: str, values: list[str]) -> list[float] | None:
    try:
        numbers = [float(value) for value in values if "_" not in value]
    except ValueError:
        return None
    if not np.isfinite(numbers).all():
        raise EphemerisError(where, "a state with a number that is not finite")
    return numbers


def instant(where: str, key: str, text: str) -> tuple[datetime, float]:
    """A time of a message as midnight UTC and seconds since.

    Both forms of the standard: month and day, or day of the year.
    """
    match = _TIME.fullmatch(text.strip())
    try:
        if match is None:
            raise ValueError
        year, month, day, of_year, hour, minute, second = match.groups()
        midnight = datetime(int(year), int(month or 1), int(day or 1), tzinfo=UTC)
        if of_year:
            if not 1 <= int(of_year) <= 366:
                raise ValueError
            midnight += timedelta(days=int(of_year) - 1)
        if int(hour) > 23 or int(minute) > 59 or float(second) >= 61.0:
            raise ValueError
    except (ValueError, OverflowError):
        shown = text[:30] + "…" if len(text) > 30 else text
        reason = f"{key} {shown!r} is not a time (2025-09-13T12:00:00)"
        raise EphemerisError(where, reason) from None
    return midnight, int(hour) * 3600 + int(minute) * 60 + float(second)


def seconds_since(origin: datetime, where: str, key: str, text: str) -> float:
    """A time of a message in seconds from a midnight."""
    midnight, seconds = instant(where, key, text)
    return (midnight - origin).total_seconds() + seconds
