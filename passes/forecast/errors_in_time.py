"""How wrong a predicted time may be: sigma, bound and cross-track error by age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import growth
from passes.elements import Catalogue
from passes.forecast.lateness import narrowed
from passes.forecast.measured import Measured, class_laws, codes_of, columns_at
from passes.growth import history
from passes.model import Growth

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_TIMES = ("sigma0_s", "sigma1_s", "bound0_s", "bound1_s")


@dataclass(frozen=True, slots=True, eq=False)
class Uncertainty:
    """Sigma and 95 % bound of time, sigma across the track; ``(k,)`` each."""

    timing_sigma_s: Floats
    timing_bound_s: Floats
    cross_track_sigma_km: Floats


class GrowthColumns:
    """Growth coefficients of every row of a catalogue, as arrays ``(n,)``.

    The catalogue's own records are taken where it has them, else the classes; then
    what was ``measured`` on successive sets moves classes and single objects.
    ``basis`` holds the word of a growth record, ``by_class`` is set where an object
    borrows from a class it was never measured in.
    """

    def __init__(self, catalogue: Catalogue, measured: Measured | None = None) -> None:
        if catalogue.growth:
            self._take(catalogue.growth)
        else:
            self._of_classes(catalogue)
            if measured is not None:
                self._rescale(catalogue, measured)
        self.by_class: Bools = self.basis == "class_sigma"

    def _take(self, records: tuple[Growth, ...]) -> None:
        self.columns = {
            name: np.array([getattr(one, name) for one in records])
            for name in growth.FIELDS
        }
        self.basis = np.array([one.basis for one in records])
        self.manoeuvres: Bools = np.array([one.manoeuvres for one in records])

    def _of_classes(self, catalogue: Catalogue) -> None:
        laws = class_laws(catalogue)
        self._named = laws.named
        self.columns = {name: laws.columns[name] for name in growth.FIELDS}
        self.manoeuvres = laws.columns["manoeuvres"] > 0.0
        words = np.where(laws.borrowed, "class_sigma", "class_fitted")
        self.basis = words.astype("U16")

    def _rescale(self, catalogue: Catalogue, measured: Measured) -> None:
        """Move classes and objects towards what their own sets were off by."""
        code = codes_of(self._named)
        own, sets, steers = measured.of(catalogue.catalog_number, code)
        sigma_by, bound_by = measured.sigma_by[code], measured.bound_by[code]
        scales = (sigma_by * own, sigma_by * own, bound_by * own, bound_by * own)
        for name, by in zip(_TIMES, scales, strict=True):
            # at age 0 nothing was measured: that term is never lowered
            factor = np.maximum(by, 1.0) if name.endswith("0_s") else by
            self.columns[name] = self.columns[name] * factor
        self.manoeuvres = self.manoeuvres | steers
        self.basis[sets >= history.LEAST_SETS] = "own_history"

    def at(self, rows: Ints, age_days: Floats) -> Uncertainty:
        """Errors of some rows at ages in days (either side of the epoch)."""
        return Uncertainty(*growth.errors(columns_at(self.columns, rows), age_days))

    def record(self, row: int) -> Growth:
        """One row's growth as a record."""
        values = {name: float(self.columns[name][row]) for name in growth.FIELDS}
        return Growth(
            basis=str(self.basis[row]),  # type: ignore[arg-type]
            manoeuvres=bool(self.manoeuvres[row]),
            **values,
        )


def growth_of(catalogue: Catalogue, measured: Measured | None = None) -> GrowthColumns:
    """How the errors of a catalogue's objects grow.

    By its own records, else by class, re-scaled by what is measured of classes and
    objects; less where a lateness was measured on an earlier pass.
    """
    return narrowed(GrowthColumns(catalogue, measured), catalogue)
