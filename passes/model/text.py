"""Text from outside as one harmless line, wherever it is shown."""

import json
from unicodedata import category

#: Control, format (direction marks too), private and lone-surrogate characters,
#: line and paragraph separators: none of them belongs on a terminal.
_HARMFUL = frozenset({"Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp"})
#: Marks that stand over or under a letter; more than these on one letter would be
#: drawn across the lines above and below.
_STACKED = frozenset({"Mn", "Me"})
_MOST_STACKED = 4


def plain(text: str, longest: int = 200) -> str:
    """Text from outside as one harmless line: no control characters, no escapes.

    Each of them becomes ``�``, white space one space, marks beyond the fourth on one
    letter are left out; what is longer than ``longest`` characters ends in ``…``.
    """
    text = " ".join(text[: 4 * longest].split())
    if not text.isascii() or not text.isprintable():
        text = _harmless(text)
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def legible(text: str) -> str:
    """Several lines made harmless, whole: the last net before a terminal."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return text
    return "\n".join(map(_harmless, text.split("\n")))


def _harmless(text: str) -> str:
    kept, marks = [], 0
    for character in text:
        kind = category(character)
        marks = marks + 1 if kind in _STACKED else 0
        if marks <= _MOST_STACKED:
            kept.append("�" if kind in _HARMFUL else character)
    return "".join(kept)


def json_safe(text: str) -> str:
    """JSON in which nothing steers a terminal: such characters become ``\\u`` escapes.

    They can only stand in its strings, and mean the same there.  Line feeds stay.
    """
    if text.isascii() and "\x7f" not in text:
        return text
    unsafe = [c for c in set(text) if not c.isprintable() and c not in "\n "]
    escapes = {ord(c): json.dumps(c)[1:-1] for c in unsafe}
    return text.translate(escapes) if escapes else text
