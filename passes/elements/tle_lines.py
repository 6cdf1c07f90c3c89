"""The lines of a two-line file: which belong together, and what is left over."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from passes.elements.catalogue import Ints, Skipped
from passes.elements.parsed import printable, too_many
from passes.elements.tle_grid import ALPHA5, WIDTH, Bools, Bytes

OTHER, FIRST, SECOND, REMARK = range(4)
#: A line longer than this is no name (the published name field has 24 columns).
LONGEST_NAME = 60
#: A line shorter than this is one of the two only if it begins with a number.
_SHORT = 25
_NUMBERED = re.compile(r"[12] ([ A-Z\d][ \d]{3}\d)", re.A)
#: Three lines a record, and room for blank ones.
_LINES_A_RECORD = 4
_FEW_LINES = 1000
_LAST_BLANK, _NEVER_BLANK = ord(" "), 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The lines of one text that are not blank; arrays are ``(n,)``.

    ``text`` has one character a byte (Latin-1), ``plain`` says that all are printable
    ASCII; ``starts`` and ``ends`` point into it, no line begins with a space;
    ``numbers`` counts lines as an editor does; ``pairs`` ``(k,)`` are the lines 1 that
    a line 2 follows at once.
    """

    where: str
    text: str
    plain: bool
    starts: Ints
    ends: Ints
    numbers: Ints
    kinds: Bytes
    pairs: Ints

    @classmethod
    def of(cls, data: bytes, where: str, max_records: int) -> Sheet:
        """Cut a text into lines; ElementsError if they are far too many."""
        codes, starts, ends = _cut(data)
        if codes[starts[starts < ends]].min(initial=_NEVER_BLANK) <= _LAST_BLANK:
            data = b"\n".join(line.strip() for line in data.splitlines())
            codes, starts, ends = _cut(data)
        if len(starts) > _LINES_A_RECORD * max_records + _FEW_LINES:
            raise too_many(where, max_records)
        full = np.flatnonzero(ends > starts)
        starts, ends = starts[full], ends[full]
        kinds = _kinds(data, codes, starts, ends)
        _trim(data, starts, ends, kinds)
        pairs = np.flatnonzero((kinds[:-1] == FIRST) & (kinds[1:] == SECOND))
        if len(pairs) > max_records:
            raise too_many(where, max_records)
        return cls(
            where=where,
            text=data.decode("latin-1"),
            plain=_is_plain(codes),
            starts=starts,
            ends=ends,
            numbers=full + 1,
            kinds=kinds,
            pairs=pairs,
        )

    def line(self, line: int) -> str:
        """One line, a character a byte."""
        return self.text[self.starts[line] : self.ends[line]]

    def cards(self, lines: Ints) -> list[str]:
        """The first 69 columns of some lines."""
        return [self.text[i : i + WIDTH] for i in self.starts[lines].tolist()]

    def names(self, pairs: Ints) -> tuple[list[str], list[str]]:
        """The names of pairs ("" where there is none), and remarks on them."""
        before = pairs - 1
        named = (pairs > 0) & self._nameable()[before]
        starts = np.where(named, self.starts[before], 0)
        ends = np.where(named, self.ends[before], 0)
        text = self.text
        spans = zip(starts.tolist(), ends.tolist(), strict=True)
        raw = [text[i:j].strip() for i, j in spans]
        if self.plain and "0" not in raw:  # no such name: the mark without a name
            return [line.removeprefix("0 ").lstrip() for line in raw], []
        names = [_bare(line) for line in raw]
        odd = any("\ufffd" in name for name in names)
        return names, [f"{self.where}: some names are not plain UTF-8"] if odd else []

    def skip(self, line: int, which: int, reason: str) -> Skipped:
        """Tell that the pair at a line 1 is left out; ``which`` line is at fault."""
        named = line > 0 and self._nameable()[line - 1]
        return Skipped(
            catalog_number=number_in(self.line(line)),
            name=_bare(self.line(line - 1)) if named else "",
            reason=reason,
            where=f"{self.where}:{self.numbers[line + which]}",
        )

    def strays(self) -> Iterator[tuple[int, Skipped]]:
        """Lines that belong to no pair, each told once."""
        nameable = self._nameable()
        used = self.kinds == REMARK
        used[self.pairs] = used[self.pairs + 1] = True
        before = self.pairs[self.pairs > 0] - 1
        used[before[nameable[before]]] = True
        for i in np.flatnonzero(~used).tolist():
            after = i + 1
            if nameable[i] and after < len(used) and not (used | nameable)[after]:
                continue  # the name of what is told next
            yield i, self.skip(i, 0, self._stray_reason(i, bool(nameable[i])))

    def _stray_reason(self, line: int, nameable: bool) -> str:
        if self.kinds[line] == FIRST:
            return "line 1 without its line 2"
        if self.kinds[line] == SECOND:
            return "line 2 without its line 1"
        text = _bare(self.line(line))
        shown = repr(text[:30] + "…" if len(text) > 30 else text)
        if nameable:
            return f"a name without its two lines: {shown}"
        return f"neither a name nor one of the two lines: {shown}"

    def _nameable(self) -> Bools:
        short = self.ends - self.starts <= LONGEST_NAME
        return np.asarray((self.kinds == OTHER) & short)


