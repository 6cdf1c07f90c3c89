"""Full disks, disks that may not be written, no network, no home: one clear line."""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import loopback
import places
import pytest
from cue_help import steps, written
from places import passes, ran, told_in_a_line

from passes import elements
from passes.archive import Archive
from passes.testing.elements import element_sets, element_text

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX system")

OLD = "what stood there before\n"
NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)
#: Given a folder and a command, the command in a place where it cannot write.
Place = Callable[[Path, Sequence[str]], list[str]]


CLOSED: dict[str, Place] = {
    "another user": places.as_another,
    "a disk for reading": places.on_a_read_only_disk,
}
PLACES: dict[str, Place] = {"a full disk": places.on_a_full_disk, **CLOSED}
#: What writes, each with what its line says.
WRITING = {
    "archive": "--archive {}/sets.sqlite elements add {}/more.tle",
    "forgetting": "--archive {}/sets.sqlite elements forget 80002 --yes",
    "json": "tonight --demo --output {}/out.json",
    "png": "tonight --demo --chart {}/out.png",
    "jsonl": "schedule --demo --object 80001 --output {}/out.jsonl",
    "site": "--config {}/passes.toml site add valley --at 1,2",
    "source": "--config {}/passes.toml elements sources --add it --url https://a.example",
    "gate": "gate --demo --exposure 60 --now 2029-03-17T20:02:00Z --list {}/new",
}


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that others may read: an archive, sites, and files to be replaced."""
    made = Path(tempfile.mkdtemp(prefix="passes-faults-"))  # pytest's own is closed
    made.chmod(0o755)
    place = made / "here"
    place.mkdir()
    Archive(place / "sets.sqlite").add(
        elements.read_text(element_text()).catalogue, NOW
    )
    more = [replace(element_sets()[0], catalog_number=82001 + i) for i in range(300)]
    (place / "more.tle").write_text(elements.tle_text(elements.as_catalogue(more)))
    site = "[sites.hill]\nlatitude_deg = 41\nlongitude_deg = -2.4\n"
    (place / "passes.toml").write_text(site)
    for suffix in ("json", "png", "jsonl"):
        (place / f"out.{suffix}").write_text(OLD)
    yield place
    shutil.rmtree(made)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but those that SQLite keeps beside an archive in use."""
    return {
        one.name: one.read_bytes()
        for one in folder.iterdir()
        if one.is_file() and not one.name.endswith(("-wal", "-shm"))
    }


def command_of(what: str, folder: Path) -> list[str]:
    return passes(*WRITING[what].replace("{}", str(folder)).split())


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("what", WRITING)
def test_what_cannot_be_written_is_told_and_nothing_is_lost(
    folder: Path, place: str, what: str
) -> None:
    before = contents(folder)
    done = ran(PLACES[place](folder, command_of(what, folder)), folder)
    told_in_a_line(done, "/")  # the name of a file
    assert any(
        word in done.stderr
        for word in ("nothing was added", "nothing was changed", "cannot be")
    ), done.stderr
    assert contents(folder) == before
    assert Archive(folder / "sets.sqlite").holdings(NOW).sets == 2


