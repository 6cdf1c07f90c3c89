"""Running a program for each step: never through a shell, never waited for."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import IO, Any

from passes.plans.schedule import FIELDS, json_line

#: What may stand in braces in an argument.
_NAME = re.compile(r"\{([a-z_]+(?:\.[a-z0-9_]+)*)\}")
#: How much of a program's output is kept, bytes.
_KEPT = 16_384
#: No variable is longer, bytes (Linux refuses a program over 128 KiB: execve(2)).
_LONGEST = 65_536
#: How long a program has to end once it was asked to, s.
_MERCY_S = 2.0
#: How long a finished program's output may stay open in its children, s.
_DRAIN_S = 0.5
#: Names for arguments and environment beside the step's own fields.
_MORE = ("cued_at", "lateness_s")


@dataclass(frozen=True, slots=True)
class Result:
    """How a program ended; ``code`` is None where it could not be started."""

    id: str
    code: int | None
    seconds: float
    output: str = ""
    trouble: str = ""

    @property
    def failed(self) -> bool:
        """Whether it did not do its work."""
        return self.code != 0 or bool(self.trouble)

    def words(self) -> str:
        """How it ended, how long it took and the first of what it said."""
        from passes.tables import plain

        how = self.trouble or f"ended with {self.code}"
        took = f" after {self.seconds:.2f} s" if self.code is not None else ""
        said = f": {plain(self.output, 160)}" if self.output.strip() else ""
        return f"program {how}{took}{said}"


def unknown_names(arguments: Sequence[str]) -> list[str]:
    """Placeholders that no step can fill."""
    found = [name for text in arguments for name in _NAME.findall(text)]
    heads = (*FIELDS, *_MORE)
    return [name for name in found if name.partition(".")[0] not in heads]


def filled(argument: str, document: Mapping[str, Any]) -> str:
    """An argument with each ``{name}`` replaced; what is not known becomes nothing."""
    return _NAME.sub(lambda match: _word(_found(document, match[1])), argument)


def _found(document: Any, path: str) -> Any:
    for name in path.split("."):
        document = document.get(name) if isinstance(document, Mapping) else None
    return document


def _word(value: Any) -> str:
    """A value as one word of text; NUL cannot be handed over."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str | int | float):
        return str(value).replace("\0", "")
    return json_line({"": value})[4:-2].decode()


def environment(document: Mapping[str, Any]) -> dict[str, str]:
    """The step as variables ``PASSES_STEP_ID``, ``PASSES_STEP_EVENT`` and so on.

    What is too long for a variable is empty; the program has it on its stdin.
    """
    words = {name: _word(document.get(name)) for name in (*FIELDS, *_MORE)}
    return {
        f"PASSES_STEP_{name.upper()}": word if len(word.encode()) < _LONGEST else ""
        for name, word in words.items()
    }


@dataclass(slots=True)
class Programs:
    """Starts the program for a step in a thread of its own, and reports its end."""

    command: tuple[str, ...]
    time_out_s: float
    on_end: Callable[[Result], None]
    _running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    _threads: list[threading.Thread] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _ending: bool = False

    def start(self, name: str, document: Mapping[str, Any]) -> None:
        """Begin at once; returns without waiting."""
        thread = threading.Thread(
            target=self._follow, args=(name, document), name=name, daemon=True
        )
        self._threads = [one for one in self._threads if one.is_alive()]
        self._threads.append(thread)
        thread.start()

    def _follow(self, name: str, document: Mapping[str, Any]) -> None:
        begun = time.monotonic()
        try:
            process = self._begin(document)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            self.on_end(Result(name, None, 0.0, trouble=f"cannot be started: {reason}"))
            return
        with self._lock:
            self._running[name] = process
            late = self._ending
        if late:
            _signal(process, signal.SIGTERM)
        kept = _Kept(process.stdout)
        trouble = _wait(process, json_line(document), self.time_out_s)
        seconds = time.monotonic() - begun
        with self._lock:
            del self._running[name]
        if self._ending and not trouble:
            trouble = "stopped with us" if process.returncode else ""
        self.on_end(Result(name, process.returncode, seconds, kept.text(), trouble))

    def _begin(self, document: Mapping[str, Any]) -> subprocess.Popen[bytes]:
        first, *rest = self.command
        return subprocess.Popen(
            [first, *(filled(argument, document) for argument in rest)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **environment(document)},
            start_new_session=True,
        )

    def running(self) -> list[str]:
        """Ids of the steps whose programs have not ended."""
        with self._lock:
            return list(self._running)

    def busy(self) -> bool:
        """Whether a program runs, or its end is still being told."""
        return any(thread.is_alive() for thread in self._threads)

    def end(self) -> None:
        """Ask every program to end, and wait for it."""
        with self._lock:
            self._ending = True
            running = list(self._running.values())
        for process in running:
            _signal(process, signal.SIGTERM)
        until = time.monotonic() + _MERCY_S
        for thread in list(self._threads):
            thread.join(max(until - time.monotonic(), 0.0))
        with self._lock:
            running = list(self._running.values())
        for process in running:
            _signal(process, signal.SIGKILL)
        for thread in list(self._threads):
            thread.join(1.0)


class _Kept:
    """The first part of a program's output; the rest is read and let go."""

    def __init__(self, stream: IO[bytes] | None) -> None:
        self._stream, self._parts, self._size = stream, list[bytes](), 0
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self._stream is not None
        with contextlib.suppress(OSError, ValueError):
            while part := os.read(self._stream.fileno(), 65_536):
                room = _KEPT - self._size
                if room > 0:
                    self._parts.append(part[:room])
                self._size += len(part)

    def text(self) -> str:
        """What was said, once the program has ended."""
        self._thread.join(_DRAIN_S)
        if self._stream is not None and not self._thread.is_alive():
            self._stream.close()
        text = b"".join(self._parts).decode("utf-8", "replace")
        return text + ("…" if self._size > _KEPT else "")


def _wait(process: subprocess.Popen[bytes], line: bytes, time_out_s: float) -> str:
    """Hand over the step and wait; what went wrong, if anything did."""
    feeder = threading.Thread(target=_feed, args=(process, line), daemon=True)
    feeder.start()
    try:
        process.wait(time_out_s)
    except subprocess.TimeoutExpired:
        _signal(process, signal.SIGTERM)
        try:
            process.wait(_MERCY_S)
        except subprocess.TimeoutExpired:
            _signal(process, signal.SIGKILL)
            process.wait()
        return f"hung, and was stopped after {time_out_s:g} s"
    return ""


def _feed(process: subprocess.Popen[bytes], line: bytes) -> None:
    """The step on stdin; a program that does not read it is no failure."""
    assert process.stdin is not None
    with contextlib.suppress(OSError, ValueError):
        process.stdin.write(line)
    with contextlib.suppress(OSError, ValueError):
        process.stdin.close()


def _signal(process: subprocess.Popen[bytes], number: int) -> None:
    """To the program and what it started: it leads a group of its own."""
    with contextlib.suppress(OSError):
        os.killpg(process.pid, number)
