"""What keeps a frozen record frozen when it holds arrays or mappings."""

from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any, TypeAlias

from passes.errors import InputError

Value: TypeAlias = "str | float | int | bool | None"


def hold_arrays(record: Any, **dtypes: str) -> None:
    """Make the named arrays of a frozen record read-only and of one shape ``(n,)``.

    ``None`` is left alone.  Raises ValueError where shapes differ.
    """
    import numpy as np  # the records are used by code that must start fast

    shapes = {}
    for name, dtype in dtypes.items():
        value = getattr(record, name)
        if value is None:
            continue
        array = np.array(value, dtype=dtype)
        array.setflags(write=False)
        object.__setattr__(record, name, array)
        shapes[name] = array.shape
    if len(set(shapes.values())) > 1 or any(len(s) != 1 for s in shapes.values()):
        raise ValueError(f"{type(record).__name__}: want one shape (n,), got {shapes}")


def hold_vectors(record: Any, count: int, *names: str) -> None:
    """Make named arrays of vectors read-only, ``(count, 3)``; None is left alone."""
    import numpy as np  # the records are used by code that must start fast

    for name in names:
        value = getattr(record, name)
        if value is None:
            continue
        array = np.array(value, dtype="float64")
        if array.shape != (count, 3):
            where = f"{type(record).__name__}.{name}"
            raise ValueError(f"{where}: shape {array.shape}, want ({count}, 3)")
        array.setflags(write=False)
        object.__setattr__(record, name, array)


def hold_mapping(record: Any, *names: str) -> None:
    """Replace the named mappings of a frozen record by read-only copies."""
    for name in names:
        value: Mapping[Any, Any] = getattr(record, name)
        object.__setattr__(record, name, MappingProxyType(dict(value)))


def hold_tuples(record: Any, *names: str) -> None:
    """Replace the named sequences of a frozen record by tuples."""
    for name in names:
        object.__setattr__(record, name, tuple(getattr(record, name)))


def utc(time: datetime, what: str) -> datetime:
    """Return the aware time in UTC; refuse one without a zone."""
    if time.tzinfo is None:
        raise InputError(f"{what}: the time {time.isoformat()} has no zone; add Z")
    return time.astimezone(UTC)


def hold_times(record: Any, *names: str) -> None:
    """Turn the named times of a frozen record into UTC; ``None`` is left alone."""
    for name in names:
        value = getattr(record, name)
        if value is not None:
            object.__setattr__(
                record, name, utc(value, f"{type(record).__name__}.{name}")
            )


def within(value: float, low: float, high: float, what: str, unit: str) -> None:
    """Refuse a number that is not finite or lies outside ``low`` to ``high``."""
    if not low <= value <= high:
        raise InputError(f"{what} {value:g}{unit} is impossible ({low:g} to {high:g})")
