"""Rough elements of an orbit from one state: what is needed to classify it."""

from __future__ import annotations

from math import acos, atan2, cos, hypot, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_MU_KM3_S2

Floats = NDArray[np.float64]


def osculating(position_km: Floats, velocity_km_s: Floats) -> dict[str, float]:
    """Two-body elements of a state ``(3,)``, ``(3,)``; radians, mean motion rad/min.

    Keyed as the columns of a catalogue.  They are not SGP4's mean elements: good for
    the kind of orbit, not for places.  Raises ValueError for an open orbit.
    """
    distance = float(np.linalg.norm(position_km))
    square = float(velocity_km_s @ velocity_km_s)
    axis = 1.0 / (2.0 / distance - square / EARTH_MU_KM3_S2)
    if not 0.0 < axis < np.inf:
        raise ValueError("the orbit does not close")
    momentum = np.cross(position_km, velocity_km_s)
    pole = momentum / np.linalg.norm(momentum)
    inclination = acos(max(-1.0, min(1.0, float(pole[2]))))
    node = atan2(pole[0], -pole[1]) if hypot(pole[0], pole[1]) > 1e-9 else 0.0
    towards = np.array([cos(node), sin(node), 0.0])
    across = np.cross(pole, towards)
    shape = np.cross(velocity_km_s, momentum) / EARTH_MU_KM3_S2
    shape = shape - position_km / distance
    eccentricity = float(np.linalg.norm(shape))
    argument = atan2(float(shape @ across), float(shape @ towards))
    place = atan2(float(position_km @ across), float(position_km @ towards))
    return {
        "inclination_rad": inclination,
        "raan_rad": node % (2 * pi),
        "eccentricity": eccentricity,
        "argument_rad": argument % (2 * pi),
        "mean_anomaly_rad": _mean_anomaly(place - argument, eccentricity),
        "mean_motion_rad_min": 60.0 * sqrt(EARTH_MU_KM3_S2 / axis**3),
    }


def _mean_anomaly(true: float, eccentricity: float) -> float:
    root = sqrt(1.0 - eccentricity**2)
    eccentric = atan2(root * sin(true), eccentricity + cos(true))
    return (eccentric - eccentricity * sin(eccentric)) % (2 * pi)
