"""Keys typed while steps are given out: + and − move the next subject by a second."""

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
    try:
        import termios
        import tty
    except ImportError:  # not a Unix: no keys
        yield None
        return
    with contextlib.ExitStack() as stack:
        descriptor = _descriptor(from_terminal, stack)
        if descriptor is None:
            yield None
            return
        try:
            before = termios.tcgetattr(descriptor)
            tty.setcbreak(descriptor)
        except termios.error:
            yield None
            return
        try:
            yield descriptor
        finally:
            with contextlib.suppress(termios.error):
                termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


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
    except (OSError, ValueError):
        return None
    return descriptor


def shift_s(keys: bytes) -> float:
    """Seconds that some keys ask for."""
    later = keys.count(b"+") + keys.count(b"=")
    sooner = keys.count(b"-") + keys.count(b"_") + keys.count("−".encode())
    return float(later - sooner)
