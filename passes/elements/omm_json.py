"""Orbit mean-elements messages as JSON: one object, or a list of them.

Read by the standard library, which was a third slower than orjson on 30,000 records
but took a fifth of the memory at its peak (17 MB against 93 for 6 MB of text), and
reads NaN and Infinity, which are no JSON, so that the record that holds them can be
named.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from passes.elements import omm
from passes.elements.catalogue import Skipped
from passes.elements.parsed import NotElements, Parsed, too_many
from passes.elements.source import decoded

FORM = "OMM as JSON"
#: No name in front of two lines begins like this.
_BEGINS = re.compile(rb'\s*(\[\s*([\[{\]"\d-]|null|true|false|\Z)|\{\s*(["}]|\Z))')
_OPENING = re.compile(r"\s*\[?\s*")
_BETWEEN = re.compile(r"[\s,\]]*")

Place = tuple[int, Any]  # line, and what stands there: a value or a ValueError


def matches(data: bytes) -> bool:
    """Whether the text begins as a JSON object or a list of them."""
    return _BEGINS.match(data) is not None


def parse(data: bytes, where: str, max_records: int) -> Parsed:
    """Read every record of a text; bad ones are told, never lost.

    Where the JSON itself is damaged, the records around the damage are still used.
    Raises ElementsError for other encodings than UTF-8 and beyond ``max_records``.
    """
    # each record opens a brace: counted before a hostile text can fill the memory
    if max(data.count(b"{"), data.count(b"[")) > max_records:
        raise too_many(where, max_records)
    text = decoded(data, where)
    places: list[Place] | None = None
    try:
        found = json.loads(text)
        items = found if isinstance(found, list) else [found]
    except RecursionError as error:
        raise NotElements(where, "nested too deeply") from error
    except ValueError:
        places = list(_places(text, where))
        items = [item for _, item in places]
    records = [item if isinstance(item, dict) else {} for item in items]
    parsed, faults = omm.convert(records, FORM)
    for row, item in enumerate(items):
        if not isinstance(item, dict):
            faults[row] = _not_a_record(item)
    if faults:
        places = places or list(_places(text, where))
        lines = [line for line, _ in places]
        parsed.rejected = [
            _skip(records[row], row, faults[row], f"{where}:{lines[row]}")
            for row in sorted(faults)
        ]
    parsed.keep(~np.isin(np.arange(len(records)), list(faults)))
    return parsed


def _skip(record: omm.Record, row: int, reason: str, where: str) -> Skipped:
    number, name = omm.name_of(record)
    return Skipped(
        catalog_number=number,
        name=name,
        reason=f"record {row + 1}: {reason}",
        where=where,
    )


def _not_a_record(item: Any) -> str:
    if isinstance(item, ValueError):
        if not isinstance(item, json.JSONDecodeError):
            return "a number of thousands of digits"
        return f"damaged JSON ({item.msg.removesuffix(' starting at')})"
    return "not an object with OMM fields"


def _places(text: str, where: str) -> Iterator[Place]:
    """Every record or damaged stretch with its line, in order."""
    decoder = json.JSONDecoder()
    line, counted = 1, 0
    at = _OPENING.match(text).end()  # type: ignore[union-attr]
    while at < len(text):
        line, counted = line + text.count("\n", counted, at), at
        try:
            item, end = decoder.raw_decode(text, at)
        except RecursionError as error:
            raise NotElements(f"{where}:{line}", "nested too deeply") from error
        except ValueError as error:
            item = error
            end = text.find("{", max(getattr(error, "pos", at), at + 1))
            end = len(text) if end < 0 else end
        yield line, item
        at = _BETWEEN.match(text, end).end()  # type: ignore[union-attr]
