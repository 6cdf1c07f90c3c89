"""Messages read as streams: line by line, or XML element by element.

Nothing is kept, and nothing dangerous is followed: document type declarations,
entities and references to other files are refused, and so are trees deeper than any
message.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

#: No message of a standard that we read is as deep.
DEEPEST = 32
_MOST_NAMES = 1000


class Refused(ValueError):
    """The whole text is refused; the message says why, in a few words."""


class Damaged(ValueError):
    """The text is damaged at ``line``; what came before was sound."""

    def __init__(self, reason: str, line: int) -> None:
        super().__init__(reason)
        self.line = line


def lines(data: bytes) -> Iterator[tuple[int, str]]:
    """Every line that is not blank, with its number from 1, without the space around.

    Lines end in LF, CRLF or CR.  Raises Damaged for other encodings than UTF-8.
    """
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    for number, raw in enumerate(io.BytesIO(data), start=1):
        try:
            line = raw.decode("utf-8").strip()
        except UnicodeDecodeError as error:
            byte = raw[error.start]
            reason = f"not UTF-8 text (byte 0x{byte:02x}); save it as UTF-8"
            raise Damaged(reason, number) from error
        if line:
            yield number, line


def walk(data: bytes) -> Iterator[tuple[bool, str, str]]:
    """Every element twice: entered (True, name, "") and left (False, name, its text).

    Names come without their namespace.
    Memory stays that of the elements that are open, whatever the size of the text.
    Raises Refused and Damaged.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    try:
        yield from _steps(
            iterparse(io.BytesIO(data), ("start", "end"), forbid_dtd=True)
        )
    except Refused:
        raise
    except DefusedXmlException as error:
        reason = "declares a document type or entities, which are not read"
        raise Refused(reason) from error
    except ParseError as error:
        reason = f"damaged XML ({str(error).split(':')[0]})"
        raise Damaged(reason, error.position[0]) from error
    except (ValueError, LookupError) as error:
        raise Refused(f"XML in an unknown encoding ({error})") from error


def _steps(events: Iterator[tuple[str, Any]]) -> Iterator[tuple[bool, str, str]]:
    path: list[tuple[Any, str]] = []
    names: dict[str, str] = {}
    for event, element in events:
        if event == "start":
            name = names.get(element.tag) or _named(names, element.tag)
            path.append((element, name))
            if len(path) > DEEPEST:
                raise Refused("nested too deeply")
            yield True, name, ""
            continue
        _, name = path.pop()
        text = element.text
        yield False, name, text.strip() if text else ""
        if path:  # its parent lets go of it
            path[-1][0].clear()


def _named(names: dict[str, str], tag: str) -> str:
    """A name without its namespace, remembered while they are few."""
    if len(names) < _MOST_NAMES:
        names[tag] = tag.rsplit("}", 1)[-1]
    return tag.rsplit("}", 1)[-1]
