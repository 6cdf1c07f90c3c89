"""Steps as lines on stdout, written by a thread of their own.

A reader that has stopped reading must not hold up what is due for others.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
from collections.abc import Callable

_After = Callable[[], None]


def to_stdout() -> Callable[[bytes], None]:
    """What writes to stdout past every buffer; through it where there is no file."""
    stream = sys.stdout
    stream.flush()
    try:
        descriptor = stream.fileno()
    except (OSError, ValueError):
        return lambda line: (stream.buffer.write(line), stream.buffer.flush())[1]

    def write(line: bytes) -> None:
        while line:
            line = line[os.write(descriptor, line) :]

    return write


class Giver:
    """Writes lines, each at once and in order; ``write`` takes all of a line."""

    def __init__(
        self, write: Callable[[bytes], None], on_trouble: Callable[[str], None]
    ) -> None:
        self._write, self._on_trouble = write, on_trouble
        self._queue: queue.SimpleQueue[tuple[bytes, _After] | None] = (
            queue.SimpleQueue()
        )
        #: Whether nobody can be reached any more.
        self.broken = False
        self._thread = threading.Thread(target=self._run, daemon=True, name="giver")
        self._thread.start()

    def give(self, line: bytes, after: _After) -> None:
        """Write a line soon, then call ``after``; returns at once."""
        self._queue.put((line, after))

    def _run(self) -> None:
        while (item := self._queue.get()) is not None:
            line, after = item
            if not self.broken:
                self._try(line)
            if not self.broken:
                after()

    def _try(self, line: bytes) -> None:
        try:
            self._write(line)
        except (OSError, ValueError) as error:
            self.broken = True
            self._on_trouble(getattr(error, "strerror", None) or str(error))

    def close(self, patience_s: float = 2.0) -> bool:
        """Wait for what is still to be written; whether all of it was."""
        self._queue.put(None)
        self._thread.join(patience_s)
        return not self._thread.is_alive() and not self.broken
