"""Many element sets as columns, and one of them as a record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
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
#: SGP4 counts days from 1949-12-31T00:00 UTC, this Julian date.
SGP4_EPOCH_JD = 2433281.5
#: The largest number that five characters of a two-line set can hold (Z9999).
LAST_ALPHA5 = 339_999
_UNIX_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
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
    takes them (rad/min², rad/min³); ``bstar`` is in inverse Earth radii.  The
    designator is the international one in its long form, such as ``1998-067A``.
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
        """The epoch as an aware UTC datetime, to the microsecond."""
        whole = timedelta(days=self.epoch_jd - UNIX_EPOCH_JD)
        return _UNIX_EPOCH + whole + timedelta(days=self.epoch_fraction)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catalogue(Sequence[ElementSet]):
    """Element sets as columns, one row an object; arrays are ``(n,)``, read-only.

    ``satrecs`` holds SGP4 records where the reader has already made them; the others
    are made on demand (:meth:`satrec`).  ``details`` are what only publishing needs,
    one (set number, revolution at the epoch, classification) an object, or nothing:
    records made of two-line text carry their own.  ``late_s`` is a measured lateness:
    the object is where its elements put it that many seconds earlier.  ``growth``
    holds one record an object, or nothing.  ``ephemerides`` holds, by row, what gives
    the places of objects that do not (only) take theirs from elements: see
    ``passes.orbits.Ephemeris``.  ValueError where lengths differ.
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
    details: tuple[tuple[int, int, str], ...] = ()
    ephemerides: Mapping[int, Any] | None = None

    def __post_init__(self) -> None:
        n = len(self.name)
        self._hold("catalog_number", np.int64)
        for column in ELEMENT_COLUMNS:
            self._hold(column, np.float64)
        if self.late_s is not None:
            self._hold("late_s", np.float64)
        for words in ("name", "designator", "origin", "growth", "skipped", "details"):
            object.__setattr__(self, words, tuple(getattr(self, words)))
        object.__setattr__(self, "satrecs", list(self.satrecs) or [None] * n)
        object.__setattr__(self, "origin", self.origin or ("",) * n)
        for words in ("designator", "origin", "satrecs", "growth", "details"):
            may_be_empty = words in ("growth", "details")
            if len(held := getattr(self, words)) != n and (held or not may_be_empty):
                raise ValueError(f"Catalogue.{words}: {len(held)} entries, want {n}")

    def _hold(self, column: str, dtype: type) -> None:
        array: NDArray[Any] = np.array(getattr(self, column), dtype=dtype)
        if array.shape != (len(self.name),):
            want = f"({len(self.name)},)"
            raise ValueError(f"Catalogue.{column}: shape {array.shape}, want {want}")
        array.setflags(write=False)
        object.__setattr__(self, column, array)

    def __len__(self) -> int:
        return len(self.name)

    @overload
    def __getitem__(self, item: int) -> ElementSet: ...
    @overload
    def __getitem__(self, item: slice) -> Catalogue: ...
    def __getitem__(self, item: int | slice) -> ElementSet | Catalogue:
        if isinstance(item, slice):
            return self.take(np.arange(len(self))[item])
        return ElementSet(
            catalog_number=int(self.catalog_number[item]),
            name=self.name[item],
            designator=self.designator[item],
            origin=self.origin[item],
            **{c: float(getattr(self, c)[item]) for c in ELEMENT_COLUMNS},
        )

    def __iter__(self) -> Iterator[ElementSet]:
        return (self[i] for i in range(len(self)))

    def satrec(self, row: int) -> Any:
        """The SGP4 record of one row, made once and kept."""
        if self.satrecs[row] is None:
            values = [float(getattr(self, column)[row]) for column in ELEMENT_COLUMNS]
            self.satrecs[row] = _satrec(int(self.catalog_number[row]), *values)
        return self.satrecs[row]

    def epoch_s(self, since: datetime) -> Floats:
        """Epochs in seconds from an aware time, ``(n,)``, exact to a microsecond."""
        elapsed = since - _UNIX_EPOCH
        whole_days = (self.epoch_jd - UNIX_EPOCH_JD) - elapsed.days
        within_day_s = elapsed.seconds + elapsed.microseconds * 1e-6
        return (whole_days + self.epoch_fraction) * SECONDS_PER_DAY - within_day_s

    def take(self, rows: ArrayLike) -> Catalogue:
        """The catalogue of some rows (indices or a mask), in that order."""
        chosen = self._indices(np.asarray(rows))
        some = chosen.tolist()
        numbers = ("catalog_number", *ELEMENT_COLUMNS)
        return replace(
            self,
            **{column: getattr(self, column)[chosen] for column in numbers},
            name=tuple(self.name[i] for i in some),
            designator=tuple(self.designator[i] for i in some),
            origin=tuple(self.origin[i] for i in some),
            late_s=None if self.late_s is None else self.late_s[chosen],
            growth=tuple(self.growth[i] for i in some) if self.growth else (),
            satrecs=[self.satrecs[i] for i in some],
            details=tuple(self.details[i] for i in some) if self.details else (),
            ephemerides=self._ephemerides_of(some),
        )

    def _ephemerides_of(self, rows: list[int]) -> Mapping[int, Any] | None:
        """The ephemerides of some rows, by their new places."""
        held = self.ephemerides
        if held is None:
            return None
        return {new: held[old] for new, old in enumerate(rows) if old in held}

    def _indices(self, rows: NDArray[Any]) -> Ints:
        if rows.dtype == bool:
            if rows.shape != (len(self),):
                raise ValueError(f"a mask {rows.shape} for {len(self)} element sets")
            return np.flatnonzero(rows)
        if rows.ndim != 1 or (rows.size and rows.dtype.kind not in "iu"):
            raise ValueError(
                f"rows must be indices (k,), got {rows.dtype} {rows.shape}"
            )
        return rows.astype(np.int64)


