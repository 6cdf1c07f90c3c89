"""Between a TOML table and a frozen record, both ways, by the record's own hints.

A record that gains a field is read and written here without a change: its type hints
say what a key may hold, its defaults which keys may be left out.
"""

from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date, time
from difflib import get_close_matches
from math import isfinite, isinf, isnan
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from passes import renamed
from passes.errors import ConfigError, InputError

Record = TypeVar("Record")

#: Keys that have other names by now, by the record that their table makes.
FORMER_KEYS: dict[type, dict[str, str]] = {}

#: The only keys of a site or a rig whose numbers may stand below zero.
_SIGNED = frozenset(
    {
        "latitude_deg",
        "longitude_deg",
        "height_m",
        "horizon",
        "rotation_deg",
        "offset_arcmin",
    }
)


def from_table(
    kind: type[Record], table: Mapping[str, Any], where: str, **given: Any
) -> Record:
    """Make a record of a table; ``given`` are fields that do not stand in it.

    Raises ConfigError, naming ``where`` and the key, for an unknown or a missing key,
    a value of the wrong type and one that the record itself refuses.
    """
    hints = get_type_hints(kind)
    places = {place.name: place for place in fields(kind) if place.name not in given}  # type: ignore[arg-type]
    values = dict(given)
    for key, value in _present(kind, table, where):
        if key not in places:
            raise ConfigError(f"{where}: {unknown('key', key, places)}")
        values[key] = _checked(hints[key], value, f"{where}.{key}", key in _SIGNED)
    for name, place in places.items():
        if name not in values and _default(place) is MISSING:
            raise ConfigError(f"{where}: the key {name!r} is missing")
    try:
        return kind(**values)
    except InputError as error:
        raise ConfigError(f"{where}: {error}") from error


def _present(
    kind: type, table: Mapping[str, Any], where: str
) -> Iterator[tuple[str, Any]]:
    """Keys and values of a table, former keys by their present names."""
    former = FORMER_KEYS.get(kind, {})
    for given, value in table.items():
        key = former.get(given, given)
        if key != given:
            if key in table:
                raise ConfigError(f"{where}: {given!r} and {key!r} say the same")
            renamed.warn(f"{where}.{given}", key)
        yield key, value


def to_table(record: Any, *, leave_out: tuple[str, ...] = ()) -> dict[str, Any]:
    """The TOML table of a record; what stands at its default is left out."""
    table = {}
    for place in fields(record):
        value = getattr(record, place.name)
        if place.name not in leave_out and not _same(value, _default(place)):
            table[place.name] = _plain(value)
    return table


def unknown(what: str, name: str, known: Mapping[str, Any] | tuple[str, ...]) -> str:
    """Say that a word is unknown, and which one may have been meant."""
    near = get_close_matches(name, list(known), n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
    return f"unknown {what} {name!r}; {hint}"


def _checked(hint: Any, value: Any, where: str, signed: bool) -> Any:
    """A TOML value as the type that a hint asks for."""
    if get_origin(hint) is Literal:
        if value not in get_args(hint):
            raise ConfigError(f"{where}: {unknown('word', str(value), get_args(hint))}")
        return value
    if get_origin(hint) is tuple:
        return _checked_list(get_args(hint), value, where, signed)
    if is_dataclass(hint) and isinstance(hint, type):
        if not isinstance(value, dict):
            raise ConfigError(f"{where}: want a table, not {_shown(value)}")
        return from_table(hint, value, where)
    if hint in (int, float):
        return _checked_number(hint, value, where, signed)
    if not isinstance(value, hint):
        word = {str: "text in quotes", bool: "true or false"}.get(hint, hint.__name__)
        raise ConfigError(f"{where}: want {word}, not {_shown(value)}")
    return value


def _checked_list(hints: tuple[Any, ...], value: Any, where: str, signed: bool) -> Any:
    if not isinstance(value, list):
        raise ConfigError(f"{where}: want a list, not {_shown(value)}")
    each = hints[:1] * len(value) if hints[-1] is Ellipsis else hints
    if len(value) != len(each):
        raise ConfigError(f"{where}: want {len(each)} values, not {len(value)}")
    return tuple(
        _checked(hint, one, f"{where}[{i}]", signed)
        for i, (hint, one) in enumerate(zip(each, value, strict=True))
    )


def _checked_number(hint: Any, value: Any, where: str, signed: bool) -> Any:
    whole = hint is int
    if isinstance(value, bool) or not isinstance(value, int if whole else (int, float)):
        want = "a whole number" if whole else "a number"
        raise ConfigError(f"{where}: want {want}, not {_shown(value)}")
    if not isfinite(value) and (whole or isinf(value)):
        raise ConfigError(f"{where}: want a finite number, not {value}")
    if value < 0 and not signed:
        raise ConfigError(f"{where}: {value} is impossible (below zero)")
    return value if whole else float(value)


def _shown(value: Any) -> str:
    """A value as a person would name it in an error of one line."""
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    text = value.isoformat() if isinstance(value, date | time) else text
    return text if len(text) <= 40 else f"{text[:39]}…"


def _default(place: "Field[Any]") -> Any:
    if place.default_factory is not MISSING:
        return place.default_factory()
    return place.default


def _same(value: Any, other: Any) -> bool:
    """Equality in which an unknown number equals an unknown number."""
    if isinstance(value, float) and isinstance(other, float) and isnan(value):
        return isnan(other)
    if isinstance(value, tuple) and isinstance(other, tuple):
        return len(value) == len(other) and all(map(_same, value, other))
    if is_dataclass(value) and type(value) is type(other):
        names = [place.name for place in fields(value)]
        return all(_same(getattr(value, n), getattr(other, n)) for n in names)
    return bool(value == other)


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return to_table(value)
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value
