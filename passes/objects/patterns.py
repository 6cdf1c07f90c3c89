"""Name patterns, many of them against many names."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

#: Patterns are indexed by so many of their first letters.
_HEAD = 3


class Patterns:
    """Patterns with ``*`` for any run of characters and ``?`` for one.

    Nothing else is special (names hold brackets); case does not matter.  An empty
    pattern matches nothing.
    """

    def __init__(self, patterns: Sequence[str]) -> None:
        self._by_head: dict[str, list[tuple[int, re.Pattern[str]]]] = defaultdict(list)
        self._others: list[tuple[int, re.Pattern[str]]] = []
        for place, pattern in enumerate(text.strip().upper() for text in patterns):
            if not pattern:
                continue
            known = (place, re.compile(_expression(pattern)))
            literal = re.split(r"[*?]", pattern)[0]
            if len(literal) >= _HEAD:
                self._by_head[literal[:_HEAD]].append(known)
            else:
                self._others.append(known)

    def matching(self, name: str) -> Iterator[int]:
        """Places of the patterns that a name fits, lowest first."""
        name = name.strip().upper()
        candidates = self._by_head.get(name[:_HEAD], [])
        if self._others:
            candidates = sorted([*candidates, *self._others], key=lambda one: one[0])
        for place, pattern in candidates:
            if pattern.fullmatch(name):
                yield place


def _expression(pattern: str) -> str:
    wild = {"*": ".*", "?": "."}
    return "".join(wild.get(letter) or re.escape(letter) for letter in pattern)
