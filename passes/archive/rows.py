"""Between columns and the rows of the archive.

Each set is one packed record of 100 bytes, so that thousands of them come back as one
array: the eleven elements as they are handed to SGP4 (float64), the number of the set
and the revolution at the epoch (int32), the classification (one letter) and three
spare bytes; all little-endian.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.elements import ELEMENT_COLUMNS, Catalogue, details_of
from passes.elements.catalogue import UNIX_EPOCH_JD, Ints

PACKED = np.dtype(
    [
        *((column, "<f8") for column in ELEMENT_COLUMNS),
        ("set_number", "<i4"),
        ("revolution", "<i4"),
        ("classification", "S1"),
        ("spare", "S3"),
    ]
)
_US_PER_DAY = 86_400_000_000
_UNIX_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def epochs_us(catalogue: Catalogue) -> Ints:
    """Epochs in whole microseconds since 1970 ``(n,)``: what tells sets apart.

    The same set published as two lines and as a message has the same.
    """
    days = catalogue.epoch_jd - UNIX_EPOCH_JD
    whole = np.floor(days)
    within = (days - whole) + catalogue.epoch_fraction
    return np.asarray(
        whole.astype(np.int64) * _US_PER_DAY
        + np.rint(within * _US_PER_DAY).astype(np.int64)
    )


def pack(catalogue: Catalogue) -> list[bytes]:
    """Every row as its record."""
    packed: NDArray[Any] = np.zeros(len(catalogue), dtype=PACKED)
    for column in ELEMENT_COLUMNS:
        packed[column] = getattr(catalogue, column)
    details = details_of(catalogue)
    packed["set_number"] = [one[0] for one in details]
    packed["revolution"] = [one[1] for one in details]
    packed["classification"] = [one[2].encode("ascii", "replace") for one in details]
    data, size = packed.tobytes(), PACKED.itemsize
    return [data[i : i + size] for i in range(0, len(data), size)]


def unpack(
    numbers: ArrayLike,
    packed: Sequence[bytes],
    names: Sequence[str],
    designators: Sequence[str],
    origins: Sequence[str],
    *,
    publishing: bool = False,
) -> Catalogue:
    """The catalogue of some rows; with what publishing needs only if asked."""
    table = np.frombuffer(b"".join(packed), dtype=PACKED)
    details: list[tuple[int, int, str]] = []
    if publishing:
        words = table[["set_number", "revolution", "classification"]].tolist()
        details = [(s, r, c.decode("ascii") or "U") for s, r, c in words]
    columns: dict[str, Any] = {column: table[column] for column in ELEMENT_COLUMNS}
    return Catalogue(
        catalog_number=np.asarray(numbers, dtype=np.int64),
        name=tuple(names),
        designator=tuple(designators),
        origin=tuple(origins),
        details=tuple(details),
        **columns,
    )


def to_us(moment: datetime) -> int:
    """An aware time in microseconds since 1970."""
    return (moment - _UNIX_EPOCH) // timedelta(microseconds=1)


def from_us(microseconds: int) -> datetime:
    """Microseconds since 1970 as an aware UTC time."""
    return _UNIX_EPOCH + timedelta(microseconds=microseconds)


@contextmanager
def without_collecting() -> Iterator[None]:
    """Handle many rows without a look for garbage, which takes half the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
