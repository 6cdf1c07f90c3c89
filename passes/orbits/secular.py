"""SGP4's mean elements of many near-Earth objects at once, without the package.

The secular part of SGP4 (Hoots and Roehrich 1980, Spacetrack Report 3; Vallado et al.
2006, AIAA 2006-6753) in numpy: where drag and the flattened Earth have carried the
mean elements by a time.  Asking the sgp4 package object by object costs ten times as
much.  Only searches that must choose what is worth propagating use this; places that
anyone sees are SGP4's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: WGS 72, as SGP4 has it: radius (km), root of the gravitational parameter (Earth
#: radii, minutes), zonal harmonics.
RADIUS_KM = 6378.135
XKE = 60.0 / np.sqrt(RADIUS_KM**3 / 398600.8)
J2, J3, J4 = 0.001082616, -0.00000253881, -0.00000165597
#: Heights that bound the density function, and below which drag is kept simple, km.
_FLOOR_KM, _CEILING_KM, _SIMPLE_KM = 78.0, 120.0, 220.0
_ROUND = 1e-4
#: SGP4 lets no mean eccentricity fall below this.
LEAST_ECCENTRICITY = 1e-6
#: Below these (eccentricity before that; axis in radii) SGP4 refuses to go on.
_LEAST_RAW, _LEAST_AXIS = -0.001, 0.95
#: Periods from here on belong to deep space, minutes.
DEEP_PERIOD_MIN = 225.0


@dataclass(frozen=True, slots=True, eq=False)
class Mean:
    """Mean elements at one time, ``(m,)``; angles are not wrapped.

    ``moved_rad`` is what drag has moved the perigee back along the orbit and the
    anomaly forward; their sum does not feel it.  ``refused`` are those whose mean
    elements SGP4 would refuse.
    """

    axis_km: Floats
    eccentricity: Floats
    node_rad: Floats
    argument_rad: Floats
    anomaly_rad: Floats
    motion_rad_min: Floats
    moved_rad: Floats
    refused: Bools


def true_motion(catalogue: Any, rows: Ints) -> Floats:
    """Mean motion freed from Kozai's correction, rad/min, ``(m,)``."""
    e = catalogue.eccentricity[rows]
    kozai = catalogue.mean_motion_rad_min[rows]
    root = np.sqrt(1.0 - e * e)
    cosine2 = np.cos(catalogue.inclination_rad[rows]) ** 2
    first = 0.75 * J2 * (3.0 * cosine2 - 1.0) / root**3
    axis = (XKE / kozai) ** (2.0 / 3.0)
    small = first / axis**2
    axis = axis * (
        1.0 - small * small - small * (1.0 / 3.0 + 134.0 * small * small / 81.0)
    )
    return np.asarray(kozai / (1.0 + first / axis**2))


