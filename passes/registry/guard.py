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

    SystemExit is caught too: a plugin does not decide when the program ends.
    KeyboardInterrupt is the user's and passes through.
    """
    try:
        return run()
    except (Exception, SystemExit) as error:
        return Failure(error)


@contextmanager
def watched(limit_s: float, on_slow: Callable[[], str]) -> Iterator[None]:
    """Turn stdout to stderr, and say on stderr when the limit is passed.

    The line comes from a timer's thread, so that a call that never returns is named
    too.  ``sys.stdout`` belongs to the whole process: calls are not made in parallel.
    """
    stderr = sys.stderr

    def tell() -> None:
        stderr.write(on_slow() + "\n")
        stderr.flush()

    timer = threading.Timer(limit_s, tell)
    timer.daemon = True
    timer.start()
    try:
        with redirect_stdout(stderr):
            yield
    finally:
        timer.cancel()
