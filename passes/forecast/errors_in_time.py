"""How wrong a predicted time may be: sigma, bound and cross-track error by age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import growth
from passes.elements import Catalogue
from passes.model import Growth
from passes.objects import object_class

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: The fields of a growth record that hold coefficients.
_COEFFICIENTS = (
    "sigma0_s",
    "sigma1_s",
    "bound0_s",
    "bound1_s",
    "power",
    "cross0_km",
    "cross1_km",
)


@dataclass(frozen=True, slots=True, eq=False)
class Uncertainty:
    """Sigma and 95 % bound of time, sigma across the track; ``(k,)`` each."""

    timing_sigma_s: Floats
    timing_bound_s: Floats
    cross_track_sigma_km: Floats


class GrowthColumns:
    """Growth coefficients of every row of a catalogue, as arrays ``(n,)``."""

    def __init__(self, catalogue: Catalogue, classes: tuple[str, ...]) -> None:
        if catalogue.growth:
            self.columns = {
                name: np.array([getattr(one, name) for one in catalogue.growth])
                for name in _COEFFICIENTS
            }
            basis = [one.basis for one in catalogue.growth]
            self.by_class = np.array([b == "class_sigma" for b in basis], dtype=bool)
            self.manoeuvres = np.array([one.manoeuvres for one in catalogue.growth])
            return
        self.columns = growth.class_coefficients(
            np.array(classes),
            catalogue.mean_motion_rad_min * (1440.0 / (2 * np.pi)),
            catalogue.eccentricity,
        )
        self.by_class = np.ones(len(catalogue), dtype=bool)
        self.manoeuvres = np.zeros(len(catalogue), dtype=bool)

    def at(self, rows: NDArray[np.int64], age_days: Floats) -> Uncertainty:
        """Errors of some rows at ages in days (either side of the epoch)."""
        c = {name: self.columns[name][rows] for name in _COEFFICIENTS}
        age = np.abs(age_days)
        return Uncertainty(
            growth.timing_s(age, c["sigma0_s"], c["sigma1_s"], c["power"]),
            growth.timing_s(age, c["bound0_s"], c["bound1_s"], c["power"]),
            growth.cross_km(age, c["cross0_km"], c["cross1_km"]),
        )

    def record(self, row: int) -> Growth:
        """One row's growth as a record."""
        values = {name: float(self.columns[name][row]) for name in _COEFFICIENTS}
        basis = "class_sigma" if self.by_class[row] else "class_fitted"
        return Growth(
            basis=basis,  # type: ignore[arg-type]
            manoeuvres=bool(self.manoeuvres[row]),
            **values,
        )


def growth_of(catalogue: Catalogue) -> GrowthColumns:
    """How the errors of a catalogue's objects grow: its own records, else by class."""
    return GrowthColumns(catalogue, object_class(catalogue.name, catalogue.designator))
