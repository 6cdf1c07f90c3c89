"""Where one object stands for one site, and how fast it moves there.

Positions come from SGP4; speeds and accelerations from differences of those positions,
because SGP4's own velocity is not the derivative of its position.  Each sample is
computed from its own neighbourhood alone, so the sampling changes no value.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes import motion, sky, vectors
from passes.constants import LIGHT_SPEED_KM_S, SECONDS_PER_DAY
from passes.model import Site

Floats = NDArray[np.float64]
Codes = NDArray[np.uint8]

#: Spacing of the positions that are differenced.  Truncation stays under 2e-9 km/s in
#: the lowest orbits; SGP4's rounding (1e-9 km) leaves 1e-9 km/s².
STEP_S = 4.0
#: Rate of the sidereal angle that turns TEME to Earth-fixed (Aoki et al. 1982, its
#: linear term): faster than the Earth turns among the stars, for the equinox recedes.
#: Left out is the length of the day's wandering, 1e-12 rad/s.
SIDEREAL_RAD_S = (1.0 + 8640184.812866 / 36525.0 / SECONDS_PER_DAY) * (
    2.0 * np.pi / SECONDS_PER_DAY
)
#: Rounds of light time: each gains a factor of 10⁴, the first is already within 1″.
_ROUNDS = 3


class Positions(Protocol):
    """Anything that knows where the objects of a catalogue are."""

    def positions(self, row: int, time_s: Floats, /) -> tuple[Floats, Codes]:
        """TEME positions ``(k, 3)`` km at times ``(k,)``, error codes ``(k,)``."""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Motion of one object in TEME, ``(n, 3)`` each; nan where SGP4 refuses.

    Within two steps (8 s) of a refusal the position is known, its derivatives are not.
    """

    time_s: Floats
    position_km: Floats
    velocity_km_s: Floats
    acceleration_km_s2: Floats


def trace(source: Positions, row: int, time_s: Floats) -> Path:
    """Motion of one row of a catalogue at times ``(n,)``."""
    nodes = time_s[:, np.newaxis] + STEP_S * np.array(motion.STENCIL)
    position, error = source.positions(row, nodes.reshape(-1))
    # A decayed object keeps a plausible place inside the Earth: the code tells.
    position = np.where((error == 0)[:, np.newaxis], position, np.nan)
    around = position.reshape(*nodes.shape, 3)
    velocity, acceleration = motion.differentiate(around, STEP_S)
    return Path(time_s, around[:, 2], velocity, acceleration)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """A path seen from a site; ``level`` and ``hour`` are angles and their motion.

    ``level`` holds azimuth (north through east) and altitude, ``hour`` hour angle
    (westward) and declination on the Earth's own axis: both geometric (no light time,
    no refraction), in axes fixed to the ground.  ``site_km`` ``(n, 3)`` and
    ``angular_rate`` (among the stars, rad/s) are in TEME.
    """

    level: motion.Sweep
    hour: motion.Sweep
    range_km: Floats
    angular_rate: Floats
    site_km: Floats


def see(path: Path, site: Site, start: datetime) -> Sight:
    """Look at a path from a site; ``path.time_s`` counts from ``start``."""
    turned = sky.gmst_rad(start, path.time_s)
    position, velocity, acceleration = motion.seen_turning(
        path.position_km,
        path.velocity_km_s,
        path.acceleration_km_s2,
        turned,
        SIDEREAL_RAD_S,
    )
    line = position - sky.site_km(site)
    east, north, up = sky.site_axes(site)
    pole = np.array([0.0, 0.0, 1.0])
    meridian = vectors.cross(east, pole)  # where it meets the celestial equator
    spin = SIDEREAL_RAD_S * pole
    return Sight(
        level=_sweep(np.stack([north, east, up]), line, velocity, acceleration),
        hour=_sweep(np.stack([meridian, -east, pole]), line, velocity, acceleration),
        range_km=vectors.norm(line),
        angular_rate=motion.angular_speed(line, velocity + vectors.cross(spin, line)),
        site_km=vectors.rotate_z(sky.site_km(site), turned),
    )


def _sweep(axes: Floats, *motions: Floats) -> motion.Sweep:
    """Angles of a line along its axes ``(3, 3)`` (rows), and how they change."""
    return motion.sweep(*(vectors.apply(axes, vector) for vector in motions))


def astrometric(path: Path, sight: Sight, start: datetime) -> Floats:
    """Directions as a plate solution gives them, ICRS, unit vectors ``(n, 3)``.

    The object where it was when the light left it, seen from where the site is when
    the light arrives, both about the barycentre: the Earth's own motion during the
    light time counts (20″), aberration is left out as it is for the stars around.  The
    same as skyfield's ``(earth + site).at(t).observe(earth + satellite)``.
    """
    to_icrs = sky.teme_to_icrs(start, path.time_s)
    line = vectors.apply(to_icrs, path.position_km - sight.site_km)
    velocity = vectors.apply(to_icrs, path.velocity_km_s)
    velocity = velocity + sky.earth_velocity_km_s(start, path.time_s)
    half_pull = vectors.apply(to_icrs, path.acceleration_km_s2) / 2.0
    seen = line
    for _ in range(_ROUNDS):
        light_s = (vectors.norm(seen) / LIGHT_SPEED_KM_S)[:, np.newaxis]
        seen = line - velocity * light_s + half_pull * light_s**2
    return vectors.unit(seen)


def of_date(direction: Floats, start: datetime, time_s: Floats) -> Floats:
    """Directions ``(n, 3)`` in ICRS, turned to the true equator and equinox of date."""
    return vectors.apply(sky.true_of_date_from_icrs(start, time_s), direction)
