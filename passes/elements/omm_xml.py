"""Orbit mean-elements messages as XML (CCSDS 505.0-B): one, or many within ``ndm``.

Read as a stream: no more than one message is held, whatever the size of the file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from passes.elements.omm_gather import Entry, gather
from passes.elements.parsed import NotElements, Parsed
from passes.streams import Damaged, Refused, walk

FORM = "OMM as XML"
_BEGINS = re.compile(rb"\s*(<\?xml\b|<!--|<!DOCTYPE\b|<([\w.-]+:)?(ndm|omm|oem)\b)")
#: A message has some hundred fields at most.
MOST_FIELDS = 2000
#: Other kinds of message of the same family.
_OTHERS = frozenset({"oem", "opm", "aem", "apm", "cdm", "rdm", "tdm", "ocm", "acm"})
#: Fields that may be repeated: remarks, and what users define.
_REPEATED = frozenset({"COMMENT", "USER_DEFINED"})


def matches(data: bytes) -> bool:
    """Whether the text begins as XML of this family."""
    return _BEGINS.match(data[:65536]) is not None


def parse(data: bytes, where: str, max_records: int) -> Parsed:
    """Read every message of a text; bad ones are told, never lost.

    Where the XML is damaged, what came before is still used.  Raises ElementsError for
    what is dangerous, and beyond ``max_records``.
    """
    return gather(_entries(data, where), FORM, where, max_records)


def _entries(data: bytes, where: str) -> Iterator[Entry]:
    entry: Entry | None = None
    fields = 0
    try:
        for enters, name, text in walk(data):
            if name == "omm" or name in _OTHERS:
                if enters:
                    entry, fields = _begun(name, where), 0
                elif entry:
                    yield entry
                    entry = None
            elif entry and not enters:
                fields += 1
                _note(entry, name, text, fields)
    except Refused as error:
        raise NotElements(where, str(error)) from error
    except Damaged as error:
        yield Entry(f"{where}:{error.line}", fault=str(error))


def _begun(kind: str, where: str) -> Entry:
    if kind == "omm":
        return Entry(where)
    hint = "; give it by --ephemeris" if kind == "oem" else ""
    reason = f"a message of another kind ({kind.upper()}), not mean elements{hint}"
    return Entry(where, fault=reason)


def _note(entry: Entry, key: str, value: str, fields: int) -> None:
    if entry.fault or not value or not key.isupper() or key in _REPEATED:
        return
    if fields > MOST_FIELDS:
        entry.fault = f"more than {MOST_FIELDS} fields in one message"
    else:
        entry.put(key, value)