def as_catalogue(sets: Iterable[ElementSet]) -> Catalogue:
    """A catalogue of these element sets; a catalogue is given back as it is."""
    if isinstance(sets, Catalogue):
        return sets
    rows = list(sets)
    columns: dict[str, Any] = {
        column: np.array([getattr(row, column) for row in rows])
        for column in ("catalog_number", *ELEMENT_COLUMNS)
    }
    for words in ("name", "designator", "origin"):
        columns[words] = tuple(getattr(row, words) for row in rows)
    return Catalogue(**columns)


def make_satrec(element_set: ElementSet) -> Any:
    """Build the SGP4 record (WGS 72, improved mode) of one element set.

    Numbers beyond :data:`LAST_ALPHA5` do not fit SGP4's record, which then carries
    that number instead; the element set keeps the true one.
    """
    values = [getattr(element_set, column) for column in ELEMENT_COLUMNS]
    return _satrec(element_set.catalog_number, *values)


def _satrec(
    number: int,
    epoch_jd: float,
    epoch_fraction: float,
    inclination_rad: float,
    raan_rad: float,
    eccentricity: float,
    argument_rad: float,
    mean_anomaly_rad: float,
    mean_motion_rad_min: float,
    bstar: float,
    ndot: float,
    nddot: float,
) -> Any:
    from sgp4.api import WGS72, Satrec

    satrec = Satrec()
    satrec.sgp4init(
        WGS72,
        "i",
        min(number, LAST_ALPHA5),
        # added in this order because the parser of two-line text does so too: the
        # last bit decides 2e-8 km for deep-space objects
        (epoch_jd + epoch_fraction) - SGP4_EPOCH_JD,
        bstar,
        ndot,
        nddot,
        eccentricity,
        argument_rad,
        inclination_rad,
        mean_anomaly_rad,
        mean_motion_rad_min,
        raan_rad,
    )
    # the sum above keeps 40 µs of an epoch; the two parts keep all of it
    satrec.jdsatepoch = epoch_jd
    satrec.jdsatepochF = epoch_fraction
    return satrec
