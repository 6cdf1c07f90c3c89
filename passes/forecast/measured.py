"""What successive element sets at hand say of the errors of classes and objects."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes import growth
from passes.elements import Catalogue
from passes.forecast.pairs import pairs_between, partners
from passes.growth import history
from passes.objects import object_class

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_REVOLUTIONS_A_DAY = 1440.0 / (2.0 * np.pi)
_CODES = {name: i for i, name in enumerate(growth.CLASSES)}


@dataclass(frozen=True, slots=True, eq=False)
class ClassLaws:
    """What the classes of a catalogue's objects promise; ``(n,)``, a row an object."""

    named: NDArray[np.str_]
    borrowed: Bools
    drag_s_day2: Floats
    motion_rev_day: Floats
    columns: dict[str, Floats]


def class_laws(catalogue: Catalogue) -> ClassLaws:
    """The class of every row, and what it promises."""
    kinds = np.array(object_class(catalogue.name, catalogue.designator), dtype=str)
    motion = catalogue.mean_motion_rad_min * _REVOLUTIONS_A_DAY
    tilt_deg = np.degrees(catalogue.inclination_rad)
    ours = growth.fleet_members(catalogue.name)
    drag = growth.drag_s_day2(
        catalogue.mean_motion_rad_min,
        catalogue.eccentricity,
        catalogue.inclination_rad,
        catalogue.bstar,
    )
    orbit = (kinds, motion, catalogue.eccentricity, ours)
    return ClassLaws(
        named=growth.orbit_class(*orbit, tilt_deg),
        borrowed=growth.borrows(kinds),
        drag_s_day2=drag,
        motion_rev_day=motion,
        columns=growth.class_coefficients(
            *orbit, inclination_deg=tilt_deg, drag_s_day2=drag
        ),
    )


class Measured:
    """Older and newer sets of the same objects, row by row, compared once.

    ``sigma_by`` and ``bound_by`` say by what the laws of each class are to be
    multiplied, ``class_pairs`` from how many pairs that is known, ``(classes,)`` in
    the order of :data:`passes.growth.CLASSES`.
    """

    def __init__(self, older: Catalogue, newer: Catalogue) -> None:
        pairs = pairs_between(older, newer)
        then, since = class_laws(older), class_laws(newer)
        self._code = codes_of(then.named)[pairs.row]
        self._number = older.catalog_number[pairs.row]
        self._off_s = np.abs(pairs.late_s)
        promised = columns_at(then.columns, pairs.row)
        self._sigma_s, bound_s, _ = growth.errors(promised, pairs.age_days)
        self.sigma_by, self.bound_by, self.class_pairs = history.class_scales(
            self._code, self._off_s, self._sigma_s, bound_s, len(growth.CLASSES)
        )
        self._steered = history.steered(
            then.motion_rev_day[pairs.row],
            since.motion_rev_day[pairs.truth],
            then.drag_s_day2[pairs.row],
            since.drag_s_day2[pairs.truth],
            pairs.age_days,
        )

    def of(self, number: Ints, code: Ints) -> tuple[Floats, Ints, Bools]:
        """What multiplies the class laws of objects, beyond the scale of the class.

        ``number`` and ``code`` ``(n,)`` are catalogue numbers and classes.  Gives the
        scales, how many sets each has, and whether its sets show it steering.
        """
        owner, mine = self._owners(number)
        pairs = np.bincount(owner[mine], minlength=number.size)
        sets = np.where(pairs > 0, pairs + 1, 0)
        usual = np.array([growth.load().usual[name] for name in growth.CLASSES])
        promised = (self._sigma_s * self.sigma_by[self._code])[mine]
        scale = history.own_scales(
            owner[mine], self._off_s[mine], promised, usual[code], sets
        )
        jumps = np.bincount(owner[mine], self._steered[mine], minlength=number.size)
        return scale, sets, jumps > 0

    def _owners(self, number: Ints) -> tuple[Ints, Bools]:
        """Which of the objects each pair belongs to, and whether to any; ``(k,)``."""
        order = np.argsort(number)
        place = np.searchsorted(number, self._number, sorter=order)
        row = order[np.minimum(place, order.size - 1)]
        return row, number[row] == self._number


def measured_in(sets: Catalogue) -> Measured | None:
    """Successive sets of the same objects in a pile of sets, None if there are none."""
    older, newer = partners(sets, furthest=1)
    return Measured(sets.take(older), sets.take(newer)) if older.size else None


def codes_of(named: NDArray[np.str_]) -> Ints:
    """Places in :data:`passes.growth.CLASSES`, ``(n,)``."""
    return np.array([_CODES[name] for name in named.tolist()], dtype=np.int64)


def columns_at(columns: dict[str, Floats], rows: Ints) -> Any:
    """Some rows of coefficients, as :func:`passes.growth.errors` wants them."""
    return SimpleNamespace(**{name: columns[name][rows] for name in growth.FIELDS})
