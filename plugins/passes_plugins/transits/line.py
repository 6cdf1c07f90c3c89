"""The line from a body through an object down to the ground, at many times together.

Everything is Earth-fixed and in km.  What is seen is astrometric: the light of object
and body left one light time ago, when object, Earth and body were elsewhere, so that
what the line meets is where the two are seen in one place on the star field.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from passes import sky, strip, vectors
from passes.constants import LIGHT_SPEED_KM_S
from passes.model import Site
from passes.orbits import Propagator

if TYPE_CHECKING:
    from passes.elements import Catalogue

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Half the stretch over which motion on the sky is taken, seconds.
BESIDE_S = 0.25
#: Steps that settle a light time.
_LIGHT_STEPS = 2


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where things are, ``(m, k, 3)`` km; ``frame`` ``(m, k, 3, 3)`` turns to ICRS.

    ``drift_km_s`` is how fast object and Earth move together among the stars.
    """

    object_km: Floats
    drift_km_s: Floats
    body_km: Floats
    frame: Floats

    def take(self, times: slice) -> Places:
        """Some of the times."""
        return Places(
            self.object_km[:, times],
            self.drift_km_s[:, times],
            self.body_km[:, times],
            self.frame[:, times],
        )

    def seen_from(self, place_km: Floats) -> tuple[Floats, Floats]:
        """Astrometric vectors from places to object and body, ``(m, k, 3)`` km."""
        away = self.object_km - place_km
        seen = away
        for _ in range(_LIGHT_STEPS):
            light_s = vectors.norm(seen) / LIGHT_SPEED_KM_S
            seen = away - self.drift_km_s * light_s[..., np.newaxis]
        return seen, self.body_km - place_km


