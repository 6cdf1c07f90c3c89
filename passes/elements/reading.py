"""From files to one catalogue: any form, any number of files, nothing lost."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from passes.elements import omm_csv, omm_json, omm_kvn, omm_xml, source, tle
from passes.elements.catalogue import Catalogue, Skipped
from passes.elements.parsed import NotElements, Parsed, join, too_many
from passes.elements.source import MAX_BYTES, MAX_RECORDS, Text
from passes.errors import ElementsError


@dataclass(frozen=True, slots=True)
class Form:
    """A form in which element sets are published.

    ``matches`` looks at the text; ``parse`` takes the text, its name for messages
    and the most records it may hold.
    """

    name: str
    matches: Callable[[bytes], bool]
    parse: Callable[[bytes, str, int], Parsed]


#: Every form that is read, told apart by content: the first that matches is used.
FORMS = (
    Form(omm_json.FORM, omm_json.matches, omm_json.parse),
    Form(omm_xml.FORM, omm_xml.matches, omm_xml.parse),
    Form(omm_kvn.FORM, omm_kvn.matches, omm_kvn.parse),
    Form(omm_csv.FORM, omm_csv.matches, omm_csv.parse),
    Form(tle.FORM, tle.matches, tle.parse),
)


#: How they are called together.
KNOWN = "TLE, or OMM as JSON, CSV, XML or KVN"


@dataclass(frozen=True, slots=True)
class FileRead:
    """What one file gave: its form, how many records it held, how many were used."""

    origin: str
    form: str
    records: int
    used: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """What was read: the good sets, what was left out and why, remarks.

    ``records`` counts what was tried.  ``catalogue`` keeps every set, also several of
    one object (:func:`passes.elements.nearest` chooses); its ``skipped`` is empty.
    """

    catalogue: Catalogue
    rejected: tuple[Skipped, ...] = ()
    records: int = 0
    files: tuple[FileRead, ...] = ()
    notes: tuple[str, ...] = ()


def read(
    paths: Sequence[str | Path],
    *,
    strict: bool = False,
    stdin: BinaryIO | None = None,
    max_bytes: int = MAX_BYTES,
    max_records: int = MAX_RECORDS,
) -> Reading:
    """Read element sets from files (``-`` is standard input).

    Gzip and the form are told by content.  A bad record is left out and told; so is a
    file that holds none, as long as another one does.  Raises ElementsError where
    nothing is left, a file cannot be opened or is beyond the limits (``max_bytes`` a
    file, expanded; ``max_records`` in all), and with ``strict`` for anything bad.
    """
    gathered = _Gathered(strict, max_records)
    for path in paths:
        name = os.fspath(path)
        text = source.load(name, stdin=stdin, max_bytes=max_bytes)
        gathered.add(text, source.STDIN if name == "-" else name)
    return gathered.reading()


def read_text(
    text: str | bytes,
    origin: str = "text",
    *,
    strict: bool = False,
    max_bytes: int = MAX_BYTES,
    max_records: int = MAX_RECORDS,
) -> Reading:
    """Read element sets from text (or bytes, also gzip) as :func:`read` does."""
    data = text.encode() if isinstance(text, str) else text
    gathered = _Gathered(strict, max_records)
    gathered.add(source.unpack(io.BytesIO(data), origin, max_bytes), origin)
    return gathered.reading()


class _Gathered:
    """What has been read so far, file by file."""

    def __init__(self, strict: bool, max_records: int) -> None:
        self._strict, self._max_records = strict, max_records
        self._parts: list[tuple[str, Parsed]] = []
        self._refused: list[NotElements] = []
        self._rejected: list[Skipped] = []

    def add(self, text: Text, origin: str) -> None:
        """Read one file; raise or remember what is wrong with it."""
        try:
            source.refuse_foreign(text, origin)
            parsed = _form_of(text, origin).parse(text.data, origin, self._max_records)
            if not parsed.records:
                raise NotElements(origin, "holds no element sets")
        except NotElements as error:
            self._refused.append(error)
            self._reject(_whole(error.reason, error.where))
            return
        self._parts.append((origin, parsed))
        for skipped in parsed.rejected:
            self._reject(skipped)
        if text.damage:
            reason = f"{text.damage}; what came before is used"
            self._reject(_whole(reason, origin))
        if sum(part.records for _, part in self._parts) > self._max_records:
            raise too_many(origin, self._max_records)

    def _reject(self, skipped: Skipped) -> None:
        if self._strict:
            raise ElementsError(skipped.where, skipped.reason)
        self._rejected.append(skipped)

    def reading(self) -> Reading:
        """Everything together; raises where every single file was refused."""
        if not self._parts:
            raise self._refused[0]
        return Reading(
            catalogue=join(self._parts),
            rejected=tuple(self._rejected),
            records=sum(part.records for _, part in self._parts),
            files=tuple(
                FileRead(origin, part.form, part.records, len(part.names))
                for origin, part in self._parts
            ),
            notes=tuple(note for _, part in self._parts for note in part.notes),
        )


def _form_of(text: Text, origin: str) -> Form:
    for form in FORMS:
        if form.matches(text.data):
            return form
    begins = source.quoted(text.data)
    raise NotElements(origin, f"holds no element sets ({KNOWN}); it begins {begins}")


def _whole(reason: str, where: str) -> Skipped:
    return Skipped(catalog_number=None, name="", reason=reason, where=where)
