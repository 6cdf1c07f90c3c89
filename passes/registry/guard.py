"""The one place where any fault of a plugin is caught, and each call is watched."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class Failure:
    """What a call ended with instead of an answer."""

    error: BaseException


def caught(run: Callable[[], T]) -> T | Failure:
    """Run something that may fail in any way; hand back its answer or the failure.

    SystemExit and its like are caught too: a plugin does not decide when the program
    ends.  KeyboardInterrupt is the user's and passes through.
    """
    try:
        return run()
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        return Failure(error)


@contextmanager
def watched(limit_s: float, on_slow: Callable[[], None]) -> Iterator[None]:
    """Turn stdout to stderr, and call ``on_slow`` when the limit is passed.

    It is called from a timer's thread, so that a call that never returns is named
    too.  ``sys.stdout`` belongs to the whole process: calls are not made in parallel.
    """
    timer = threading.Timer(limit_s, on_slow)
    timer.daemon = True
    timer.start()
    try:
        with redirect_stdout(sys.stderr):
            yield
    finally:
        timer.cancel()


def to_stderr(line: str) -> None:
    """A line of talk on stderr."""
    if sys.stderr is not None:
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()
