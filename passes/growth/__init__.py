"""How the error of a prediction grows with the age of its elements.

Along its path an object is early or late by a time whose sigma (68.3 % of |error|)
and 95 % bound are ``hypot(c0, c1 · age ** power)``; across its path it is off by
``hypot(c0, c1 · age)`` km.  Along the path drag drives the growth, across it the
inclination.  The law goes on unchanged beyond the last age measured,
eight days, and sets younger than the moment asked about and older ones count alike
(measured backwards in time the errors are no larger, in low orbits a third).

- :mod:`passes.growth.law`: the law itself, and how strongly drag drives it;
- :mod:`passes.growth.classes`: coefficients of whole classes of orbit, measured on
  successive public element sets (``passes/data/growth.json``);
- :mod:`passes.growth.history`: classes and single objects re-scaled by what their own
  successive sets were off by.
"""

from passes.growth.classes import (
    AT_EPOCH,
    CLASSES,
    FIELDS,
    LOW_REV_DAY,
    LOWEST_REV_DAY,
    Classes,
    borrows,
    class_coefficients,
    fleet_members,
    load,
    orbit_class,
)
from passes.growth.law import cross_km, drag_s_day2, errors, timing_s

__all__ = [
    "AT_EPOCH",
    "CLASSES",
    "FIELDS",
    "LOWEST_REV_DAY",
    "LOW_REV_DAY",
    "Classes",
    "borrows",
    "class_coefficients",
    "cross_km",
    "drag_s_day2",
    "errors",
    "fleet_members",
    "load",
    "orbit_class",
    "timing_s",
]