@pytest.mark.parametrize("place", CLOSED)
@pytest.mark.parametrize(
    "args",
    [
        "--archive {}/sets.sqlite elements list --json",
        "--config {}/passes.toml site list",
    ],
)
def test_what_is_kept_where_nothing_may_be_written_is_read(
    folder: Path, place: str, args: str
) -> None:
    before = contents(folder)
    done = ran(
        CLOSED[place](folder, passes(*args.replace("{}", str(folder)).split())), folder
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "hill" in done.stdout or json.loads(done.stdout)["holds"]["sets"] == 2
    assert contents(folder) == before


def test_a_pipe_into_a_file_that_is_full_is_told(folder: Path) -> None:
    into = ["sh", "-c", f'exec "$@" > {folder}/page.txt', "sh"]
    done = ran(
        places.on_a_full_disk(folder, [*into, *passes("tonight", "--demo", "--json")]),
        folder,
    )
    told_in_a_line(done, "cannot write to standard output")


def test_a_night_whose_state_has_no_room_is_told(folder: Path) -> None:
    path = written(folder / "night.jsonl", steps([0, 60]))
    args = ("cue", path, "--rehearse", "--speed", "1000", "--state", folder / "state")
    done = ran(places.on_a_full_disk(folder, passes(*args)), folder)
    assert "cannot keep the state in" in done.stderr
    assert "Traceback" not in done.stderr
    given = [json.loads(line)["id"] for line in done.stdout.splitlines()]
    assert given in ([], ["step-0", "step-1"])  # refused at once, or done all the same


def test_without_a_network_a_source_is_told_and_the_rest_works(folder: Path) -> None:
    (folder / "passes.toml").write_text(
        '[sources.club]\nurl = "https://club.example/sets.txt"\ntries = 1\n'
    )
    given = ("--config", folder / "passes.toml", "--archive", folder / "sets.sqlite")
    done = ran(
        places.without_network(passes(*given, "elements", "fetch", "--json")), folder
    )
    assert done.returncode == 1, done.stderr
    answer = json.loads(done.stdout)
    (source,) = answer["sources"]
    assert source["state"] == "failed"
    assert "cannot be reached" in source["told"]
    assert answer["holds"]["sets"] == 2
    done = ran(places.without_network(passes("tonight", "--demo", "--json")), folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["passes"]


def test_what_is_fetched_onto_a_full_disk_is_asked_for_again(folder: Path) -> None:
    with loopback.serving() as server:
        server.says(loopback.sends((folder / "more.tle").read_bytes()))
        config = folder / "passes.toml"
        config.write_text(f'[sources.club]\nurl = "{server.url}"\n')
        command = passes("--config", config, "--archive", folder / "sets.sqlite")
        command += ["elements", "fetch", "--json"]
        done = ran(places.on_a_full_disk(folder, command), folder)
        assert "Traceback" not in done.stderr
        assert done.returncode == 1
        assert Archive(folder / "sets.sqlite").holdings(NOW).sets == 2
        assert Archive(folder / "sets.sqlite").source("club").asked is None
        done = ran(command, folder)
    assert json.loads(done.stdout)["holds"]["sets"] == 302


# --- no home ----------------------------------------------------------------------


@pytest.mark.parametrize("home", [None, "{}"])
@pytest.mark.parametrize(
    ("args", "code"),
    [
        ("tonight --demo", 0),
        ("elements list", 0),
        ("site list", 0),
        ("tonight --demo --chart {}/../open/sky.png", 0),
        ("elements add {}/more.tle", 1),
        ("elements sources", 1),
        ("site add hill --at 1,2", 1),
        ("elements fetch", 1),
        ("tonight --at 1,2", 1),
    ],
)
def test_without_a_home_folder(
    folder: Path, home: str | None, args: str, code: int
) -> None:
    (folder.parent / "open").mkdir(mode=0o777)
    (folder.parent / "open").chmod(0o777)
    command = passes(*args.replace("{}", str(folder)).split())
    place = Path(home.replace("{}", str(folder))) if home else None
    done = ran(places.as_another(folder, command), place)
    if code:
        told_in_a_line(done)
    else:
        assert done.returncode == 0, done.stderr
        drawn = "--chart" in args  # says so in a line
        assert len(done.stderr.splitlines()) == drawn, done.stderr


@pytest.mark.parametrize(
    "args",
    [
        "transits --demo --area ~nobody-here/a.geojson",
        "streaks --demo --subs ~nobody-here/*.fits",
        "--config {}/passes.toml tonight --at 41,-2.4",
        "--config {}/passes.toml elements add {}/more.tle",
    ],
)
def test_a_home_that_nobody_has_is_a_file_that_is_absent(
    folder: Path, args: str
) -> None:
    (folder / "passes.toml").write_text('[defaults]\narchive = "~nobody-here/a.db"\n')
    done = ran(passes(*args.replace("{}", str(folder)).split()), folder)
    assert done.returncode in (1, 2)
    told_in_a_line(done, code=done.returncode)
    assert "unexpected" not in done.stderr
    assert "failed" not in done.stderr
