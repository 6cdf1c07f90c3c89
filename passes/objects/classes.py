"""What kind of thing an object is, by the names that catalogues publish.

Public catalogues name a spent stage ``… R/B`` and a fragment ``… DEB``; an object
that has no name yet carries its designator, ``OBJECT A`` or ``TBA``; everything else
is a payload (common practice of the public catalogue, no source).  Stations are known
by number, by designator or by name; their docked modules and visiting craft, which the
catalogue lists beside them on the same orbit, count as payloads.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from passes.objects.launches import parts_of

STATION, PAYLOAD, ROCKET_BODY, DEBRIS, UNKNOWN = CLASSES = (
    "station",
    "payload",
    "rocket body",
    "debris",
    "unknown",
)

#: Stations: a key, the catalogue numbers of the parts that carry an element set (the
#: one that stands for the whole first), the whole's designator, and the names it goes
#: by.  Numbers, launches and names from the public catalogue (from memory; those still
#: in orbit seen in real element sets).
_STATIONS: tuple[tuple[str, tuple[int, ...], str, tuple[str, ...]], ...] = (
    ("ISS", (25544, 25575, 26400, 49044), "1998-067A", ("ISS", "ISS (ZARYA)", "ZARYA")),
    ("CSS", (48274, 53239, 54216), "2021-035A", ("CSS", "CSS (TIANHE)", "TIANHE")),
    ("TIANGONG 2", (41765,), "2016-057A", ("TIANGONG 2", "TIANGONG-2")),
    ("TIANGONG 1", (37820,), "2011-053A", ("TIANGONG 1", "TIANGONG-1")),
    ("MIR", (16609,), "1986-017A", ("MIR",)),
    ("SALYUT 7", (13138,), "1982-033A", ("SALYUT 7",)),
    ("SKYLAB", (6633,), "1973-027A", ("SKYLAB", "SKYLAB 1")),
)
_KEY_BY_NUMBER = {n: key for key, numbers, _, _ in _STATIONS for n in numbers}
_MAIN_NUMBER = {key: numbers[0] for key, numbers, _, _ in _STATIONS}
_KEY_BY_NAME = {name: key for key, _, _, names in _STATIONS for name in names}
_DESIGNATORS = {parts_of(designator) for _, _, designator, _ in _STATIONS}
_MODULE = re.compile(r"(ISS|CSS) \([A-Z -]+\)")
_STATION_WORD = re.compile(r"\bSTATION\b")
# A plain search comes first: it is several times faster than the expression.
_DEBRIS_WORDS = ("DEB", "COOLANT", "NEEDLES")
_DEBRIS = re.compile(rf"\b({'|'.join(_DEBRIS_WORDS)})\b")
_NAMELESS_HEADS = ("TBA", "TO BE", "UNK", "OBJECT ")
_NAMELESS = re.compile(
    r"|TBA\b.*|TO BE ASSIGNED.*|UNKNOWN.*|OBJECT [A-Z]{1,3}|\d+|\d{4}-\d{3}[A-Z]{0,3}"
)
#: Several of a class, in words.
_PLURALS = {
    "station": "stations",
    "payload": "payloads",
    "rocket body": "rocket bodies",
    "debris": "pieces of debris",
    "unknown": "of unknown class",
}


def object_class(
    names: Sequence[str], designators: Sequence[str] | None = None
) -> tuple[str, ...]:
    """The class of each object: one of :data:`CLASSES`.

    ``designators`` help where a station's elements come without a name.
    """
    if designators is None:
        return tuple([_class_of(name) for name in names])
    both = zip(names, designators, strict=True)
    return tuple([_class_of(name, designator) for name, designator in both])


def _class_of(name: str, designator: str = "") -> str:
    name = name.strip().upper()
    if any(word in name for word in _DEBRIS_WORDS) and _DEBRIS.search(name):
        return DEBRIS
    if "R/B" in name:
        return ROCKET_BODY
    if name in _KEY_BY_NAME or ("STATION" in name and _STATION_WORD.search(name)):
        return STATION
    doubtful = not name[:1].isalpha() or name.startswith(_NAMELESS_HEADS)
    if doubtful and _NAMELESS.fullmatch(name):
        return STATION if _is_station_piece(designator) else UNKNOWN
    return PAYLOAD


def _is_station_piece(designator: str) -> bool:
    return bool(designator) and parts_of(designator) in _DESIGNATORS


def is_station(numbers: Iterable[int], names: Sequence[str]) -> NDArray[np.bool_]:
    """Which rows stand for a whole station, ``(n,)``: each station once.

    The core module stands for it; where only other modules are listed, the first.
    """
    chosen: dict[str, int] = {}
    listed = [int(number) for number in numbers]
    for row, (number, name) in enumerate(zip(listed, names, strict=True)):
        key = station_key(number, name)
        if key and (key not in chosen or number == _MAIN_NUMBER.get(key)):
            chosen[key] = row
    flags = np.zeros(len(listed), dtype=bool)
    flags[list(chosen.values())] = True
    return flags


def station_key(number: int, name: str) -> str:
    """Which station this object is a part of, ``""`` for none."""
    if number in _KEY_BY_NUMBER:
        return _KEY_BY_NUMBER[number]
    name = name.strip().upper()
    if name in _KEY_BY_NAME:
        return _KEY_BY_NAME[name]
    if "SS (" in name and (match := _MODULE.fullmatch(name)):
        return match[1]
    return name if "STATION" in name and _class_of(name) == STATION else ""


def counted_classes(classes: Mapping[str, int]) -> str:
    """How many objects of each class, in words."""
    return ", ".join(_counted(kind, n) for kind, n in classes.items() if n)


def _counted(kind: str, n: int) -> str:
    return f"{n:,} {_PLURALS.get(kind, kind) if n != 1 or kind == 'unknown' else kind}"
