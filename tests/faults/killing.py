"""Programs killed at random moments, and what their files look like afterwards.

A program runs in a process that has imported everything before, so that the moments
fall into its work, not into its start.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import loopback
from cue_help import CAMERA, steps, written

from passes import elements
from passes.archive import Archive
from passes.testing.elements import element_sets, element_text

#: Sets that a program adds to the archive; whole additions are of so many.
ADDED = 1500
_NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)
_OLD = b"what stood there before\n"
_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(
    [
        *("passes.cli", "passes.archive", "passes.elements", "passes.forecast"),
        *("passes_plugins.sheet", "passes_plugins.scheduling"),
        *("httpx", "matplotlib.figure", "skyfield.api"),
    ]
)


@dataclass(slots=True, kw_only=True)
class Toll:
    """What has come of the kills: how many fell before the work was done and after.

    ``faults`` says, a line each, what was lost, halved, repeated or forgotten.
    """

    kind: str
    kills: int = 0
    before: int = 0
    after: int = 0
    faults: list[str] = field(default_factory=list)

    def count(self, done: bool) -> None:
        """One more kill, before or after the work was done."""
        self.kills += 1
        self.after += done
        self.before += not done

    def fault(self, what: str) -> None:
        """Something that must not be."""
        self.faults.append(f"{self.kind}, kill {self.kills}: {what}")


# --- programs -----------------------------------------------------------------------


def _work(args: Sequence[str], environment: Mapping[str, str], log: str) -> None:
    """Be the program, its output in a file."""
    os.environ.clear()
    os.environ.update(environment)
    target = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o666)
    os.dup2(target, 1)
    os.dup2(target, 2)
    from passes.cli import cli

    cli.main(list(args), prog_name="passes")


def started(args: Sequence[str], home: Path, **more: str) -> Any:
    """A running program with a home folder of its own."""
    environment = {
        **os.environ,
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "NO_PROXY": "127.0.0.1",
        **more,
    }
    process = _CONTEXT.Process(
        target=_work, args=(list(args), environment, str(home / "told"))
    )
    process.start()
    return process


def _killed(process: Any, when: Callable[[], bool] | None, after_s: float) -> bool:
    """Kill it so long after ``when`` holds; whether it had ended by itself."""
    while when is not None and process.is_alive() and not when():
        time.sleep(2e-4)
    process.join(after_s)
    ended = not process.is_alive()
    process.kill()
    process.join()
    code = process.exitcode
    process.close()
    if ended and code:
        raise AssertionError(f"the program ended with {code}")
    return ended


def _length_s(start: Callable[[], Any]) -> float:
    """How long the program takes when nobody kills it."""
    process = start()
    begun = time.monotonic()
    assert _killed(process, None, 300.0)
    return time.monotonic() - begun


# --- the archive --------------------------------------------------------------------


def _made_sets() -> str:
    like = element_sets()[0]
    made = [replace(like, catalog_number=81001 + i) for i in range(ADDED)]
    return elements.tle_text(elements.as_catalogue(made))


def _sets(path: Path) -> int:
    """How many sets a sound archive holds; AssertionError for any other."""
    db = sqlite3.connect(path)
    try:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    finally:
        db.close()
    return Archive(path).holdings(_NOW).sets


class _Kept:
    """An archive of two sets, put back before each kill."""

    def __init__(self, folder: Path) -> None:
        self.path, self._first = folder / "kept.sqlite", folder / "first.sqlite"
        self._log = folder / "kept.sqlite-wal"
        Archive(self._first).add(elements.read_text(element_text()).catalogue, _NOW)

    def renewed(self) -> None:
        """Two sets again, and nothing left of what was added."""
        for one in self.path.parent.glob("kept.sqlite*"):
            one.unlink()
        shutil.copy(self._first, self.path)

    def is_written(self) -> bool:
        """Whether an addition is under way."""
        return self._log.exists() and self._log.stat().st_size > 0

    def killed(self, process: Any, number: int, length_s: float, rnd: Random) -> None:
        """Every other kill falls while the archive is being written, or just after."""
        if number % 2:
            _killed(process, self.is_written, rnd.uniform(0.0, 0.1 * length_s))
        else:
            _killed(process, None, rnd.uniform(0.0, 1.1 * length_s))

    def judge(self, toll: Toll) -> None:
        """Count a kill; say what is amiss with what it left."""
        kept = _sets(self.path)
        toll.count(kept == 2 + ADDED)
        if kept not in (2, 2 + ADDED):
            toll.fault(f"{kept} sets, not 2 and not {2 + ADDED}")
        again = Archive(self.path).add(elements.read_text(_made_sets()).catalogue, _NOW)
        if again.new != 2 + ADDED - kept or again.aside:
            toll.fault(f"adding anew brought {again.new} sets to {kept}")


def adding(folder: Path, count: int, rnd: Random) -> Toll:
    """``passes elements add`` killed: all of it is in, or nothing."""
    toll, kept = Toll(kind="adding elements"), _Kept(folder)
    (folder / "sets.tle").write_text(_made_sets())
    command = ["--archive", str(kept.path), "elements", "add"]
    command.append(str(folder / "sets.tle"))

    def start() -> Any:
        kept.renewed()
        return started(command, folder)

    length_s = _length_s(start)
    for number in range(count):
        kept.killed(start(), number, length_s, rnd)
        kept.judge(toll)
    return toll


def fetching(folder: Path, count: int, rnd: Random) -> Toll:
    """``passes elements fetch`` killed: sets and what the source said, or neither."""
    toll, kept = Toll(kind="fetching"), _Kept(folder)
    command = ["--archive", str(kept.path), "elements", "fetch"]
    with loopback.serving() as server:
        piece = len(_made_sets()) // 8
        server.says(loopback.slowly(_made_sets().encode(), each_s=0.01, piece=piece))
        settings = folder / "config" / "passes" / "passes.toml"
        settings.parent.mkdir(parents=True)
        settings.write_text(f'[sources.club]\nurl = "{server.url}"\n')

        def start() -> Any:
            kept.renewed()
            return started(command, folder)

        length_s = _length_s(start)
        for number in range(count):
            kept.killed(start(), number, length_s, rnd)
            asked = Archive(kept.path).source("club").asked
            if (asked is not None) != (_sets(kept.path) > 2):
                toll.fault(f"asked {asked}, and {_sets(kept.path)} sets are kept")
            kept.judge(toll)
    return toll


# --- files that are written ---------------------------------------------------------

_SHORT_SHEET = ("--limit", "1", "--cards", "0", "--transit-days", "0")
#: Commands, each with the suffix of what it writes and the option that names the file.
OUTPUTS = (
    ("json", ("tonight", "--demo", "--output")),
    ("csv", ("tonight", "--demo", "--output")),
    ("png", ("tonight", "--demo", "--chart")),
    ("ics", ("schedule", "--demo", "--object", "80001", "--output")),
    ("html", ("sheet", "--demo", *_SHORT_SHEET, "--output")),
    ("jsonl", ("schedule", "--demo", "--object", "80001", "--output")),
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

    length_s = _length_s(start)
    whole = target.read_bytes()
    assert whole != _OLD
    for number in range(kills):
        process = start()
        if number % 2:  # while the file is being written
            _killed(process, lambda: any(folder.glob(".passes-*")), _soon(rnd))
        else:
            _killed(process, None, rnd.uniform(0.0, length_s))
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


# --- a night of steps ---------------------------------------------------------------

_STEPS = 16


def cueing(folder: Path, count: int, rnd: Random) -> Toll:
    """``passes cue`` killed and started again: no step twice, and none forgotten.

    The step in flight may be either, and is told: left out, or done again, as asked.
    """
    toll = Toll(kind="running cues")
    night = 0
    while toll.kills < count:
        night += 1
        place = folder / str(night)
        place.mkdir()
        _night(toll, place, "repeat" if night % 2 else "skip", count, rnd)
    return toll


def _night(toll: Toll, folder: Path, unsure: str, count: int, rnd: Random) -> None:
    path = written(folder / "n.jsonl", steps([60.0 * i for i in range(_STEPS)]))
    state, log = folder / "state", folder / "ran"
    command = ["cue", path, "--rehearse", "--speed", "600", "--quiet"]
    command += ["--state", str(state), "--unsure", unsure]
    command += ["--run", CAMERA, "--", "{id}", "x"]
    in_flight: set[str] = set()
    done = False
    while not done and toll.kills <= count:
        in_flight |= {name for name, word in _states(state).items() if word == "intent"}
        grown = partial(_is_larger, state, _size(state))
        process = started(command, folder, CAMERA_LOG=str(log), CAMERA_BUSY="0.01")
        if toll.kills >= count:
            done = _killed(process, None, 120.0)
        elif rnd.randint(0, 3):  # while steps are given out, else anywhen
            done = _killed(process, grown, rnd.uniform(0.0, 0.6))
        else:
            done = _killed(process, None, rnd.uniform(0.0, 1.2))
        if not done:
            toll.count(False)
    if not done:
        toll.kills -= 1
        toll.fault("nothing was left to kill, and the night did not end")
    toll.after += 1
    _judge_night(toll, log, in_flight, unsure)
    told = (folder / "told").read_text()
    if in_flight and "not sure that this was done" not in told:
        toll.fault(f"{sorted(in_flight)} were in flight, and nobody was told")


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _is_larger(path: Path, size: int) -> bool:
    return _size(path) > size


def _judge_night(toll: Toll, log: Path, in_flight: set[str], unsure: str) -> None:
    ran = [line.split(" | ")[0] for line in log.read_text().splitlines()]
    twice = {name for name in ran if ran.count(name) > 1}
    missing = {f"step-{i}" for i in range(_STEPS)} - set(ran)
    may = in_flight if unsure == "repeat" else set()
    if twice - may:
        toll.fault(f"done twice: {sorted(twice - may)}")
    may = in_flight if unsure == "skip" else set()
    if missing - may:
        toll.fault(f"forgotten: {sorted(missing - may)}")


def _states(state: Path) -> dict[str, str]:
    """The last word on each step; a line that was cut off says nothing."""
    if not state.exists():
        return {}
    lines = state.read_text().split("\n")[:-1]
    found = (json.loads(line) for line in lines if line)
    return {one["id"]: one["state"] for one in found}


KINDS: dict[str, Callable[[Path, int, Random], Toll]] = {
    "adding": adding,
    "fetching": fetching,
    "writing": writing,
    "cueing": cueing,
}
