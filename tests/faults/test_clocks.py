"""Clocks that are wrong, and programs that meet: told in a line, and nothing lost."""

from __future__ import annotations

import json
import sqlite3
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from places import passes

from passes import elements
from passes.archive import Archive
from passes.cli import cli
from passes.cli.archive import common
from passes.forecast import asked
from passes.testing.elements import element_sets, element_text


class Clock(datetime):
    """A clock that says what a test wants."""

    held = datetime(2031, 10, 12, 6, tzinfo=UTC)

    @classmethod
    def now(cls, tz: object = None) -> Clock:  # type: ignore[override]
        return cls.fromisoformat(cls.held.isoformat())


@pytest.fixture
def clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> type[Clock]:
    """The machine's clock, in a home of its own."""
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path))
    monkeypatch.setattr(asked, "datetime", Clock)
    monkeypatch.setattr(common, "now", Clock.now)
    monkeypatch.setattr(Clock, "held", Clock.held)
    return Clock


def typed(args: str) -> Result:
    return CliRunner().invoke(cli, args.split(), prog_name="passes")


def added(path: Path) -> None:
    (path / "sets.tle").write_text(element_text())
    assert typed(f"elements add {path}/sets.tle").exit_code == 0


@pytest.mark.parametrize("year", [1970, 1999, 2055, 2100])
@pytest.mark.parametrize(
    "args",
    [
        "elements list",
        "tonight --at 41,-2.4",
        "tonight --at 41,-2.4 --elements {}/sets.tle",
        "check --at 41,-2.4",
        "sheet --at 41,-2.4 --transit-days 0",
    ],
)
def test_a_clock_of_another_age_is_survived(
    tmp_path: Path, clock: type[Clock], year: int, args: str
) -> None:
    added(tmp_path)
    clock.held = datetime(year, 1, 1, tzinfo=UTC)
    result = typed(args.replace("{}", str(tmp_path)))
    told = result.stderr.splitlines()
    assert result.exit_code in (0, 1)
    assert not any("unexpected" in line or "failed" in line for line in told)
    beyond = year > 2053 and args[:5] in ("tonig", "sheet")
    assert any("lies outside the packaged ephemeris" in line for line in told) == beyond


def test_what_was_added_by_a_clock_that_was_ahead_is_used(
    tmp_path: Path, clock: type[Clock]
) -> None:
    clock.held += timedelta(days=4000)
    added(tmp_path)
    clock.held -= timedelta(days=4000)
    listed = json.loads(typed("elements list --json").stdout)
    assert listed["holds"]["sets"] == 2
    result = typed("tonight --at 41,-2.4 --date 2031-10-12 --json")
    assert (result.exit_code, result.stderr) == (0, "")
    added(tmp_path)  # the same again is nothing new
    assert json.loads(typed("elements list --json").stdout)["holds"]["sets"] == 2


def test_programs_that_add_and_forget_at_once_lose_nothing(tmp_path: Path) -> None:
    path, count = tmp_path / "sets.sqlite", 400
    like = element_sets()[0]
    Archive(path).add(elements.read_text(element_text()).catalogue, Clock.held)
    commands = [passes("--archive", path, "elements", "forget", "80002", "--yes")]
    for first in (81000, 82000, 83000):
        made = [replace(like, catalog_number=first + i) for i in range(count)]
        file = tmp_path / f"{first}.tle"
        file.write_text(elements.tle_text(elements.as_catalogue(made)))
        commands.append(passes("--archive", path, "elements", "add", file))
    running = [
        subprocess.Popen(one, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for one in commands
    ]
    told = [one.communicate(timeout=120)[1] for one in running]
    assert [one.returncode for one in running] == [0] * len(commands), told
    assert Archive(path).holdings(Clock.held).sets == 1 + 3 * count
    with sqlite3.connect(path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()


def test_programs_that_write_one_file_leave_a_whole_one(tmp_path: Path) -> None:
    target = tmp_path / "night.json"
    command = passes("tonight", "--demo", "--output", target)
    running = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(3)]
    told = [one.communicate(timeout=120)[1] for one in running]
    assert [one.returncode for one in running] == [0, 0, 0], told
    assert json.loads(target.read_text())["passes"]
    assert [one.name for one in tmp_path.iterdir()] == ["night.json"]
