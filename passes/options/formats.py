"""JSON and CSV as text: what machines read."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from math import isfinite
from typing import Any

from passes.model.text import json_safe
from passes.tables import plain

#: What makes a spreadsheet take text for a formula (OWASP, "CSV Injection"; its tab
#: and carriage return are gone by then); some programs fold the full-width forms, and
#: some take a semicolon for the end of a cell.
_FORMULA = re.compile(r"(?:^|(?<=;))(?=[=+\-@＝＋－＠])")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?\Z")


def json_bytes(document: Mapping[str, Any], *, indented: bool) -> bytes:
    """A document as JSON, UTF-8, ending in a newline; nan becomes null.

    Whatever stands in it, nothing steers the terminal that it is shown on; a lone
    surrogate (part of a file's name in another encoding) becomes ``?``.
    """
    import orjson

    options = orjson.OPT_APPEND_NEWLINE | orjson.OPT_PASSTHROUGH_DATETIME
    options |= orjson.OPT_SERIALIZE_NUMPY | orjson.OPT_PASSTHROUGH_DATACLASS
    if indented:
        options |= orjson.OPT_INDENT_2
    try:
        content = orjson.dumps(document, default=_plainer, option=options)
    except TypeError:
        content = orjson.dumps(_encodable(document), default=_plainer, option=options)
    return json_safe(content.decode()).encode()


def _encodable(value: Any) -> Any:
    """The same with every text such that UTF-8 has it."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, Mapping):
        return {_encodable(key): _encodable(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_encodable(inner) for inner in value]
    return value


def _plainer(value: Any) -> Any:
    """What orjson does not know by itself: times, read-only mappings, sequences."""
    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, Iterable):
        return list(value)
    raise TypeError(f"no JSON shape for {type(value).__name__}")


def iso(time: datetime) -> str:
    """A time as files hold it: UTC, ISO 8601, milliseconds, ``Z``."""
    utc = time.astimezone(UTC).isoformat(timespec="milliseconds")
    return utc.replace("+00:00", "Z")


def csv_text(
    records: Iterable[Mapping[str, Any]],
    columns: Sequence[str] = (),
    demo: bool = False,
) -> str:
    """Records as CSV (RFC 4180, but with plain newlines), headed by their keys.

    Text that a spreadsheet would take for a formula, at its start or behind a
    semicolon, gets a ``'`` in front; numbers, negative ones too, stay numbers; the
    unknown is empty.  ``columns`` are the heading
    when there is no record; the demo always has a ``demo`` column.
    """
    rows = iter(records)
    first = next(rows, None)
    heading = list(first) if first is not None else list(columns)
    if demo and "demo" not in heading:
        heading.append("demo")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    if heading:
        writer.writerow(heading)
    while first is not None:
        writer.writerow(
            [cell(first.get(key, demo and key == "demo")) for key in heading]
        )
        first = next(rows, None)
    return out.getvalue()


def cell(value: Any) -> str:
    """One value as a cell of CSV."""
    if value is None or (isinstance(value, float) and not isfinite(value)):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, int | float):
        return str(value)
    text = plain(str(value), 10_000)
    return text if _NUMBER.match(text) else _FORMULA.sub("'", text)
