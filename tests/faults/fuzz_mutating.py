"""Files spoilt as fuzzing wants them: at random, but with a form's own shape in mind.

Every function takes a ``random.Random``, so that a seed (or hypothesis) decides all.
"""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Callable
from functools import reduce
from random import Random

Mutate = Callable[[bytes, Random], bytes]

#: Values that readers stumble over, put in the place of numbers and words.
_VALUES = (
    *(b"", b"0", b"-0", b"-1", b"1e999", b"-1e999", b"1e-400", b"nan", b"inf", b"NaN"),
    *(b"Infinity", b"1" * 25, b"9" * 400, b"9" * 5000, b"0x10", b"1_0", b"1,5", b"1e5"),
    *(b"null", b"true", b"[]", b"{}", b'""', b"[[[[", b'"\\ud800"', b'"\\u0000"'),
    *(b"0001-01-01T00:00:00Z", b"9999-12-31T23:59:59+14:00", b"2029-02-30T24:00:60Z"),
    *("١٢".encode(), "½".encode(), b"\xff", b"\0", b"\x1b[2J", "\u202e\u2028".encode()),
    *(b"\x85", b"\x1c", b"a" * 3000, b"90.0000001", b"-90.1", b"360", b"720", b"1e308"),
)
_WORD = re.compile(rb"[-+]?\w[\w.+:-]*")
_SENTENCE = re.compile(rb"\$([^*$\r\n]*)\*([0-9A-Fa-f]{2})")
_CARD, _BLOCK = 80, 2880
_LONGEST = 60_000


def spoilt(data: bytes, rnd: Random) -> bytes:
    """One to six changes of bytes, words or lines; most often few."""
    for _ in range(min(rnd.randint(1, 6), rnd.randint(1, 6), rnd.randint(1, 6))):
        data = rnd.choice(_CHANGES)(data, rnd)
    return data[:_LONGEST]


def _byte(data: bytes, rnd: Random) -> bytes:
    place = rnd.randint(0, max(len(data) - 1, 0))
    return data[:place] + bytes([rnd.randint(0, 255)]) + data[place + 1 :]


def _cut(data: bytes, rnd: Random) -> bytes:
    first, last = sorted(rnd.randint(0, len(data)) for _ in range(2))
    return data[:first] + data[last:] if rnd.randint(0, 3) else data[:last]


def _again(data: bytes, rnd: Random) -> bytes:
    first = rnd.randint(0, len(data))
    piece = data[first : first + rnd.randint(1, 400)]
    place = rnd.randint(0, len(data))
    return data[:place] + piece * rnd.randint(1, 3) + data[place:]


def _word(data: bytes, rnd: Random) -> bytes:
    """A word or number becomes one that readers stumble over."""
    found = [match.span() for match in _WORD.finditer(data[:_LONGEST])]
    if not found:
        return rnd.choice(_VALUES)
    first, last = rnd.choice(found)
    return data[:first] + rnd.choice(_VALUES) + data[last:]


def _digit(data: bytes, rnd: Random) -> bytes:
    """Another digit, sign or letter in the place of a digit: widths stay."""
    places = [i for i, byte in enumerate(data[:_LONGEST]) if 48 <= byte <= 57]
    if not places:
        return data
    place = rnd.choice(places)
    return (
        data[:place]
        + rnd.choice(list(b"0123456789-+ .Z")).to_bytes()
        + (data[place + 1 :])
    )


def _line(data: bytes, rnd: Random) -> bytes:
    """A line goes, comes again, or changes its place."""
    lines = data.split(b"\n")
    line = lines.pop(rnd.randint(0, len(lines) - 1))
    for _ in range(rnd.randint(0, 2)):
        lines.insert(rnd.randint(0, len(lines)), line)
    return b"\n".join(lines)


def _inserted(data: bytes, rnd: Random) -> bytes:
    place = rnd.randint(0, len(data))
    return data[:place] + rnd.choice(_VALUES) + data[place:]


_CHANGES: tuple[Mutate, ...] = (_byte, _cut, _again, _word, _word, _digit, _line)
_CHANGES += (_inserted,)


# --- forms with a shape of their own -----------------------------------------------


def summed(data: bytes) -> bytes:
    """Two-line sets whose checksums are right again."""
    lines = data.split(b"\n")
    for i, line in enumerate(lines):
        if line[:2] in (b"1 ", b"2 ") and len(line) >= 69:
            total = sum(c - 48 if 48 <= c <= 57 else c == 45 for c in line[:68])
            lines[i] = line[:68] + b"%d" % (total % 10) + line[69:]
    return b"\n".join(lines)


def spoilt_tle(data: bytes, rnd: Random) -> bytes:
    """Spoilt two-line sets; most keep their checksums, so that values are looked at."""
    data = spoilt(data, rnd)
    return summed(data) if rnd.randint(0, 3) else data


def spoilt_gzip(data: bytes, rnd: Random) -> bytes:
    """Packed text: spoilt within, or as a gzip file; or not packed at all."""
    kind = rnd.randint(0, 3)
    try:
        text = gzip.decompress(data)
    except (OSError, EOFError, zlib.error):
        text = data
    if kind == 0:
        return spoilt(gzip.compress(text, 1), rnd)
    text = spoilt_tle(text, rnd)
    return text if kind == 1 else gzip.compress(text, 1)


def spoilt_nmea(data: bytes, rnd: Random) -> bytes:
    """Spoilt sentences; most keep their checksums."""
    data = spoilt(data, rnd)
    return _SENTENCE.sub(_checked, data) if rnd.randint(0, 3) else data


def _checked(match: re.Match[bytes]) -> bytes:
    return b"$%s*%02X" % (match[1], reduce(lambda a, b: a ^ b, match[1], 0))


def spoilt_fits(data: bytes, rnd: Random) -> bytes:
    """A header of cards of 80 characters with some values replaced; or any bytes."""
    if rnd.randint(0, 4) == 0 or len(data) < _BLOCK:
        return spoilt(data, rnd)
    head, rest = bytearray(data[: 4 * _BLOCK]), data[4 * _BLOCK :]
    for _ in range(rnd.randint(1, 4)):
        card = rnd.randint(0, len(head) // _CARD - 1) * _CARD
        value = rnd.choice(_VALUES)
        if rnd.randint(0, 1):
            value = b"'" + value + b"'"
        head[card + 8 : card + _CARD] = (b"= " + value)[:72].ljust(72)
        if rnd.randint(0, 5) == 0:  # under another name that may mean something
            name = rnd.choice(_KEYWORDS).ljust(8)
            head[card : card + 8] = name
    return bytes(head) + rest


_KEYWORDS = (
    *(b"NAXIS", b"NAXIS1", b"BITPIX", b"DATE-OBS", b"DATE-END", b"MJD-OBS", b"TIMESYS"),
    *(b"XTENSION", b"CTYPE1", b"CRVAL1", b"CD1_1", b"CDELT1", b"A_ORDER", b"B_2_0"),
    *(b"LONPOLE", b"PV1_1", b"EXPTIME", b"XPIXSZ", b"FOCALLEN", b"RA", b"OBJCTDEC"),
    *(
        b"SITELAT",
        b"SITELONG",
        b"XBINNING",
        b"CONTINUE",
        b"HIERARCH",
        b"END",
        b"ZNAXIS1",
    ),
)
