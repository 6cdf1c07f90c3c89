"""The six kinds of contribution, one per noun that a user can choose or list."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from passes.errors import InputError

if TYPE_CHECKING:
    import click

    from passes.contributions.exchange import (
        Answer,
        Briefing,
        Brightness,
        ElementBatch,
        ElementQuery,
        Illumination,
        SessionBriefing,
    )
    from passes.model import Advice, Report

_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*\Z")


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """Common head of every contribution: how users see it and ask for it.

    ``word`` is what a person calls the kind; ``asks`` names the field with the
    callable.  Raises InputError where a field cannot be used as it stands.
    """

    word: ClassVar[str] = "contribution"
    asks: ClassVar[str] = ""

    name: str
    summary: str

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not _NAME.match(self.name):
            raise InputError(
                f"{self.word} name {self.name!r}: "
                "use lower-case words joined by hyphens"
            )
        if not isinstance(self.summary, str) or not self.summary.strip():
            raise InputError(f"{self.word} {self.name}: the summary must say something")
        if not self.summary.isprintable():
            raise InputError(
                f"{self.word} {self.name}: the summary must be one line of plain text"
            )
        if self.asks and not callable(getattr(self, self.asks)):
            raise InputError(f"{self.word} {self.name}: {self.asks} must be callable")


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementSource(Contribution):
    """A kind of place that publishes element sets."""

    word: ClassVar[str] = "element source"
    asks: ClassVar[str] = "fetch"

    fetch: Callable[[ElementQuery], ElementBatch]
    online: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BrightnessModel(Contribution):
    """A model of how bright objects look."""

    word: ClassVar[str] = "brightness model"
    asks: ClassVar[str] = "magnitude"

    magnitude: Callable[[Illumination], Brightness]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adviser(Contribution):
    """Advice on one subject; every installed adviser is consulted."""

    word: ClassVar[str] = "adviser"
    asks: ClassVar[str] = "advise"

    advise: Callable[[Briefing], Advice]


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionReporter(Contribution):
    """A report on a session; ``kinds`` are the kinds of report it makes.

    One that is not ``unasked`` is asked only where one of its kinds is named.  One that
    ``needs_reports`` is asked after the others, and gets what they said.
    """

    word: ClassVar[str] = "session reporter"
    asks: ClassVar[str] = "report"

    report: Callable[[SessionBriefing], Report]
    kinds: tuple[str, ...] = ()
    unasked: bool = True
    needs_reports: bool = False

    def __post_init__(self) -> None:
        Contribution.__post_init__(self)
        _hold_words(self, "kinds")


@dataclass(frozen=True, slots=True, kw_only=True)
class Exporter(Contribution):
    """A file format; chosen by its name or by a suffix such as ``.ics``.

    ``accepts`` are the kinds of :class:`Answer` it can write.
    """

    word: ClassVar[str] = "exporter"
    asks: ClassVar[str] = "export"

    export: Callable[[Answer], str]
    accepts: tuple[str, ...] = ()
    suffixes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        Contribution.__post_init__(self)
        _hold_words(self, "accepts", "suffixes")
        for suffix in self.suffixes:
            if not suffix.startswith(".") or suffix != suffix.lower():
                raise InputError(
                    f"exporter {self.name}: suffix {suffix!r} must be a dot and "
                    "lower-case letters, such as '.ics'"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Command(Contribution):
    """A command; ``load`` imports what it needs and returns the click command.

    The program's help shows ``summary`` and calls ``load`` only when the command is
    typed.  The command finds a :class:`Services` as the click context's object.
    """

    word: ClassVar[str] = "command"
    asks: ClassVar[str] = "load"

    load: Callable[[], click.Command]


def _hold_words(contribution: Contribution, *fields: str) -> None:
    """Make the named fields tuples of words; one bare word is a slip worth telling."""
    for field in fields:
        value = getattr(contribution, field)
        words = () if isinstance(value, str) else tuple(value)
        if isinstance(value, str) or not all(isinstance(word, str) for word in words):
            raise InputError(
                f"{contribution.word} {contribution.name}: {field} must be a tuple of "
                f"words, not {value!r}"
            )
        object.__setattr__(contribution, field, words)
