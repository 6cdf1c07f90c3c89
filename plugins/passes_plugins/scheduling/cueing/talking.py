"""What the person at the eyepiece sees and hears: lines, a countdown, a bell."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from passes.errors import PassesError
from passes.model import Step
from passes.options import Program
from passes.plans.schedule import iso, json_line
from passes.tables import plain
from passes_plugins.scheduling.cueing.agenda import Item

#: A bell rings so long before a step, s.
BELLS_S = (60.0, 10.0, 0.0)


def moment(seconds: float) -> datetime:
    """Seconds since 1970 as a time."""
    return datetime.fromtimestamp(seconds, UTC)


def stamp(seconds: float) -> str:
    """The same as text, down to whole milliseconds, as schedules have them."""
    time = moment(seconds)
    return iso(time.replace(microsecond=time.microsecond // 1000 * 1000))


def lapse(seconds: float) -> str:
    """How long, in a unit that can be read at a glance."""
    if seconds < 120.0:
        return f"{seconds:.1f} s"
    if seconds < 7200.0:
        return f"{seconds / 60.0:.0f} min"
    if seconds < 172_800.0:
        return f"{seconds / 3600.0:.0f} h"
    return f"{seconds / 86_400.0:.0f} days"


def named(step: Step) -> str:
    """A step in a few words: what, of whom, with which rig."""
    rig = f" ({plain(step.rig, 30)})" if step.rig else ""
    words = (step.advice or {}).get("words")
    what = f": {plain(str(words), 100)}" if words else ""
    return f"{plain(step.event, 20)} {plain(step.subject, 60)}{rig}{what}"


class Talk:
    """Lines on stderr, under a countdown where that is a terminal."""

    def __init__(self, run: Program, stream: IO[str] | None, quiet: bool) -> None:
        self._run, self._stream = run, stream
        terminal = stream is not None and not stream.closed and stream.isatty()
        #: Whether there is a countdown and bells.
        self.lively = terminal and not quiet
        self._shown = False
        self._lock = threading.RLock()

    def tell(self, text: str) -> None:
        """One line, from any thread."""
        with self._lock:
            self._clear()
            self._run.say(text)

    def some(self, lines: Sequence[str], most: int = 20) -> None:
        """Lines, but not more than so many."""
        for line in lines[:most]:
            self.tell(line)
        if len(lines) > most:
            self.tell(f"  and {len(lines) - most} more")

    def countdown(self, item: Item, now: float, late_s: float) -> None:
        """How long until the next step, in place of what stood there."""
        if not self.lively or self._stream is None:
            return
        late = f", taken {late_s:+g} s late" if late_s else ""
        text = f"{_until(item.due - now)} to {named(item.entry.step)}{late}"
        screen = self._run.screen(self._stream)
        red = "\x1b[31;40m" if screen.styled and screen.theme == "red" else ""
        with self._lock:
            cut = text[: screen.width - 1]
            self._stream.write(f"\r{red}{cut}\x1b[K{red and chr(27) + '[0m'}")
            self._stream.flush()
            self._shown = True

    def bell(self) -> None:
        """For eyes that are busy."""
        if self.lively and self._stream is not None:
            with self._lock:
                self._stream.write("\a")
                self._stream.flush()

    def apart(self, write: Callable[[bytes], None]) -> Callable[[bytes], None]:
        """What writes to stdout, but never into a countdown on the same terminal."""
        if not self.lively or sys.stdout is None or not sys.stdout.isatty():
            return write

        def in_its_own_line(line: bytes) -> None:
            with self._lock:
                self._clear()
                write(line)

        return in_its_own_line

    def _clear(self) -> None:
        if self._shown and self._stream is not None:
            self._stream.write("\r\x1b[K")
            self._stream.flush()
            self._shown = False

    def close(self) -> None:
        """Take the countdown away."""
        with self._lock:
            self._clear()


def _until(seconds: float) -> str:
    whole = max(int(seconds + 0.5), 0)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


class Log:
    """A file of what happened, one JSON object a line; None is no file."""

    def __init__(self, path: Path | None) -> None:
        self._lock = threading.Lock()
        self._file: IO[bytes] | None = None
        if path is not None:
            try:
                self._file = path.open("ab", buffering=0)
            except OSError as error:
                raise PassesError(
                    f"cannot write {path}: {error.strerror or error}"
                ) from error

    def note(self, what: str, now: float, **more: Any) -> str:
        """Add a line; gives what went wrong, once."""
        if self._file is None:
            return ""
        line = json_line({"time": stamp(now), "what": what, **more})
        with self._lock:
            try:
                self._file.write(line)
            except OSError as error:
                self._file = None
                return f"the log cannot be written any more: {error.strerror or error}"
        return ""

    def close(self) -> None:
        """Let go of the file."""
        if self._file is not None:
            self._file.close()
