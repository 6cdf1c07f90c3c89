"""Operators' ephemerides of a request: read once, sorted by object."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from passes import sky
from passes.elements.source import MAX_BYTES, load
from passes.ephemeris import MAX_STATES, Flight, Message, Segment, read_messages
from passes.errors import EphemerisError
from passes.forecast.changeover import FADE_S
from passes.forecast.request import Request
from passes.model import Span

Floats = NDArray[np.float64]

_NUMBER = re.compile(r"\d{1,9}", re.ASCII)
_DESIGNATOR = re.compile(r"(\d{4})[- ]?(\d{3})[- ]?([A-Z]{1,3})")


@dataclass(frozen=True, slots=True, eq=False)
class Published:
    """What was published of one object: its flights, the freshest last."""

    name: str
    designator: str
    where: str
    flights: tuple[Flight, ...]

    @property
    def number(self) -> int | None:
        """The catalogue number, where the message names its object by it."""
        match = _NUMBER.fullmatch(self.designator)
        return int(match[0]) if match else None

    def joined(self, other: Published) -> Published:
        """What both tell of the same object."""
        flights = sorted((*self.flights, *other.flights), key=lambda one: one.created)
        return replace(self, flights=tuple(flights))

    def meets(self, window: Span) -> bool:
        """Whether any of it, or of its fading, lies within a window."""
        fade = timedelta(seconds=FADE_S)
        return any(
            low - fade < window.end and high + fade > window.start
            for flight in self.flights
            for low, high in flight.spans
        )

    @property
    def spans(self) -> str:
        """In words, from when to when."""
        spans = sorted({span for flight in self.flights for span in flight.spans})
        return ", ".join(
            f"{a:%Y-%m-%dT%H:%MZ} to {b:%Y-%m-%dT%H:%MZ}" for a, b in spans
        )


class Operators:
    """The ephemerides of a request; nothing is read before it is asked for."""

    def __init__(self, request: Request) -> None:
        self._request = request

    def __bool__(self) -> bool:
        return bool(self._request.ephemeris_files)

    @cached_property
    def messages(self) -> tuple[Message, ...]:
        """Every message of every file; EphemerisError for whatever is wrong."""
        most = self._request.max_bytes or MAX_BYTES
        states = max(MAX_STATES, MAX_STATES * most // MAX_BYTES)
        found: list[Message] = []
        for path in self._request.ephemeris_files:
            text = load(path, stdin=self._request.stdin, max_bytes=most)
            if text.damage:
                raise EphemerisError(path, text.damage)
            found += read_messages(text.data, path, max_states=states)
        return tuple(found)

    @cached_property
    def published(self) -> tuple[Published, ...]:
        """Object by object, in the order of the files."""
        held: dict[str, list[tuple[Flight, str]]] = {}
        for message in self.messages:
            parts: dict[str, list[Segment]] = {}
            for segment in message.segments:
                key = designator_of(segment.object_id) or segment.object_name.upper()
                parts.setdefault(key, []).append(segment)
            for key, segments in parts.items():
                flight = Flight(segments, TO_TEME, message.created)
                held.setdefault(key, []).append((flight, message.where))
        return tuple(_published(some) for some in held.values())


def _published(some: list[tuple[Flight, str]]) -> Published:
    first, where = some[0]
    segment = first.segments[0]
    return Published(
        name=segment.object_name,
        designator=designator_of(segment.object_id) or segment.object_id,
        where=where,
        flights=tuple(sorted((one for one, _ in some), key=lambda one: one.created)),
    )


def designator_of(text: str) -> str:
    """An international designator in its long form, whatever its hyphens; else ""."""
    match = _DESIGNATOR.fullmatch(text.strip().upper())
    return f"{match[1]}-{match[2]}{match[3]}" if match else ""


# --- frames ------------------------------------------------------------------


def _from_teme(start: datetime, time_s: Floats) -> Floats:
    return np.broadcast_to(np.eye(3), (time_s.size, 3, 3))


def _from_gcrf(start: datetime, time_s: Floats) -> Floats:
    return sky.teme_to_icrs(start, time_s).swapaxes(-1, -2)


def _from_j2000(start: datetime, time_s: Floats) -> Floats:
    return _from_gcrf(start, time_s) @ sky.j2000_from_icrs().T


def _from_itrf(start: datetime, time_s: Floats) -> Floats:
    """Polar motion is left out, for sites as for objects: 10 m at most together."""
    angle = sky.gmst_rad(start, time_s)
    turn = np.zeros((time_s.size, 3, 3))
    turn[:, 0, 0] = turn[:, 1, 1] = np.cos(angle)
    turn[:, 1, 0] = np.sin(angle)
    turn[:, 0, 1] = -turn[:, 1, 0]
    turn[:, 2, 2] = 1.0
    return turn


#: What turns places of each frame that messages use to TEME.
TO_TEME = {
    "TEME": _from_teme,
    "GCRF": _from_gcrf,
    "EME2000": _from_j2000,
    "ITRF": _from_itrf,
}
