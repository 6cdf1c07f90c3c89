"""Columns of text that fit a terminal: what gives way when there is no room.

Own code, because the ready-made table printers wrap or squeeze every column, while
here one column (the name) gives way and the least needed columns are left out.
"""

import os
import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import IO, Any, Literal

from passes.model.text import legible

_GAP = "  "
#: Terminal styles: bold for headings; red on black keeps the eye's dark adaptation.
_BOLD, _RED, _END = "\x1b[1m", "\x1b[31;40m", "\x1b[0m"
_STYLES = re.compile(r"(\x1b\[(?:1|31;40|0)m)")
#: The elastic column is never narrower than this while a column can be left out.
_COMFORTABLE = 14
_NARROWEST = 6

Theme = Literal["", "light", "dark", "red"]


@dataclass(frozen=True, slots=True)
class Screen:
    """Where text will be read: columns of width, and whether styles are understood."""

    width: int = 80
    styled: bool = False
    theme: Theme = ""

    @classmethod
    def of(cls, stream: IO[Any] | None, theme: Theme = "") -> "Screen":
        """What is known of a stream: a terminal has a width and may have styles.

        ``NO_COLOR`` is honoured unless a theme was asked for by name.
        """
        import shutil

        columns = shutil.get_terminal_size((80, 24)).columns
        terminal = stream is not None and not stream.closed and stream.isatty()
        dumb = os.environ.get("TERM", "") in ("", "dumb") and sys.platform != "win32"
        plain = bool(os.environ.get("NO_COLOR")) and theme != "red"
        return cls(
            width=max(columns, 20),
            styled=terminal and not dumb and not plain,
            theme=theme,
        )

    def bold(self, text: str) -> str:
        """A heading."""
        return f"{_BOLD}{text}{_END}" if self.styled and self.theme != "red" else text

    def finish(self, lines: Iterable[str]) -> str:
        """Lines as one text ending in a newline; whole lines of red where asked for.

        Whatever could steer the terminal, beside our own styles, is made harmless.
        """
        lines = map(self._harmless, lines)
        if self.styled and self.theme == "red":
            lines = (f"{_RED}{fitted(line, self.width)}{_END}" for line in lines)
        return "".join(f"{line}\n" for line in lines)

    def _harmless(self, line: str) -> str:
        if line.isascii() and line.isprintable():
            return line
        if not self.styled:
            return legible(line)
        parts = _STYLES.split(line)
        parts[::2] = map(legible, parts[::2])
        return "".join(parts)


@dataclass(frozen=True, slots=True)
class Column:
    """One column; ``drop`` above 0 may be left out, the highest first."""

    heading: str
    align: Literal["left", "right"] = "left"
    drop: int = 0
    elastic: bool = False


def listing(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], screen: Screen
) -> list[str]:
    """A table as lines: headings, then rows, no wider than the screen if possible.

    Cells must be harmless already (:func:`passes.tables.plain`).
    """
    natural = [
        max([cells(column.heading), *(cells(row[i]) for row in rows)])
        for i, column in enumerate(columns)
    ]
    kept = _kept(columns, natural, screen.width)
    room = screen.width - _total(columns, natural, kept, elastic=0)
    widths = {
        i: min(natural[i], max(room, _NARROWEST)) if columns[i].elastic else natural[i]
        for i in kept
    }
    headings = [column.heading for column in columns]
    lines = [_line(columns, row, widths) for row in (headings, *rows)]
    return [screen.bold(lines[0]), *lines[1:]]


def _kept(columns: Sequence[Column], natural: list[int], width: int) -> list[int]:
    """Columns that fit: the least needed are left out one by one."""
    kept = list(range(len(columns)))
    while _total(columns, natural, kept, elastic=_COMFORTABLE) > width:
        last = max(kept, key=lambda i: columns[i].drop)
        if not columns[last].drop:
            break
        kept.remove(last)
    return kept


def _total(
    columns: Sequence[Column], natural: list[int], kept: list[int], elastic: int
) -> int:
    widths = [
        min(natural[i], elastic) if columns[i].elastic else natural[i] for i in kept
    ]
    return sum(widths) + len(_GAP) * (len(kept) - 1)


def _line(columns: Sequence[Column], row: Sequence[str], widths: dict[int, int]) -> str:
    parts = [fitted(row[i], width, columns[i].align) for i, width in widths.items()]
    return _GAP.join(parts).rstrip()


def cells(text: str) -> int:
    """How many columns of a terminal a text takes."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def fitted(text: str, width: int, align: Literal["left", "right"] = "left") -> str:
    """Text padded to a width, or cut to it with ``…``."""
    have = cells(text)
    if have > width:
        from rich.cells import set_cell_size

        return set_cell_size(text, width - 1) + "…" if width > 0 else ""
    padding = " " * (width - have)
    return padding + text if align == "right" else text + padding


def paragraph(text: str, screen: Screen, indent: str = "") -> list[str]:
    """A sentence as lines that fit the screen, the later ones indented.

    Options, names and dates stay whole: nothing is broken at a hyphen.
    """
    import textwrap

    lines = textwrap.wrap(
        text,
        max(screen.width, 20),
        subsequent_indent=indent,
        break_long_words=True,
        break_on_hyphens=False,
    )
    return lines or [""]


def labelled(pairs: Iterable[tuple[str, str]], screen: Screen) -> list[str]:
    """A few labels with what they stand for, in two columns."""
    pairs = list(pairs)
    width = max((len(label) for label, _ in pairs), default=0) + len(_GAP)
    lines = []
    for label, text in pairs:
        lines += paragraph(f"{label:<{width}}{text}", screen, " " * width)
    return lines
