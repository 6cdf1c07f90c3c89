"""Name patterns, many of them against many names."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

#: Patterns are indexed by so many of their first letters.
_HEAD = 3
#: A pattern's place, what of it stands for itself, and the whole as an expression
#: (None where finding the former is enough).
_Known = tuple[int, str, re.Pattern[str] | None]


class Patterns:
    """Patterns with ``*`` for any run of characters and ``?`` for one.

    Nothing else is special (names hold brackets); case does not matter.  An empty
    pattern matches nothing.
    """

    def __init__(self, patterns: Sequence[str]) -> None:
        heads: dict[str, list[_Known]] = defaultdict(list)
        others: list[_Known] = []
        for place, pattern in enumerate(text.strip().upper() for text in patterns):
            if not pattern:
                continue
            parts = re.split(r"[*?]+", pattern)
            longest = max(parts, key=len)
            plain = pattern == f"*{longest}*"
            expression = None if plain else re.compile(_expression(pattern))
            home = others if len(parts[0]) < _HEAD else heads[parts[0][:_HEAD]]
            home.append((place, longest, expression))
        self._others = others
        self._by_head = {
            head: sorted([*known, *others], key=lambda one: one[0])
            for head, known in heads.items()
        }

    def matching(self, name: str) -> Iterator[int]:
        """Places of the patterns that a name fits, lowest first."""
        name = name.strip().upper()
        for place, part, expression in self._by_head.get(name[:_HEAD], self._others):
            if part in name and (expression is None or expression.fullmatch(name)):
                yield place


def _expression(pattern: str) -> str:
    """Each part where it first fits, and never tried anywhere else.

    Without that, a pattern of many ``*`` takes for ever on a long name.
    """
    first, *rest = ("".join(map(_letter, part)) for part in re.split(r"\*+", pattern))
    if not rest:
        return first
    *middle, last = rest
    return first + "".join(f"(?>.*?{part})" for part in middle) + f".*{last}"


def _letter(letter: str) -> str:
    return "." if letter == "?" else re.escape(letter)
