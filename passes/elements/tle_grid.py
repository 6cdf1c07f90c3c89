"""Two-line sets as a grid of characters: what may stand in which column.

The columns are those of the published two-line format (NORAD; also in Hoots &
Roehrich 1980, Spacetrack Report 3).  SGP4's own parser is forgiving: a letter within
a number ends the number.  So every character is held against the format first.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

WIDTH = 69
Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]

_DIGITS = "0123456789"
#: Letters that stand for 10 to 33 in front of a five-character number (I and O none).
ALPHA5 = "ABCDEFGHJKLMNPQRSTUVWXYZ"
#: Classes of characters, one bit each; a column allows some of them.
_CLASSES = (_DIGITS, " ", "+-", ".", ALPHA5, "0")
_DIGIT, _SPACE, _SIGN, _POINT, _LETTER, _ZERO = (1 << i for i in range(6))
_PRINTABLE = 128
#: What the letters of a pattern allow; anything else stands for itself.
_ALLOWED = {
    "d": _DIGIT,
    "n": _DIGIT | _SPACE,
    "a": _DIGIT | _SPACE | _LETTER,
    "s": _SIGN | _SPACE,
    "z": _SIGN | _SPACE | _ZERO,
    "x": _PRINTABLE,
    ".": _POINT,
    " ": _SPACE,
}
_NUMBERS = "dna"
_CLASS_OF = bytes(
    sum(1 << i for i, some in enumerate(_CLASSES) if chr(code) in some)
    | (_PRINTABLE if 32 <= code < 127 else 0)
    for code in range(256)
)
_VALUE_OF = bytes(
    _DIGITS.index(chr(code)) if chr(code) in _DIGITS else int(chr(code) == "-")
    for code in range(256)
)


def grid(cards: Sequence[str], table: bytes | None = None) -> Bytes:
    """Cards of 69 Latin-1 characters as codes ``(n, 69)``, put through a table."""
    data = "".join(cards).encode("latin-1").translate(table)
    return np.frombuffer(data, dtype=np.uint8).reshape(-1, WIDTH)


class Template:
    """What one of the two lines must look like, column by column.

    ``pattern`` has one letter a column (see ``_ALLOWED``); ``fields`` names
    stretches of columns, counted from 0, end excluded.
    """

    def __init__(self, pattern: str, fields: dict[str, tuple[int, int]]) -> None:
        self.pattern, self.fields = pattern, fields
        self._allowed = np.array([_ALLOWED[letter] for letter in pattern], np.uint8)
        self._inside = np.zeros(len(pattern), dtype=np.uint8)
        for start, stop in fields.values():
            for i in range(start + 1, stop):
                if pattern[i - 1] in _NUMBERS and pattern[i] in _NUMBERS:
                    self._inside[i] = _SPACE

    def misfits(self, cards: Sequence[str]) -> dict[int, int]:
        """Cards that do not fit, each with its first wrong column."""
        classes = grid(cards, _CLASS_OF)
        wrong = (classes & self._allowed) == 0
        # a number may begin with spaces but has none inside
        wrong[:, 1:] |= (classes[:, 1:] & ~classes[:, :-1] & self._inside[1:]) != 0
        rows = np.flatnonzero(wrong.any(axis=1))
        return dict(
            zip(rows.tolist(), wrong[rows].argmax(axis=1).tolist(), strict=True)
        )

    def complaint(self, card: str, column: int) -> str:
        """What is wrong with a card that does not fit at a column."""
        for word, (start, stop) in self.fields.items():
            if start <= column < stop:
                return f"unreadable {word} {card[start:stop].strip()!r}"
        letter = self.pattern[column]
        want = "a space" if letter == " " else repr(letter)
        return f"column {column + 1} holds {card[column]!r}, want {want}"


#: Where both lines carry the catalogue number, and the digit they end in.
NUMBER = slice(2, 7)
DAY = slice(20, 32)
CHECKSUM = 68
EPHEMERIS_TYPE = 62
LINE_1 = Template(
    "d annndx xxxxxxxx ddnnd.dddddddd z.dddddddd sdddddsd sdddddsd n nnnnd",
    {
        "catalogue number": (2, 7),
        "designator": (9, 17),
        "year of the epoch": (18, 20),
        "day of the epoch": (20, 32),
        "first derivative of mean motion": (33, 43),
        "second derivative of mean motion": (44, 52),
        "drag term": (53, 61),
        "ephemeris type": (62, 63),
        "element set number": (64, 68),
        "checksum": (68, 69),
    },
)
LINE_2 = Template(
    "d annnd nnn.dddd nnn.dddd nnnnnnd nnn.dddd nnn.dddd nd.ddddddddnnnnnd",
    {
        "catalogue number": (2, 7),
        "inclination": (8, 16),
        "right ascension of the node": (17, 25),
        "eccentricity": (26, 33),
        "argument of perigee": (34, 42),
        "mean anomaly": (43, 51),
        "mean motion": (52, 63),
        "revolution number": (63, 68),
        "checksum": (68, 69),
    },
)


def holding(cards: Sequence[str], column: int, character: str) -> list[int]:
    """Which cards have that character in that column."""
    return np.flatnonzero(grid(cards)[:, column] == ord(character)).tolist()


def unlike(first: Sequence[str], second: Sequence[str], columns: slice) -> list[int]:
    """Which pairs of cards differ in those columns."""
    differ = grid(first)[:, columns] != grid(second)[:, columns]
    return np.flatnonzero(differ.any(axis=1)).tolist()


def checksums(cards: Sequence[str]) -> Bytes:
    """What each card's digits add up to, ``(n,)``: '-' counts 1, the rest nothing."""
    values = grid(cards, _VALUE_OF)[:, :CHECKSUM]
    # at most 68 × 9, so that sixteen bits do
    return np.asarray(values.sum(axis=1, dtype=np.uint16) % 10, dtype=np.uint8)


def wrong_checksums(cards: Sequence[str]) -> dict[int, str]:
    """Cards whose last digit is not what they add up to, and why."""
    sums = checksums(cards)
    last = "".join([card[CHECKSUM] for card in cards]).encode("latin-1")
    given = np.frombuffer(last, dtype=np.uint8)
    rows = np.flatnonzero(sums + ord("0") != given).tolist()
    return {
        row: f"checksum {chr(given[row])}, but the line adds up to {sums[row]}"
        for row in rows
    }
