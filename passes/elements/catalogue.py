"""Many element sets as columns, and one of them as a record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import SECONDS_PER_DAY
from passes.model import Growth

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Julian date of 1970-01-01T00:00 UTC.
UNIX_EPOCH_JD = 2440587.5
#: The columns of a catalogue that hold one float an object, in SGP4's own units.
ELEMENT_COLUMNS = (
    "epoch_jd",
    "epoch_fraction",
    "inclination_rad",
    "raan_rad",
    "eccentricity",
    "argument_rad",
    "mean_anomaly_rad",
    "mean_motion_rad_min",
    "bstar",
    "ndot",
    "nddot",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """An object or record that was left out, where it stood and why."""

    catalog_number: int | None
    name: str
    reason: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementSet:
    """One SGP4 mean element set; angles in radians, mean motion in rad/min (Kozai).

    The epoch is a UTC Julian date in two parts; ``ndot`` and ``nddot`` are as SGP4
    takes them (rad/min², rad/min³); ``bstar`` is in inverse Earth radii.
    """

    catalog_number: int
    name: str = ""
    designator: str = ""
    epoch_jd: float
    epoch_fraction: float
    inclination_rad: float
    raan_rad: float
    eccentricity: float
    argument_rad: float
    mean_anomaly_rad: float
    mean_motion_rad_min: float
    bstar: float
    ndot: float = 0.0
    nddot: float = 0.0
    origin: str = ""

    @property
    def epoch(self) -> datetime:
        """The epoch as an aware UTC datetime."""
        days = (self.epoch_jd - UNIX_EPOCH_JD) + self.epoch_fraction
        return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=days)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catalogue(Sequence[ElementSet]):
    """Element sets as columns, one row an object; arrays are ``(n,)``, read-only.

    ``satrecs`` holds SGP4 records where the reader has already made them; the others
    are made on demand (:meth:`satrec`).  ``late_s`` is a measured lateness: the
    object is where its elements put it that many seconds earlier.  ``growth`` holds
    one record an object, or nothing.
    """

    catalog_number: Ints
    name: tuple[str, ...]
    designator: tuple[str, ...]
    epoch_jd: Floats
    epoch_fraction: Floats
    inclination_rad: Floats
    raan_rad: Floats
    eccentricity: Floats
    argument_rad: Floats
    mean_anomaly_rad: Floats
    mean_motion_rad_min: Floats
    bstar: Floats
    ndot: Floats
    nddot: Floats
    origin: tuple[str, ...] = ()
    late_s: Floats | None = None
    growth: tuple[Growth, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    satrecs: list[Any] = field(default_factory=list)

    def __post_init__(self) -> None:
        n = len(self.name)
        number = np.array(self.catalog_number, dtype=np.int64)
        number.setflags(write=False)
        object.__setattr__(self, "catalog_number", number)
        for column in ELEMENT_COLUMNS:
            array = np.array(getattr(self, column), dtype=np.float64)
            array.setflags(write=False)
            object.__setattr__(self, column, array)
            if array.shape != (n,):
                raise ValueError(f"Catalogue.{column}: shape {array.shape}, want ({n},)")
        if not self.satrecs:
            object.__setattr__(self, "satrecs", [None] * n)
        if not self.origin:
            object.__setattr__(self, "origin", ("",) * n)

    def __len__(self) -> int:
        return len(self.name)

    @overload
    def __getitem__(self, item: int) -> ElementSet: ...
    @overload
    def __getitem__(self, item: slice) -> Catalogue: ...
    def __getitem__(self, item: int | slice) -> ElementSet | Catalogue:
        if isinstance(item, slice):
            return self.take(np.arange(len(self))[item])
        values = {column: float(getattr(self, column)[item]) for column in ELEMENT_COLUMNS}
        return ElementSet(
            catalog_number=int(self.catalog_number[item]),
            name=self.name[item],
            designator=self.designator[item],
            origin=self.origin[item],
            **values,
        )

    def __iter__(self) -> Iterator[ElementSet]:
        return (self[i] for i in range(len(self)))

    def satrec(self, row: int) -> Any:
        """The SGP4 record of one row, made once and kept."""
        if self.satrecs[row] is None:
            self.satrecs[row] = make_satrec(self[row])
        return self.satrecs[row]

    def epoch_s(self, since: datetime) -> Floats:
        """Epochs in seconds from an aware time, ``(n,)``."""
        unix = since.timestamp()
        days = (self.epoch_jd - UNIX_EPOCH_JD) - unix // SECONDS_PER_DAY + self.epoch_fraction
        return np.asarray(days * SECONDS_PER_DAY - unix % SECONDS_PER_DAY)

    def take(self, rows: ArrayLike) -> Catalogue:
        """The catalogue of some rows (indices or a mask), in that order."""
        rows = np.asarray(rows)
        chosen = np.flatnonzero(rows) if rows.dtype == bool else rows.astype(np.int64)
        some = chosen.tolist()
        arrays = {c: getattr(self, c)[chosen] for c in ("catalog_number", *ELEMENT_COLUMNS)}
        return replace(
            self,
            **arrays,
            name=tuple(self.name[i] for i in some),
            designator=tuple(self.designator[i] for i in some),
            origin=tuple(self.origin[i] for i in some),
            late_s=None if self.late_s is None else self.late_s[chosen],
            growth=tuple(self.growth[i] for i in some) if self.growth else (),
            satrecs=[self.satrecs[i] for i in some],
        )


def make_satrec(element_set: ElementSet) -> Any:
    """Build the SGP4 record (WGS 72, improved mode) of one element set."""
    from sgp4.api import WGS72, Satrec

    satrec = Satrec()
    epoch = (element_set.epoch_jd - 2433281.5) + element_set.epoch_fraction
    satrec.sgp4init(
        WGS72,
        "i",
        min(element_set.catalog_number, 339999),
        epoch,
        element_set.bstar,
        element_set.ndot,
        element_set.nddot,
        element_set.eccentricity,
        element_set.argument_rad,
        element_set.inclination_rad,
        element_set.mean_anomaly_rad,
        element_set.mean_motion_rad_min,
        element_set.raan_rad,
    )
    return satrec
