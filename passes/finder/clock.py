"""A clock for each orbit that ticks evenly along the orbit, not in time.

Nodes for SGP4 stand at even steps of eccentric anomaly: close together near perigee,
where an object is quick, and far apart at apogee.  A node a fixed time apart would
skip the perigee of a very eccentric orbit, or waste most of its work.  The clock need
only be nearly right: the places at its ticks are SGP4's own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST_STEPS = 50
_SETTLED_RAD = 1e-11


@dataclass(frozen=True, slots=True, eq=False)
class Clocks:
    """One clock an object, ``(m,)`` each; tick ``k`` is at ``k · step`` of anomaly.

    The mean anomaly is ``anomaly + rate · t + curve · t²``, t in seconds from the
    window's start; the drag bends it.
    """

    anomaly_rad: Floats
    rate_rad_s: Floats
    curve_rad_s2: Floats
    eccentricity: Floats
    step_rad: Floats

    def take(self, which: Ints) -> Clocks:
        """The clocks of some objects."""
        return Clocks(
            self.anomaly_rad[which],
            self.rate_rad_s[which],
            self.curve_rad_s2[which],
            self.eccentricity[which],
            self.step_rad[which],
        )

    def time_s(self, ticks: Floats) -> Floats:
        """When each clock shows its ticks, ``(m,)``."""
        angle = ticks * self.step_rad
        return self.time_at(angle, np.sin(angle))

    def time_at(self, angle: Floats, sine: Floats) -> Floats:
        """When each clock shows an eccentric anomaly, whose sine is known, ``(m,)``."""
        ahead = angle - self.eccentricity * sine - self.anomaly_rad
        bend = 4.0 * self.curve_rad_s2 * ahead
        root = np.sqrt(np.maximum(self.rate_rad_s**2 + bend, 0.0))
        return 2.0 * ahead / (self.rate_rad_s + root)

    def mean_rad(self, time_s: Floats | float) -> Floats:
        """Mean anomaly at a time of each clock, not wrapped, ``(m,)``."""
        return (
            self.anomaly_rad + (self.rate_rad_s + self.curve_rad_s2 * time_s) * time_s
        )

    def ticks(self, time_s: Floats | float) -> Floats:
        """Ticks, with fractions, that each clock shows at a time, ``(m,)``.

        Newton's method on Kepler's equation, from a start that always converges.
        """
        mean = self.mean_rad(time_s)
        e = self.eccentricity
        angle = mean + 0.85 * e * np.sign(np.sin(mean))
        for _ in range(_MOST_STEPS):
            slip = angle - e * np.sin(angle) - mean
            shift = slip / (1.0 - e * np.cos(angle))
            going = np.abs(shift) > _SETTLED_RAD  # one that has settled stays put,
            if not going.any():  # whatever company it is in
                break
            angle = np.where(going, angle - shift, angle)
        return angle / self.step_rad
