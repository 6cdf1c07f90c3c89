"""Who offers what, and what went wrong with whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar

from passes.contributions import Contribution, Stage
from passes.errors import PassesError
from passes.registry.guard import Failure, caught

C_co = TypeVar("C_co", bound=Contribution, covariant=True)

#: How a plugin is doing: one word for people and machines alike.
State = Literal["working", "faulty", "absent", "disabled"]
_LONGEST_LINE = 400


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a contribution comes from: plugin, distribution and its version."""

    plugin: str
    distribution: str = ""
    version: str = ""

    def __str__(self) -> str:
        whence = " ".join(part for part in (self.distribution, self.version) if part)
        return one_line(f"{self.plugin} ({whence})" if whence else self.plugin)


@dataclass(frozen=True, slots=True)
class Provided(Generic[C_co]):
    """A contribution and where it comes from."""

    origin: Origin
    item: C_co


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Something that went wrong with one plugin, and at which stage."""

    origin: Origin
    stage: Stage
    error: BaseException

    def line(self) -> str:
        """The problem in one line of plain text."""
        return one_line(f"plugin {self.origin}: {self.stage}: {self.message()}")

    def message(self) -> str:
        """What the error says, in one line of plain text."""
        return one_line(describe(self.error))

    def __str__(self) -> str:
        return self.line()

    def detail(self) -> str:
        """The traceback, for whoever wrote the plugin."""
        import traceback

        return "".join(traceback.format_exception(self.error)).rstrip()


@dataclass(frozen=True, slots=True)
class Listed:
    """One plugin as ``passes plugins`` shows it; ``load_s`` is its import time."""

    origin: Origin
    state: State
    load_s: float
    provided: tuple[Provided[Any], ...] = ()
    problems: tuple[Problem, ...] = ()


def describe(error: BaseException) -> str:
    """What an error says; our own errors speak for themselves, others give a name."""
    told = caught(lambda: str(error).strip())
    text = "an error that cannot describe itself" if isinstance(told, Failure) else told
    if isinstance(error, PassesError) and text:
        return text
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def one_line(text: str) -> str:
    """Text from outside as one printable line: no control characters, not endless."""
    words = " ".join(text.split())
    plain = "".join(c if c.isprintable() else "�" for c in words)
    return plain if len(plain) <= _LONGEST_LINE else plain[: _LONGEST_LINE - 1] + "…"
