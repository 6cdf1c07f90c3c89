"""From a path or standard input to plain bytes, within limits."""

from __future__ import annotations

import gzip
import re
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import BinaryIO, TypedDict, cast

from passes.elements.parsed import NotElements, printable
from passes.errors import ElementsError

MEBIBYTE = 1024 * 1024
#: What is read of one file at most, expanded.
MAX_BYTES = 64 * MEBIBYTE
#: How many records are read in one go at most.
MAX_RECORDS = 300_000
STDIN = "standard input"


class Limits(TypedDict, total=False):
    """How much is read at most, as :func:`passes.elements.read` takes it."""

    max_bytes: int
    max_records: int


def limits(max_bytes: int) -> Limits:
    """Both limits where a person allows so many bytes: records in proportion."""
    records = MAX_RECORDS * max_bytes // MAX_BYTES
    return {"max_bytes": max_bytes, "max_records": max(records, MAX_RECORDS)}


_CHUNK = MEBIBYTE
_GZIP = b"\x1f\x8b"
_UTF8_MARK = b"\xef\xbb\xbf"
_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")
_HTML = re.compile(rb"\s*(<!--.*?-->\s*)*(<!doctype\s+html|<html)", re.I | re.S)
_TITLE = re.compile(rb"<title[^>]*>([^<]*)", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """The bytes of one file, expanded; ``damage`` says what is missing at its end."""

    data: bytes
    damage: str = ""


def load(path: str, *, stdin: BinaryIO | None, max_bytes: int) -> Text:
    """Read one file (``-`` is standard input), expanding gzip.

    Raises ElementsError where it cannot be opened or holds more than ``max_bytes``.
    """
    if path == "-":
        return unpack(stdin or sys.stdin.buffer, STDIN, max_bytes)
    try:
        file = open(path, "rb")  # noqa: SIM115  closed just below
    except (OSError, ValueError) as error:
        raise ElementsError(path, _why_not(error)) from error
    with file:
        return unpack(file, path, max_bytes)


def unpack(file: BinaryIO, where: str, max_bytes: int) -> Text:
    """Read an open file to its end, expanding gzip, never beyond ``max_bytes``."""
    chunks: list[bytes] = []
    size, damage = 0, ""
    try:
        for chunk in _chunks(file):
            size += len(chunk)
            if size > max_bytes:
                reason = (
                    f"holds more than {_size(max_bytes)}; split it, or allow more"
                    " by --max-size"
                )
                raise ElementsError(where, reason)
            chunks.append(chunk)
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        damage = f"the gzip file is damaged ({error})"
    except OSError as error:
        raise ElementsError(where, _why_not(error)) from error
    return Text(data=b"".join(chunks).removeprefix(_UTF8_MARK), damage=damage)


def _chunks(file: BinaryIO) -> Iterator[bytes]:
    head = file.read(len(_GZIP))
    read: Callable[[int], bytes]
    if head == _GZIP:
        # read1 gives up what it has before it meets the damage
        read = gzip.GzipFile(fileobj=cast(BinaryIO, _Rejoined(head, file))).read1
    else:
        yield head
        read = file.read
    while chunk := read(_CHUNK):
        yield chunk


class _Rejoined:
    """A stream whose first bytes have been read already."""

    def __init__(self, head: bytes, rest: BinaryIO) -> None:
        self._head, self._rest = head, rest

    def read(self, size: int) -> bytes:
        if self._head:
            head, self._head = self._head, b""
            return head
        return self._rest.read(size)


def refuse_foreign(text: Text, where: str) -> None:
    """Raise NotElements for what cannot be element sets, in plain words."""
    data = text.data
    if not data.strip():
        raise NotElements(where, text.damage or "is empty")
    if data.startswith(_WIDE_MARKS):
        raise NotElements(where, "is not UTF-8 text but UTF-16; save it as UTF-8")
    if b"\0" in data[:65536]:
        raise NotElements(where, "is a binary file, not element sets as text")
    if _HTML.match(data[:4096]):
        title = _TITLE.search(data[:4096])
        named = f" ({quoted(title[1])})" if title and title[1].strip() else ""
        raise NotElements(where, f"is a web page{named}, not element sets")


def quoted(data: bytes, most: int = 40) -> str:
    """The beginning of some bytes, fit to be shown in a message."""
    text = printable(data[:most].decode("utf-8", "replace").split("\n")[0])
    return repr(text + "…" if len(data.strip()) > most else text)


def decoded(data: bytes, where: str) -> str:
    """Bytes as text; raises NotElements for other encodings than UTF-8."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        reason = f"not UTF-8 text (byte 0x{data[error.start]:02x}); save it as UTF-8"
        raise NotElements(f"{where}:{line}", reason) from error


def _size(size: int) -> str:
    if size >= MEBIBYTE:
        return f"{size / MEBIBYTE:.0f} MiB (expanded)"
    return f"{size:,} bytes (expanded)"


def _why_not(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "no such file"
    if isinstance(error, IsADirectoryError):
        return "is a directory; name the files in it"
    if isinstance(error, PermissionError):
        return "may not be read (permission denied)"
    return f"cannot be read ({getattr(error, 'strerror', None) or error})"
