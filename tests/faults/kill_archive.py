"""Kill what adds to the archive: adding elements, and fetching them."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any

import loopback
from killing import Toll, killed, length_of_s, started

from passes import elements
from passes.archive import Archive
from passes.testing.elements import element_sets, element_text

#: Sets that a program adds to the archive; whole additions are of so many.
ADDED = 1500
_NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)


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
            killed(process, self.is_written, rnd.uniform(0.0, 0.1 * length_s))
        else:
            killed(process, None, rnd.uniform(0.0, 1.1 * length_s))

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

    length_s = length_of_s(start)
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

        length_s = length_of_s(start)
        for number in range(count):
            kept.killed(start(), number, length_s, rnd)
            asked = Archive(kept.path).source("club").asked
            if (asked is not None) != (_sets(kept.path) > 2):
                toll.fault(f"asked {asked}, and {_sets(kept.path)} sets are kept")
            kept.judge(toll)
    return toll
