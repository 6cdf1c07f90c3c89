"""XML read as a stream: one element at a time, nothing kept, nothing dangerous.

Document type declarations, entities and references to other files are refused, and so
are trees deeper than any message.  Names come without their namespace.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

#: No message of a standard that we read is as deep.
DEEPEST = 32


class MarkupRefused(ValueError):
    """The whole text is refused; the message says why, in a few words."""


class MarkupDamaged(ValueError):
    """The text is damaged at ``line``; what came before was sound."""

    def __init__(self, reason: str, line: int) -> None:
        super().__init__(reason)
        self.line = line


def walk(data: bytes) -> Iterator[tuple[bool, str, str]]:
    """Every element twice: entered (True, name, "") and left (False, name, its text).

    Memory stays that of the elements that are open, whatever the size of the text.
    Raises MarkupRefused and MarkupDamaged.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    try:
        yield from _steps(
            iterparse(io.BytesIO(data), ("start", "end"), forbid_dtd=True)
        )
    except MarkupRefused:
        raise
    except DefusedXmlException as error:
        reason = "declares a document type or entities, which are not read"
        raise MarkupRefused(reason) from error
    except ParseError as error:
        reason = f"damaged XML ({str(error).split(':')[0]})"
        raise MarkupDamaged(reason, error.position[0]) from error
    except (ValueError, LookupError) as error:
        raise MarkupRefused(f"XML in an unknown encoding ({error})") from error


def _steps(events: Iterator[tuple[str, Any]]) -> Iterator[tuple[bool, str, str]]:
    path: list[Any] = []
    for event, element in events:
        name = str(element.tag).rsplit("}", 1)[-1]
        if event == "start":
            path.append(element)
            if len(path) > DEEPEST:
                raise MarkupRefused("nested too deeply")
            yield True, name, ""
            continue
        path.pop()
        yield False, name, (element.text or "").strip()
        if path:  # its parent lets go of it
            path[-1].clear()