class Line:
    """One body and the rows of a catalogue, each with times of its own.

    ``start`` is what times count from; ``around`` is a site near the ground looked at,
    from which the light time of the body is taken.
    """

    def __init__(
        self, catalogue: Catalogue, body: str, around: Site, start: datetime
    ) -> None:
        self.catalogue, self.body = catalogue, body
        self.around, self.start = around, start
        self.propagator = Propagator(catalogue, start, fast=False)
        self.radius_km = float(sky.body_icrs(body, around, start, np.zeros(1))[2])

    def late(self, rows: Ints, late_s: Floats) -> Line:
        """The same for one row each, late by so many seconds ``(m,)``."""
        some = self.catalogue.take(rows)
        held = np.zeros(len(some)) if some.late_s is None else some.late_s
        some = replace(some, late_s=held + late_s)
        return Line(some, self.body, self.around, self.start)

    def places(
        self, rows: Ints, time_s: Floats, aside_km: Floats | None = None
    ) -> Places:
        """Places of rows ``(m,)`` at times ``(m, k)``.

        ``aside_km`` ``(m,)`` moves the objects across their paths, to the left.
        """
        position, velocity, error = self.propagator.many(rows, time_s)
        position[error != 0] = np.nan
        if aside_km is not None:
            pole = vectors.unit(vectors.cross(position, velocity))
            position = position + pole * aside_km[:, np.newaxis, np.newaxis]
        flat = time_s.reshape(-1)
        to_icrs = sky.teme_to_icrs(self.start, flat)
        turn = sky.gmst_rad(self.start, flat)
        earth = self._into_teme(to_icrs, sky.earth_velocity_km_s(self.start, flat))
        direction, far_km, _ = sky.body_icrs(self.body, self.around, self.start, flat)
        body = self._into_teme(to_icrs, direction * far_km[:, np.newaxis])
        shape = (*time_s.shape, 3)

        def fixed(v: Floats) -> Floats:
            return vectors.rotate_z(v.reshape(-1, 3), -turn).reshape(shape)

        return Places(
            fixed(position),
            fixed(velocity.reshape(-1, 3) + earth),
            fixed(body) + sky.site_km(self.around),
            _to_icrs(to_icrs, turn).reshape(*time_s.shape, 3, 3),
        )

    @staticmethod
    def _into_teme(to_icrs: Floats, v: Floats) -> Floats:
        return vectors.apply(np.swapaxes(to_icrs, -1, -2), v)

    def ground(
        self,
        rows: Ints,
        time_s: Floats,
        height_km: float,
        aside_km: Floats | None = None,
    ) -> Floats:
        """Where the centre line meets the ground at times ``(m, k)``, ``(m, k, 3)``.

        nan where it passes the Earth by.
        """
        return meet(self.places(rows, time_s, aside_km), None, height_km)

    def look(
        self, rows: Ints, time_s: Floats, place_km: Floats
    ) -> tuple[Floats, Floats, Places]:
        """Vectors from places ``(m, k, 3)`` to object and body, and all the places."""
        there = self.places(rows, time_s)
        seen, body = there.seen_from(place_km)
        return seen, body, there

    def moving(
        self, rows: Ints, time_s: Floats, place_km: Floats
    ) -> tuple[Floats, Floats, Places, Floats]:
        """The same as :meth:`look`, and how the object moves in front of the body.

        Motion is in rad/s, ``(m, k, 3)``, seen from places that stand on the ground:
        object and body both turn with the sky.
        """
        m, k = time_s.shape
        steps = np.array([-BESIDE_S, 0.0, BESIDE_S])
        every = (time_s[..., np.newaxis] + steps).reshape(m, 3 * k)
        places = np.repeat(np.broadcast_to(place_km, (m, k, 3)), 3, axis=1)
        seen, body, there = self.look(rows, every, places)
        apart = (vectors.unit(seen) - vectors.unit(body)).reshape(m, k, 3, 3)
        rate = (apart[:, :, 2] - apart[:, :, 0]) / (2.0 * BESIDE_S)
        middle = slice(1, None, 3)
        return seen[:, middle], body[:, middle], there.take(middle), rate

    def edges(
        self, rows: Ints, time_s: Floats, centre_km: Floats, height_km: float
    ) -> tuple[Floats, Floats]:
        """Ground from which the object grazes the disc, left and right of the strip.

        ``centre_km`` ``(m, k, 3)`` is the centre line at those times.  There the object
        touches the limb with its motion along it.
        """
        _, body, there, motion = self.moving(rows, time_s, centre_km)
        side = strip.across(body, motion)
        both = []
        for sign in (-1.0, 1.0):  # past the object lines come out on the other side
            limb = strip.limb_km(there.body_km, self.radius_km, centre_km, sign * side)
            both.append(meet(there, limb, height_km))
        return both[0], both[1]


def meet(there: Places, target_km: Floats | None, height_km: float) -> Floats:
    """Where lines from a target (the body's centre) past the objects come down."""
    target = there.body_km if target_km is None else target_km
    seen = there.object_km
    for _ in range(_LIGHT_STEPS):
        place = strip.ground_km(seen, target, height_km)
        away, _ = there.seen_from(place)
        seen = place + away
    return strip.ground_km(seen, target, height_km)


def _to_icrs(to_icrs: Floats, turn: Floats) -> Floats:
    """Matrices that turn Earth-fixed axes to ICRS, ``(k, 3, 3)``."""
    c, s = np.cos(turn), np.sin(turn)
    zero, one = np.zeros_like(c), np.ones_like(c)
    spin = np.stack(
        [
            np.stack([c, -s, zero], axis=-1),
            np.stack([s, c, zero], axis=-1),
            np.stack([zero, zero, one], axis=-1),
        ],
        axis=-2,
    )
    return np.asarray(to_icrs @ spin)


def compass(vector: Floats, frame: Floats) -> tuple[Floats, Floats]:
    """North and east on the star field at directions, in their own axes."""
    pole = frame[..., 2, :]  # the ICRS pole, in Earth-fixed axes
    aim = vectors.unit(vector)
    east = vectors.unit(vectors.cross(pole, aim))
    return vectors.cross(aim, east), east
