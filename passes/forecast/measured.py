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

#: Pairs of one class from which its scale is measured at most.
SAMPLE = 500
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
    drag = drag_of(catalogue)
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


def drag_of(catalogue: Catalogue) -> Floats:
    """How strongly drag works on every row, ``(n,)`` s per day²."""
    return growth.drag_s_day2(
        catalogue.mean_motion_rad_min,
        catalogue.eccentricity,
        catalogue.inclination_rad,
        catalogue.bstar,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Compared:
    """Pairs of sets held against each other, ``(k,)`` each."""

    number: Ints
    code: Ints
    off_s: Floats
    sigma_s: Floats
    bound_s: Floats
    steered: Bools


class Measured:
    """Older and newer sets of the same objects, row by row, compared when needed.

    ``sigma_by`` and ``bound_by`` say by what the laws of each class are to be
    multiplied, ``class_pairs`` from how many pairs that is known, ``(classes,)`` in
    the order of :data:`passes.growth.CLASSES`: from a sample, the same every time, of
    :data:`SAMPLE` pairs a class.
    """

    def __init__(self, older: Catalogue, newer: Catalogue) -> None:
        self._older, self._newer = older, newer
        self._laws = class_laws(older)
        self._code = codes_of(self._laws.named)
        sample = self._compare(self._sample())
        self.sigma_by, self.bound_by, self.class_pairs = history.class_scales(
            sample.code,
            sample.off_s,
            sample.sigma_s,
            sample.bound_s,
            len(growth.CLASSES),
        )

    def _sample(self) -> Ints:
        """Rows of some pairs of every class, scattered over the numbers."""
        scattered = self._older.catalog_number * 2654435761 % 2**32
        order = np.lexsort((scattered, self._code))
        code = self._code[order]
        first = np.searchsorted(code, code)
        return np.sort(order[np.arange(code.size) - first < SAMPLE])

    def _compare(self, rows: Ints) -> _Compared:
        older, newer = self._older.take(rows), self._newer.take(rows)
        pairs = pairs_between(older, newer)
        at = rows[pairs.row]
        promised = columns_at(self._laws.columns, at)
        sigma_s, bound_s, _ = growth.errors(promised, pairs.age_days)
        steered = history.steered(
            self._laws.motion_rev_day[at],
            newer.mean_motion_rad_min[pairs.row] * _REVOLUTIONS_A_DAY,
            self._laws.drag_s_day2[at],
            drag_of(newer)[pairs.row],
            pairs.age_days,
        )
        number = self._older.catalog_number[at]
        off_s = np.abs(pairs.late_s)
        return _Compared(number, self._code[at], off_s, sigma_s, bound_s, steered)

    def of(self, number: Ints, code: Ints) -> tuple[Floats, Ints, Bools]:
        """What multiplies the class laws of objects, beyond the scale of the class.

        ``number`` and ``code`` ``(n,)`` are catalogue numbers and classes.  Gives the
        scales, how many sets each has, and whether its sets show it steering.
        """
        if not number.size:
            return np.ones(0), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.bool_)
        seen = self._compare(
            np.flatnonzero(np.isin(self._older.catalog_number, number))
        )
        order = np.argsort(number)
        owner = order[np.searchsorted(number, seen.number, sorter=order)]
        pairs = np.bincount(owner, minlength=number.size)
        sets = np.where(pairs > 0, pairs + 1, 0)
        usual = np.array([growth.load().usual[name] for name in growth.CLASSES])
        promised = seen.sigma_s * self.sigma_by[seen.code]
        scale = history.own_scales(owner, seen.off_s, promised, usual[code], sets)
        jumps = np.bincount(owner, seen.steered, minlength=number.size)
        return scale, sets, jumps > 0


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