def _cut(data: bytes) -> tuple[Bytes, Ints, Ints]:
    """The data as codes and where lines start and end, whatever ends them."""
    codes = np.frombuffer(data + b"\n", dtype=np.uint8)
    returns = np.flatnonzero(codes == ord("\r"))
    if (codes[returns + 1] != ord("\n")).any():  # the returns end lines themselves
        return _cut(b"\n".join(data.splitlines()))
    ends = np.flatnonzero(codes == ord("\n"))
    starts = np.concatenate(([0], ends[:-1] + 1))
    return codes, starts, ends - ((ends > starts) & (codes[ends - 1] == ord("\r")))


def _is_plain(codes: Bytes) -> bool:
    """Whether all is printable ASCII but for the ends of lines."""
    odd = (codes < ord(" ")) & (codes != ord("\n")) & (codes != ord("\r"))
    return not (odd | (codes > ord("~"))).any()


def _kinds(data: bytes, codes: Bytes, starts: Ints, ends: Ints) -> Bytes:
    first, second = codes[starts], codes[starts + 1]
    kinds = np.full(len(starts), OTHER, dtype=np.uint8)
    kinds[(first == ord("1")) & (second == ord(" "))] = FIRST
    kinds[(first == ord("2")) & (second == ord(" "))] = SECOND
    kinds[first == ord("#")] = REMARK
    short = ends - starts < _SHORT
    for i in np.flatnonzero(short & ((kinds == FIRST) | (kinds == SECOND))).tolist():
        if not _NUMBERED.match(data[starts[i] : ends[i]].decode("latin-1")):
            kinds[i] = OTHER
    return kinds


def _trim(data: bytes, starts: Ints, ends: Ints, kinds: Bytes) -> None:
    """Take padding, and remarks behind the columns, off lines that seem too long."""
    longest = np.where(kinds == OTHER, LONGEST_NAME, WIDTH)
    for i in np.flatnonzero(ends - starts > longest).tolist():
        line = data[starts[i] : ends[i]].rstrip()
        if kinds[i] != OTHER and line[WIDTH : WIDTH + 1].isspace():
            line = line[:WIDTH]
        ends[i] = starts[i] + len(line)


def number_in(line: str) -> int | None:
    """The catalogue number in one of the two lines, or None if it has none."""
    match = _NUMBERED.match(line)
    text = match[1].strip() if match else ""
    if text.isdigit():
        return int(text)
    if text[:1] in ALPHA5 and text[1:].isdigit():
        return (10 + ALPHA5.index(text[0])) * 10_000 + int(text[1:])
    return None


def _bare(line: str) -> str:
    """A name without padding, without the ``0`` of a name line, fit to be shown."""
    name = line.encode("latin-1").decode("utf-8", "replace")
    return printable((name.strip() + " ").removeprefix("0 "))