class Secular:
    """How the mean elements of near-Earth rows ``(m,)`` move.

    ``catalogue`` has the element columns; which rows are near the Earth is the
    caller's to know.  Elements of impossible orbits give nan.
    """

    def __init__(self, catalogue: Any, rows: Ints) -> None:
        self.e = catalogue.eccentricity[rows]
        self.incline = catalogue.inclination_rad[rows]
        self.node = catalogue.raan_rad[rows]
        self.argument = catalogue.argument_rad[rows]
        self.anomaly = catalogue.mean_anomaly_rad[rows]
        self.bstar = catalogue.bstar[rows]
        self.motion = true_motion(catalogue, rows)
        self.axis = (XKE / self.motion) ** (2.0 / 3.0)
        self._rates()
        self._drag()

    def _rates(self) -> None:
        """Rates that the Earth's flattening causes, rad/min."""
        self.cosine = np.cos(self.incline)
        c2 = self.cosine**2
        c4 = c2 * c2
        root = np.sqrt(1.0 - self.e**2)
        self.narrow2 = 1.0 - self.e**2
        inverse = (self.axis * self.narrow2) ** -2
        one = 1.5 * J2 * inverse * self.motion
        two = 0.5 * one * J2 * inverse
        three = -0.46875 * J4 * inverse * inverse * self.motion
        self.anomaly_rate = (
            self.motion
            + 0.5 * one * root * (3.0 * c2 - 1.0)
            + 0.0625 * two * root * (13.0 - 78.0 * c2 + 137.0 * c4)
        )
        self.argument_rate = (
            -0.5 * one * (1.0 - 5.0 * c2)
            + 0.0625 * two * (7.0 - 114.0 * c2 + 395.0 * c4)
            + three * (3.0 - 36.0 * c2 + 49.0 * c4)
        )
        self.plain_node_rate = -one * self.cosine
        self.node_rate = self.plain_node_rate + self.cosine * (
            0.5 * two * (4.0 - 19.0 * c2) + 2.0 * three * (3.0 - 7.0 * c2)
        )

    def _density(self) -> tuple[Floats, Floats]:
        """The density function's lower height (radii) and its fourth power."""
        perigee = (self.axis * (1.0 - self.e) - 1.0) * RADIUS_KM
        floor = np.where(perigee < 156.0, perigee - _FLOOR_KM, _FLOOR_KM)
        floor = np.where(perigee < 98.0, 20.0, floor)
        self.simple = perigee < _SIMPLE_KM
        return floor / RADIUS_KM + 1.0, ((_CEILING_KM - floor) / RADIUS_KM) ** 4

    def _drag(self) -> None:
        """Coefficients of the drag terms."""
        e, axis, motion, bstar = self.e, self.axis, self.motion, self.bstar
        floor, fourth = self._density()
        nearness = 1.0 / (axis - floor)
        self.eta = eta = axis * e * nearness
        eta2, eeta = eta * eta, e * eta
        psi2 = np.abs(1.0 - eta2)
        coef = fourth * nearness**4
        coef1 = coef / psi2**3.5
        c2 = self.cosine**2
        con = 3.0 * c2 - 1.0
        cc2 = coef1 * motion * axis * (1.0 + 1.5 * eta2 + eeta * (4.0 + eta2))
        tilt = 0.375 * J2 * nearness / psi2 * con * (8.0 + 3.0 * eta2 * (8.0 + eta2))
        cc1 = bstar * (cc2 + coef1 * motion * tilt)
        self.cc1 = cc1
        round_ = e <= _ROUND
        safe = np.where(round_, 1.0, e)
        sine = np.sin(self.incline)
        cc3 = -2.0 * coef * nearness * (J3 / J2) * motion * sine / safe
        self.omega = np.where(round_, 0.0, bstar * cc3 * np.cos(self.argument))
        swing = -2.0 / 3.0 * coef * bstar / np.where(round_, 1.0, eeta)
        self.swing = np.where(round_, 0.0, swing)
        self.node_curve = 3.5 * self.narrow2 * self.plain_node_rate * cc1
        self.round_rate = bstar * self._cc4(coef1, nearness, psi2, con)
        cc5 = 2.0 * coef1 * axis * self.narrow2
        self.round_swing = bstar * cc5 * (1.0 + 2.75 * (eta2 + eeta) + eeta * eta2)
        self._higher(floor, nearness)

    def _cc4(
        self, coef1: Floats, nearness: Floats, psi2: Floats, con: Floats
    ) -> Floats:
        e, eta = self.e, self.eta
        eta2, eeta = eta * eta, e * eta
        sine2 = 1.0 - self.cosine**2
        around = -3.0 * con * (1.0 - 2.0 * eeta + eta2 * (1.5 - 0.5 * eeta))
        around = around + 0.75 * sine2 * (2.0 * eta2 - eeta * (1.0 + eta2)) * np.cos(
            2.0 * self.argument
        )
        inner = eta * (2.0 + 0.5 * eta2) + e * (0.5 + 2.0 * eta2)
        inner = inner - J2 * nearness / (self.axis * psi2) * around
        return np.asarray(2.0 * self.motion * coef1 * self.axis * self.narrow2 * inner)

    def _higher(self, floor: Floats, nearness: Floats) -> None:
        """Powers of the time beyond the first; none for perigees below 220 km."""
        cc1, axis = self.cc1, self.axis
        two = 4.0 * axis * nearness * cc1**2
        share = two * nearness * cc1 / 3.0
        three = (17.0 * axis + floor) * share
        four = 0.5 * share * axis * nearness * (221.0 * axis + 31.0 * floor) * cc1
        keep = np.where(self.simple, 0.0, 1.0)
        self.shrink = [keep * two, keep * three, keep * four]
        self.gain = [
            1.5 * cc1,
            keep * (two + 2.0 * cc1**2),
            keep * 0.25 * (3.0 * three + cc1 * (12.0 * two + 10.0 * cc1**2)),
            keep
            * 0.2
            * (
                3.0 * four
                + 12.0 * cc1 * three
                + 6.0 * two**2
                + 15.0 * cc1**2 * (2.0 * two + cc1**2)
            ),
        ]

    @property
    def most_swing(self) -> Floats:
        """Most that a revolution adds to what drag moves the perigee by, ``(m,)``."""
        return np.asarray(np.abs(self.swing) * (6.0 * self.eta + 2.0 * self.eta**3))

    def at(self, minutes: Floats) -> Mean:
        """Mean elements at minutes since each epoch, ``(m,)``."""
        t = minutes
        mean = self.anomaly + self.anomaly_rate * t
        grown = (1.0 + self.eta * np.cos(mean)) ** 3
        begun = (1.0 + self.eta * np.cos(self.anomaly)) ** 3
        moved = np.where(
            self.simple, 0.0, self.omega * t + self.swing * (grown - begun)
        )
        mean = mean + moved
        argument = self.argument + self.argument_rate * t - moved
        node = self.node + (self.node_rate + self.node_curve * t) * t
        share = 1.0 - self.cc1 * t - _powers(self.shrink, t) * t * t
        lost = self.round_rate * t
        swung = self.round_swing * (np.sin(mean) - np.sin(self.anomaly))
        lost = lost + np.where(self.simple, 0.0, swung)
        axis = self.axis * share * share
        raw = self.e - lost
        return Mean(
            axis * RADIUS_KM,
            np.maximum(raw, LEAST_ECCENTRICITY),
            node,
            argument,
            mean + self.motion * _powers(self.gain, t) * t * t,
            XKE / np.where(axis > 0.0, axis, np.nan) ** 1.5,
            moved,
            ~((raw >= _LEAST_RAW) & (raw < 1.0) & (axis >= _LEAST_AXIS)),
        )


def _powers(coefficients: list[Floats], t: Floats) -> Floats:
    total = coefficients[-1]
    for coefficient in coefficients[-2::-1]:
        total = total * t + coefficient
    return total
