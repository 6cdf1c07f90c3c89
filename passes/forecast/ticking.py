"""The computer's clock: whether the system calls it right, and a receiver's word."""

from __future__ import annotations

import os
import re
import select
import stat
import subprocess
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from math import nan
from pathlib import Path
from typing import BinaryIO

import numpy as np

from passes.errors import InputError
from passes.nmea import sentence

#: What a receiver on a plain serial line is late by itself, seconds (common practice,
#: no source).
LINE_LATE_S = (0.1, 0.6)
#: So many seconds of sentences are enough, and so long they are waited for.
ENOUGH, PATIENCE_S = 10, 20.0
#: A receiver sends some hundred bytes a second.
_MOST_BYTES = 4 * 1024 * 1024
_ADJTIMEX_ERROR = 5
_STAMP = re.compile(
    r"\s*(\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d))"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The computer's time minus a receiver's; ``spread_s`` is nan of one second.

    ``offset_s`` is the median and holds the lateness of the line too; ``seconds``
    counts the receiver's seconds compared.  ``live`` is False for a recording.
    """

    offset_s: float
    spread_s: float
    seconds: int
    live: bool


def synchronised() -> bool | None:
    """Whether the system says that its clock is right; None if it does not say."""
    told = _timedatectl()
    return _adjtimex() if told is None else told


def _timedatectl() -> bool | None:
    command = ["timedatectl", "show", "--property=NTPSynchronized", "--value"]
    try:
        told = subprocess.run(command, capture_output=True, text=True, timeout=5)
    except (OSError, subprocess.SubprocessError):
        return None
    return {"yes": True, "no": False}.get(told.stdout.strip())


def _adjtimex() -> bool | None:
    """What the kernel says (Linux): TIME_ERROR is a clock that nobody disciplines.

    In a container it is the host's clock, and as right as that.
    """
    import ctypes

    try:
        libc = ctypes.CDLL(None, use_errno=True)
        state = libc.adjtimex(ctypes.create_string_buffer(512))
    except (OSError, AttributeError):
        return None
    return None if state < 0 else state != _ADJTIMEX_ERROR


def compare(name: str, stdin: BinaryIO) -> Compared:
    """Compare the clock with a receiver's sentences from a device, file or ``-``.

    A line may begin with the time it came at (ISO 8601, with a zone), as a recording
    that notes them has it; a recording without them is taken to have been written
    when its last sentence came.  InputError where no sentence has a time and a date.
    """
    if name == "-":
        return _compared(name, _live(stdin), True)
    try:
        with Path(name).open("rb", buffering=0) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                return _compared(name, _live(file), True)
            return _compared(name, _recorded(file, name), False)
    except OSError as error:
        raise InputError(f"{name}: {error.strerror or error}") from error


def _recorded(file: BinaryIO, name: str) -> Iterator[tuple[float, str]]:
    """Lines with the time they came at: told in the line, else the file's own."""
    written_s = os.fstat(file.fileno()).st_mtime
    lines = file.read(_MOST_BYTES).decode("ascii", "replace").splitlines()
    stamped = [line for line in lines if _STAMP.match(line)]
    for line in stamped or _last_dated(lines):
        yield written_s, line


def _last_dated(lines: list[str]) -> list[str]:
    """The last line that tells a date and a time."""
    for line in reversed(lines):
        try:
            fix, _ = sentence(line)
        except ValueError:
            continue
        if fix is not None and fix.time is not None:
            return [line]
    return []


def _live(stream: BinaryIO) -> Iterator[tuple[float, str]]:
    """Lines with the time at which their first byte was here, until it is enough."""
    end = time.monotonic() + PATIENCE_S
    pending, came_s, total = b"", time.time(), 0
    while time.monotonic() < end and total < _MOST_BYTES:
        chunk = _chunk(stream, end - time.monotonic())
        if not chunk:
            break
        total += len(chunk)
        came_s = came_s if pending else time.time()
        *whole, pending = (pending + chunk).split(b"\n")
        for line in whole:
            yield came_s, line.decode("ascii", "replace")
            came_s = time.time()
    if pending:
        yield came_s, pending.decode("ascii", "replace")


def _chunk(stream: BinaryIO, patience_s: float) -> bytes:
    """Whatever is there, waiting for it at most so long; nothing at the end."""
    try:
        descriptor = stream.fileno()
    except (OSError, ValueError):  # a stand-in without a descriptor
        return stream.read(_MOST_BYTES)
    ready, _, _ = select.select([descriptor], [], [], max(0.0, patience_s))
    return os.read(descriptor, 4096) if ready else b""


def _stamp_s(line: str, came_s: float) -> float:
    """The time a line begins with; where it has none, or no such time, that it came."""
    stamp = _STAMP.match(line)
    try:
        return datetime.fromisoformat(stamp[1]).timestamp() if stamp else came_s
    except ValueError:
        return came_s


def _compared(name: str, lines: Iterable[tuple[float, str]], live: bool) -> Compared:
    """Median and spread over the receiver's seconds, each by its first sentence."""
    offsets: dict[datetime, float] = {}
    day = None
    for came_s, line in lines:
        try:
            fix, day = sentence(line, day)
        except ValueError:
            continue
        if fix is None or fix.time is None or fix.time in offsets:
            continue
        offsets[fix.time] = (
            _stamp_s(line, came_s) - fix.time.replace(tzinfo=UTC).timestamp()
        )
        if live and len(offsets) >= ENOUGH:
            break
    if not offsets:
        raise InputError(
            f"{'standard input' if name == '-' else name}: no sentence with a time and "
            "a date (RMC) and a fix; is the receiver on, with a free view of the sky?"
        )
    low, middle, high = np.quantile(list(offsets.values()), [0.1585, 0.5, 0.8415])
    spread = float(high - low) / 2.0 if len(offsets) > 1 else nan
    return Compared(
        offset_s=float(middle), spread_s=spread, seconds=len(offsets), live=live
    )
