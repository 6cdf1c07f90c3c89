"""Keys typed while steps are given out: + and − move the next object by a second."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def typed(from_terminal: bool) -> Iterator[int | None]:
    """A descriptor that gives single keys, or None where nobody can type.

    ``from_terminal`` asks the terminal itself, because stdin is a schedule.  The
    terminal is put back as it was in the end.
    """
    with contextlib.ExitStack() as stack:
        descriptor = _descriptor(from_terminal, stack)
        given = descriptor is not None and _single_keys(descriptor, stack)
        yield descriptor if given else None


def _single_keys(descriptor: int, stack: contextlib.ExitStack) -> bool:
    """Have the terminal hand over each key at once; whether it does."""
    try:
        import termios
        import tty
    except ImportError:  # not a Unix: no keys
        return False
    try:
        before = termios.tcgetattr(descriptor)
        tty.setcbreak(descriptor)
    except termios.error:
        return False

    def back() -> None:
        with contextlib.suppress(termios.error):
            termios.tcsetattr(descriptor, termios.TCSADRAIN, before)

    stack.callback(back)
    return True


def _descriptor(from_terminal: bool, stack: contextlib.ExitStack) -> int | None:
    """The terminal, where there is one and we are not in its background."""
    try:
        if from_terminal:
            descriptor = os.open("/dev/tty", os.O_RDONLY | os.O_NOCTTY)
            stack.callback(os.close, descriptor)
        elif sys.stdin is None or not sys.stdin.isatty():
            return None
        else:
            descriptor = sys.stdin.fileno()
        if os.tcgetpgrp(descriptor) != os.getpgrp():
            return None
    except (OSError, ValueError, AttributeError):  # the last: not a Unix
        return None
    return descriptor


def shift_s(keys: bytes) -> float:
    """Seconds that some keys ask for."""
    later = keys.count(b"+") + keys.count(b"=")
    sooner = keys.count(b"-") + keys.count(b"_") + keys.count("−".encode())
    return float(later - sooner)
