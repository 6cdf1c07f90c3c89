"""Orbit mean-elements messages as lines of ``KEYWORD = value`` (CCSDS 502.0-B).

Several messages may follow one another; each begins with its version line.  Remarks,
units in brackets, covariances and everything else that SGP4 does not need are passed
over.  A message of another kind is told and left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from passes.elements import omm
from passes.elements.omm_gather import Entry, gather
from passes.elements.parsed import NotElements, Parsed
from passes.streams import Damaged, lines

FORM = "OMM as KVN"
_BEGINS = re.compile(rb"\s*(COMMENT\b[^\n]*\n\s*)*CCSDS_[A-Z]{2,4}_VERS\s*=")
_VERSION = re.compile(r"CCSDS_([A-Z]{2,4})_VERS", re.ASCII)
_UNIT = re.compile(r"\s*\[[^\[\]]*\]\s*\Z")


def matches(data: bytes) -> bool:
    """Whether the text begins as a CCSDS message in keywords and values."""
    return _BEGINS.match(data[:65536]) is not None


def parse(data: bytes, where: str, max_records: int) -> Parsed:
    """Read every message of a text; bad ones are told, never lost.

    Raises ElementsError for other encodings than UTF-8 and beyond ``max_records``.
    """
    return gather(_entries(data, where), FORM, where, max_records)


def _entries(data: bytes, where: str) -> Iterator[Entry]:
    try:
        yield from _messages(lines(data), where)
    except Damaged as error:
        raise NotElements(f"{where}:{error.line}", str(error)) from error


def _messages(numbered: Iterator[tuple[int, str]], where: str) -> Iterator[Entry]:
    entry: Entry | None = None
    for number, line in numbered:
        key, equals, value = line.partition("=")
        key = key.rstrip()
        if line.split(maxsplit=1)[0] == "COMMENT":
            continue
        if line.startswith("CCSDS_") and (version := _VERSION.fullmatch(key)):
            if entry:
                yield entry
            entry = Entry(f"{where}:{number}", fault=_other_kind(version[1]))
        elif entry is None:
            continue  # remarks of an unknown kind in front of the first message
        elif not equals and not entry.fault:
            entry.fault = f"line {number} is no KEYWORD = value: {omm.shown(line)}"
        elif equals:
            value = _UNIT.sub("", value) if value.endswith("]") else value
            entry.put(key.upper(), value.strip())
    if entry:
        yield entry


def _other_kind(kind: str) -> str:
    if kind == "OMM":
        return ""
    hint = "; give it by --ephemeris" if kind == "OEM" else ""
    return f"a message of another kind ({kind}), not mean elements{hint}"
