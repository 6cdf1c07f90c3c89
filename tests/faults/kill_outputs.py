"""Kill what writes files: any ``--output`` and ``--chart``."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import Any

from killing import Toll, killed, length_of_s, started

_OLD = b"what stood there before\n"
_SHORT_SHEET = ("--limit", "1", "--cards", "0", "--transit-days", "0")
#: Commands, each with the suffix of what it writes and the option that names the file.
OUTPUTS = (
    ("json", ("tonight", "--demo", "--output")),
    ("csv", ("tonight", "--demo", "--output")),
    ("png", ("tonight", "--demo", "--chart")),
    ("ics", ("schedule", "--demo", "--object", "80001", "--output")),
    ("jsonl", ("schedule", "--demo", "--object", "80001", "--output")),
    ("html", ("sheet", "--demo", *_SHORT_SHEET, "--output")),
    ("txt", ("track", "--demo", "--output")),
    ("svg", ("track", "--demo", "--chart")),
)


def writing(folder: Path, count: int, rnd: Random) -> Toll:
    """Any ``--output`` killed: what stood there before, or all of what comes now."""
    toll = Toll(kind="writing outputs")
    tried = OUTPUTS[: max(count // 2, 1)]
    for i, (suffix, command) in enumerate(tried):
        kills = len(range(i, count, len(tried)))
        _write(toll, folder, [*command, str(folder / f"out.{suffix}")], kills, rnd)
    return toll


def _write(
    toll: Toll, folder: Path, command: list[str], kills: int, rnd: Random
) -> None:
    target = Path(command[-1])

    def start() -> Any:
        target.write_bytes(_OLD)
        for part in folder.glob(".passes-*"):
            part.unlink()
        return started(command, folder)

    length_s = length_of_s(start)
    whole = target.read_bytes()
    assert whole != _OLD
    for number in range(kills):
        process = start()
        if number % 2:  # while the file is being written
            killed(process, lambda: any(folder.glob(".passes-*")), _soon(rnd))
        else:
            killed(process, None, rnd.uniform(0.0, length_s))
        found = target.read_bytes()
        toll.count(found != _OLD)
        if found != _OLD and not _alike(found, whole):
            toll.fault(f"{target.name} holds {len(found)} bytes of {len(whole)}")


def _soon(rnd: Random) -> float:
    return rnd.uniform(0.0, 0.004)


def _alike(found: bytes, whole: bytes) -> bool:
    """The same, but for the time at which a page says that it was made."""
    ends = found[-60:] == whole[-60:] and found[:60] == whole[:60]
    return found == whole or (ends and abs(len(found) - len(whole)) < 20)
