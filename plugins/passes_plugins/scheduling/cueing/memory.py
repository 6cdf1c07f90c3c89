"""What has been done, kept on disk so that a restart repeats and forgets nothing.

One JSON object a line, appended and synced: ``intent`` before a step, ``done`` after
it, ``skipped`` where it was left out; and ``late_s``, how late a subject was taken to
be by keys.  Lines of rehearsals count for rehearsals only.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from pathlib import Path
from typing import Any

from passes.errors import PassesError
from passes.plans.schedule import json_line

_MOST_BYTES = 64_000_000
#: Nobody takes a subject to be later than this, s.
_MOST_LATE_S = 86_400.0
#: The slowest write at first; how early an intent is written at least and at most, s.
_FIRST_S, _LEAST_S, _MOST_S = 0.05, 0.05, 0.5


class Memory:
    """The state of one schedule's steps by their id, and lateness by subject."""

    def __init__(self, path: Path | None, rehearsal: bool = False) -> None:
        self._path, self._rehearsal = path, rehearsal
        self._lock = threading.Lock()
        self._slowest_s = _FIRST_S
        self._file: int | None = None
        self.problems: list[str] = []
        self.states: dict[str, str] = {}
        self.late_s: dict[str, float] = {}
        if path is not None:
            self._open(path)

    # --- reading --------------------------------------------------------------

    def _open(self, path: Path) -> None:
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
            self._hold(self._file)
            content = self._content(self._file)
            self._read(content)
            # A line cut off by a crash must not swallow the next one; and a disk that
            # takes nothing is told now, not at the first step.
            os.write(self._file, b"" if content[-1:] in (b"", b"\n") else b"\n")
            self._sync(path)
        except OSError as error:
            self.close()
            reason = error.strerror or str(error)
            raise PassesError(f"cannot keep the state in {path}: {reason}") from error

    def _hold(self, file: int) -> None:
        """Keep a second run from using the same file."""
        with contextlib.suppress(ImportError):
            import fcntl

            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise OSError(0, "another run is using it") from None

    @staticmethod
    def _content(file: int) -> bytes:
        parts = []
        size = 0
        while part := os.read(file, 1 << 20):
            parts.append(part)
            size += len(part)
            if size > _MOST_BYTES:
                raise OSError(0, "it is too long for a state file (over 64 MB)")
        return b"".join(parts)

    def _read(self, content: bytes) -> None:
        import orjson

        rows = content.split(b"\n")
        for number, row in enumerate(rows, 1):
            if not row.strip():
                continue
            try:
                self._recall(orjson.loads(row))
            except (ValueError, KeyError, TypeError, AttributeError):
                cut = "cut off" if number == len(rows) else "damaged"
                self.problems.append(
                    f"{self._path}:{number}: {cut}; the line is left out"
                )

    def _recall(self, line: Any) -> None:
        """Take in a line; what it lacks is the caller's to tell."""
        mine = bool(line.get("rehearsal")) == self._rehearsal
        if "late_s" in line:
            subject, late_s = str(line["subject"]), float(line["late_s"])
            if not abs(late_s) <= _MOST_LATE_S:
                raise ValueError(late_s)
            if mine:
                self.late_s[subject] = late_s
            return
        name, state = str(line["id"]), str(line["state"])
        if mine:
            self.states[name] = state

    def _sync(self, path: Path) -> None:
        assert self._file is not None
        os.fsync(self._file)
        with contextlib.suppress(OSError):
            folder = os.open(path.absolute().parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)

    # --- writing --------------------------------------------------------------

    @property
    def early_s(self) -> float:
        """How long before a step its intent must be begun, not to be in its way."""
        if self._file is None:
            return 0.0
        return min(max(2.0 * self._slowest_s, _LEAST_S), _MOST_S)

    def note(self, name: str, state: str, **more: Any) -> None:
        """Write a state down for good before returning; PassesError where it fails."""
        self.states[name] = state
        self._write({"id": name, "state": state, **more})

    def note_late(self, subject: str, late_s: float) -> None:
        """The same for how late a subject is taken to be."""
        self.late_s[subject] = late_s
        self._write({"subject": subject, "late_s": late_s})

    def _write(self, line: dict[str, Any]) -> None:
        if self._rehearsal:
            line["rehearsal"] = True
        with self._lock:
            if self._file is None:
                return
            begun = time.monotonic()
            try:
                _write_all(self._file, json_line(line))
                os.fsync(self._file)
            except OSError as error:
                raise PassesError(
                    f"cannot keep the state in {self._path}: {error.strerror or error}"
                ) from error
            took = time.monotonic() - begun
            self._slowest_s = max(took, 0.9 * self._slowest_s, 0.001)

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            if self._file is not None:
                os.close(self._file)
                self._file = None


def _write_all(file: int, content: bytes) -> None:
    while content:
        content = content[os.write(file, content) :]
