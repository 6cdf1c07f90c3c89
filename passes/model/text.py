"""Text from outside as one harmless line, wherever it is shown."""

from unicodedata import category

#: Control, format (direction marks too), private and lone-surrogate characters,
#: line and paragraph separators: none of them belongs on a terminal.
_HARMFUL = frozenset({"Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp"})


def plain(text: str, longest: int = 200) -> str:
    """Text from outside as one harmless line: no control characters, no escapes.

    Each of them becomes ``�``, white space one space; what is longer than
    ``longest`` characters ends in ``…``.
    """
    text = " ".join(text[: 4 * longest].split())
    if not text.isprintable():
        text = "".join("�" if category(c) in _HARMFUL else c for c in text)
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
