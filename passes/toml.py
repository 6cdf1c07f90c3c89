"""TOML text as tables, whatever is wrong with it told in a few words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

#: A key of so many parts takes the parser a time that grows with their square.
_MOST_PARTS = 100
_PART = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+"""
_LONG_KEY = re.compile(rf"(?<![\w-])(?:{_PART}){{{_MOST_PARTS}}}")
#: Whole numbers of TOML are of 64 bits; larger ones break whatever counts with them.
_WHOLE = range(-(2**63), 2**63)


class NotToml(ValueError):
    """The text is no TOML that is read here; the message says why, in one line."""


def tables(text: str) -> dict[str, Any]:
    """The tables of a text; NotToml where it is damaged or beyond what is sensible."""
    if _LONG_KEY.search(text):
        raise NotToml(f"a key of more than {_MOST_PARTS} parts")
    try:
        found = tomllib.loads(text)
    except RecursionError:
        raise NotToml("nested too deeply") from None
    except tomllib.TOMLDecodeError as error:
        raise NotToml(str(error)[:200]) from error
    except ValueError as error:  # more digits than Python turns into a number
        raise NotToml("a number of thousands of digits") from error
    for value in _values(found):
        if isinstance(value, int) and value not in _WHOLE:
            raise NotToml("a whole number beyond 64 bits")
    return found


def _values(found: dict[str, Any]) -> Iterator[Any]:
    """Every value that is no table and no list, without recursion."""
    waiting: list[Any] = [found]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting.extend(one.values())
        elif isinstance(one, list):
            waiting.extend(one)
        else:
            yield one
