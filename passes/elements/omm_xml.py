"""Orbit mean-elements messages as XML (CCSDS 505.0-B): one, or many within ``ndm``.

Read as a stream: no more than one message is held, whatever the size of the file.
Document type declarations, entities and references to other files are refused, and
so are trees that no message has.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

from passes.elements.omm_gather import Entry, gather
from passes.elements.parsed import NotElements, Parsed

FORM = "OMM as XML"
_BEGINS = re.compile(rb"\s*(<\?xml\b|<!--|<!DOCTYPE\b|<([\w.-]+:)?(ndm|omm|oem)\b)")
#: A message is a handful of levels deep and has some hundred fields at most.
DEEPEST, MOST_FIELDS = 32, 2000
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
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    events = iterparse(io.BytesIO(data), ("start", "end"), forbid_dtd=True)
    walk = _Walk(where)
    try:
        for event, element in events:
            if event == "start":
                walk.enter(element)
            elif entry := walk.leave(element):
                yield entry
    except NotElements:
        raise
    except DefusedXmlException as error:
        reason = "declares a document type or entities, which are not read"
        raise NotElements(where, reason) from error
    except ParseError as error:
        line = error.position[0]
        yield Entry(f"{where}:{line}", fault=f"damaged XML ({_first_words(error)})")
    except (ValueError, LookupError) as error:
        raise NotElements(where, f"XML in an unknown encoding ({error})") from error


def _first_words(error: Exception) -> str:
    return str(error).split(":")[0]


class _Walk:
    """A walk through the tree that keeps nothing but the message it is in."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._path: list[Any] = []
        self._entry: Entry | None = None
        self._count = 0

    def enter(self, element: Any) -> None:
        """Step into an element."""
        self._path.append(element)
        if len(self._path) > DEEPEST:
            raise NotElements(self._where, "nested too deeply")
        kind = _local(element.tag)
        if kind == "omm" or kind in _OTHERS:
            self._entry, self._count = Entry(self._where), 0
            if kind in _OTHERS:
                hint = "; give it by --ephemeris" if kind == "oem" else ""
                self._entry.fault = (
                    f"a message of another kind ({kind.upper()}), "
                    f"not mean elements{hint}"
                )

    def leave(self, element: Any) -> Entry | None:
        """Step out of an element; the record, where that was a message."""
        self._path.pop()
        if self._path:  # not kept: its content is noted or of no use
            self._path[-1].clear()
        if self._entry is None:
            return None
        kind = _local(element.tag)
        if kind == "omm" or kind in _OTHERS:
            done, self._entry = self._entry, None
            return done
        self._note(kind, element.text)
        return None

    def _note(self, key: str, text: str | None) -> None:
        assert self._entry is not None
        self._count += 1
        value = (text or "").strip()
        if self._entry.fault or not value or not key.isupper() or key in _REPEATED:
            return
        if self._count > MOST_FIELDS:
            self._entry.fault = f"more than {MOST_FIELDS} fields in one message"
        else:
            self._entry.put(key, value)


def _local(tag: Any) -> str:
    """The name of an element without its namespace."""
    return str(tag).rsplit("}", 1)[-1]
