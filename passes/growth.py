"""How the error of a prediction grows with the age of its elements.

Along its path an object is early or late by a time whose sigma (68.3 % of |error|)
and 95 % bound are ``hypot(c0, c1 · age ** power)``; across its path it is off by
``hypot(c0, c1 · age)`` km.  This module evaluates the laws and holds the values for
whole classes of orbit, for objects of whose own history nothing is known.

The class values come from a comparison of successive public element sets: 12,700
payloads, September 2025, each older set carried to the epoch of a newer one, 75,000
pairs 0.3 to 8 days apart.  The truth there is another element set, so they are a
lower bound; the terms at age 0 are therefore taken from the errors at epoch that
Flohrer, Krag & Klinkrad 2008 (AMOS) published by regime, and for the lowest orbits
from the 0.1 to 0.4 s that a station was off its operator's ephemeris within a day.
"""

from dataclasses import astuple, dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

#: A mean motion from which drag rules (about 500 km up), revolutions a day.
LOWEST_REV_DAY = 15.2
#: Below this mean motion an orbit is no longer low (about 2,100 km).
LOW_REV_DAY = 11.0
ECCENTRIC = 0.1


def timing_s(
    age_days: ArrayLike, c0: ArrayLike, c1: ArrayLike, power: ArrayLike
) -> Floats:
    """Time by which an object may be early or late, ``(...)`` s; all broadcast.

    Sigma or bound, as the coefficients are; an age before the epoch counts like one
    after it.
    """
    age = np.abs(np.asarray(age_days, dtype=np.float64))
    grown = np.asarray(c1, dtype=np.float64) * age ** np.asarray(power)
    return np.asarray(np.hypot(np.asarray(c0, dtype=np.float64), grown))


def cross_km(age_days: ArrayLike, c0: ArrayLike, c1: ArrayLike) -> Floats:
    """Distance by which an object may be off its path sideways, ``(...)`` km."""
    return timing_s(age_days, c0, c1, 1.0)


@dataclass(frozen=True, slots=True)
class _Class:
    """Coefficients of one class: seconds at age 0 and a day, kilometres likewise."""

    sigma0_s: float
    sigma1_s: float
    bound0_s: float
    bound1_s: float
    power: float
    cross0_km: float
    cross1_km: float
    manoeuvres: bool = False


_FIELDS = tuple(_Class.__dataclass_fields__)
#: Fitted by eye to the 68.3 and 95 percentiles of the comparison, within a third of
#: them (the few eccentric orbits within a factor of two).  Terms at age 0: along the
#: track 471 m, 131 m, 432 m and 1367 m, across it 126, 54, 86 and 1059 m for low,
#: medium, geostationary and eccentric orbits; their bound is twice the sigma.
_CLASSES = {
    "constellation": _Class(0.06, 0.42, 0.12, 2.4, 1.2, 0.126, 0.15, True),
    "lowest constellation": _Class(0.06, 1.9, 0.12, 17.0, 2.0, 0.126, 0.23, True),
    "low": _Class(0.06, 0.05, 0.3, 0.3, 2.0, 0.126, 0.04),
    "lowest": _Class(0.25, 0.2, 0.5, 1.4, 2.2, 0.126, 0.025),
    "geostationary": _Class(0.14, 0.48, 0.28, 2.4, 1.4, 0.086, 0.95, True),
    "medium": _Class(0.034, 0.045, 0.07, 0.12, 1.0, 0.054, 0.03),
    "eccentric": _Class(0.5, 2.2, 1.0, 40.0, 1.0, 1.059, 0.1),
}
CLASSES = tuple(_CLASSES)


def orbit_class(
    object_class: ArrayLike,
    mean_motion_rev_day: ArrayLike,
    eccentricity: ArrayLike,
    constellation: ArrayLike | None = None,
) -> NDArray[np.str_]:
    """The class of error of each object, ``(n,)`` of :data:`CLASSES`.

    ``object_class`` holds the words of the objects' classes.  ``constellation`` says
    who belongs to one, which matters most: such craft manoeuvre all the time.  Where
    nobody says, a payload in low orbit is taken for one (four in five are).
    """
    motion = np.asarray(mean_motion_rev_day, dtype=np.float64)
    if constellation is None:
        constellation = np.asarray(object_class) == "payload"
    many = np.asarray(constellation, dtype=bool)
    low = np.where(many, "constellation", "low")
    lowest = np.where(many, "lowest constellation", "lowest")
    named = np.where(motion >= LOWEST_REV_DAY, lowest, low)
    named = np.where(motion < LOW_REV_DAY, "medium", named)
    named = np.where((motion > 0.9) & (motion < 1.1), "geostationary", named)
    eccentric = np.asarray(eccentricity, dtype=np.float64) >= ECCENTRIC
    return np.where(eccentric, "eccentric", named)


def class_coefficients(
    object_class: ArrayLike,
    mean_motion_rev_day: ArrayLike,
    eccentricity: ArrayLike,
    constellation: ArrayLike | None = None,
) -> dict[str, Floats]:
    """Coefficients of each object's class, arrays ``(n,)`` by field of a growth record.

    The fields are ``sigma0_s``, ``sigma1_s``, ``bound0_s``, ``bound1_s``, ``power``,
    ``cross0_km``, ``cross1_km`` and ``manoeuvres`` (0 or 1); arguments as for
    :func:`orbit_class`.
    """
    names = orbit_class(object_class, mean_motion_rev_day, eccentricity, constellation)
    known = np.array(CLASSES)
    order = np.argsort(known)
    index = order[np.searchsorted(known, names, sorter=order)]
    table = np.array([astuple(one) for one in _CLASSES.values()], dtype=np.float64)
    return {field: table[index, i] for i, field in enumerate(_FIELDS)}
