"""What can befall an archive: nothing already kept is lost, and it is told."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from passes import elements
from passes.archive import Archive, store
from passes.errors import ArchiveError
from passes.testing.elements import element_text

NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)

#: Adds invented sets of 2000 objects, a day a round, until it is stopped.
ADDER = """
import signal, sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from passes.archive import Archive
from passes.elements import as_catalogue
from passes.testing.elements import element_sets
like = element_sets()[0]
first = int(sys.argv[2])
for day in range(first, first + int(sys.argv[3])):
    made = [replace(like, catalog_number=80001 + i, epoch_fraction=float(day))
            for i in range(2000)]
    archive = Archive(Path(sys.argv[1]))
    added = archive.add(as_catalogue(made), datetime.now(UTC))
    assert added.new == 2000 and not added.aside, added
    print("day", day, flush=True)
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """An archive with two invented objects."""
    file = tmp_path / "kept.sqlite"
    Archive(file).add(elements.read_text(element_text()).catalogue, NOW)
    return file


def start(path: Path, first: int, rounds: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", ADDER, str(path), str(first), str(rounds)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def sound(path: Path) -> None:
    with sqlite3.connect(path) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()


def test_two_programs_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "both.sqlite"
    adders = [start(path, 0, 6), start(path, 100, 6)]
    while any(adder.poll() is None for adder in adders):
        Archive(path).nearest(NOW)  # and a reader in between
    for adder in adders:
        adder.communicate(timeout=60)
    assert [adder.returncode for adder in adders] == [0, 0]
    assert Archive(path).holdings(NOW).sets == 12 * 2000
    sound(path)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
@pytest.mark.parametrize("after_s", [0.0, 0.013, 0.031, 0.057])
def test_stopped_while_adding_keeps_whole_rounds(
    path: Path, how: signal.Signals, after_s: float
) -> None:
    adder = start(path, 0, 10_000)
    assert adder.stdout is not None
    for _ in range(2):
        assert adder.stdout.readline().startswith("day")
    time.sleep(after_s)
    adder.send_signal(how)
    told, _ = adder.communicate(timeout=60)
    rounds = 2 + told.count("day")
    archive = Archive(path)
    kept = archive.holdings(NOW).sets - 2
    # the round under way is in whole or not at all, and what was told is in
    assert kept % 2000 == 0
    assert rounds <= kept // 2000 <= rounds + 1
    assert len(archive.history(80002)) >= 1
    sound(path)


def test_a_full_disk_is_told_and_nothing_is_lost(path: Path) -> None:
    code = (
        "import resource, sys\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))\n" + ADDER
    )
    command = [sys.executable, "-c", code, str(path), "0", "50"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode != 0
    assert "ArchiveError" in done.stderr
    assert "nothing was added" in done.stderr
    rounds = done.stdout.count("day")
    assert Archive(path).holdings(NOW).sets == 2 + 2000 * rounds
    sound(path)
    assert Archive(path).check() is None


def test_a_write_protected_archive_is_read_and_stays(path: Path) -> None:
    before = path.read_bytes()
    with sqlite3.connect(path) as db:  # what a write-protected disk answers
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    address = path.absolute().as_uri() + "?mode=ro"
    real = store.sqlite3.connect

    def protected(*args: object, **more: object) -> sqlite3.Connection:
        more["uri"] = True
        return real(address, timeout=1, isolation_level=None, uri=True)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store.sqlite3, "connect", protected)
        with pytest.raises(ArchiveError, match="write-protected; nothing was added"):
            Archive(path).forget([80001])
    assert len(Archive(path).nearest(NOW)) == 2
    assert path.read_bytes() == before


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everything")
def test_a_write_protected_folder_is_read(path: Path) -> None:
    path.chmod(0o444)
    path.parent.chmod(0o555)
    try:
        assert len(Archive(path).nearest(NOW)) == 2
        with pytest.raises(ArchiveError, match=r"protected|cannot be opened"):
            Archive(path).forget([80001])
    finally:
        path.parent.chmod(0o755)


def test_an_archive_beside_which_nothing_can_be_made_is_read(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = store.sqlite3.connect

    def connect(address: str, **more: object) -> sqlite3.Connection:
        if "immutable" not in address:
            raise sqlite3.OperationalError("unable to open database file")
        return real(address, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(store.sqlite3, "connect", connect)
    monkeypatch.setattr(store.os, "access", lambda *_: False)
    with store.reading(path, own=False) as db:
        assert db is not None
        assert db.execute("SELECT count(*) FROM sets").fetchone() == (2,)


def damage(path: Path, start: int, size: int) -> bytes:
    with path.open("r+b") as file:
        file.seek(start)
        file.write(b"\xa5" * size)
    return path.read_bytes()


@pytest.mark.parametrize(
    ("start", "size"), [(0, 60), (90, 4000), (4096, 9000), (0, 100)]
)
def test_a_damaged_archive_is_set_aside_and_kept(
    path: Path, start: int, size: int
) -> None:
    damaged = damage(path, start, size)
    archive = Archive(path)
    with pytest.raises(ArchiveError, match="is damaged; it was set aside as") as told:
        archive.check()
    (aside,) = path.parent.glob("kept.sqlite.damaged-*Z")
    assert aside.name in str(told.value)
    assert aside.read_bytes() == damaged
    assert not path.exists()
    added = archive.add(elements.read_text(element_text()).catalogue, NOW)
    assert (added.new, added.aside) == (2, "")


def test_adding_to_a_damaged_archive_begins_a_new_one_beside_it(path: Path) -> None:
    damaged = damage(path, 0, 60)
    added = Archive(path).add(elements.read_text(element_text()).catalogue, NOW)
    assert added.new == 2
    assert Path(added.aside).read_bytes() == damaged
    again = damage(path, 0, 60)
    second = Archive(path).add(elements.read_text(element_text()).catalogue, NOW)
    assert Path(second.aside).read_bytes() == again
    assert Path(added.aside).read_bytes() == damaged


def test_a_cut_off_archive_is_set_aside(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(ArchiveError, match="is damaged"):
        Archive(path).check()
    assert len(list(path.parent.glob("kept.sqlite.damaged-*Z"))) == 1


def test_a_newer_layout_is_refused_and_untouched(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version=99")
    db.close()
    before = path.read_bytes()
    for use in (lambda a: a.nearest(NOW), lambda a: a.forget([80001])):
        with pytest.raises(ArchiveError, match="made by a newer version"):
            use(Archive(path))
    assert path.read_bytes() == before
    assert not list(path.parent.glob("*.damaged-*"))


@pytest.mark.parametrize(
    "content", [b"my notes\n", b"\x89PNG\r\n\x1a\n" + bytes(5000), bytes(4096)]
)
def test_a_file_of_another_kind_is_refused_and_untouched(
    tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "notes.txt"
    path.write_bytes(content)
    catalogue = elements.read_text(element_text()).catalogue
    for use in (lambda a: a.nearest(NOW), lambda a: a.add(catalogue, NOW)):
        with pytest.raises(ArchiveError, match="nothing was touched"):
            use(Archive(path))
    assert path.read_bytes() == content
    assert [one.name for one in tmp_path.iterdir()] == ["notes.txt"]


def test_another_programs_database_is_refused_and_untouched(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE sets (song TEXT)")
    db.close()
    before = path.read_bytes()
    catalogue = elements.read_text(element_text()).catalogue
    for use in (lambda a: a.nearest(NOW), lambda a: a.add(catalogue, NOW)):
        with pytest.raises(ArchiveError, match="another program's database"):
            use(Archive(path))
    with sqlite3.connect(path) as db:
        assert db.execute("SELECT name FROM sqlite_master").fetchall() == [("sets",)]
    db.close()
    assert path.read_bytes() == before


def test_a_folder_in_its_place_and_a_folder_that_is_absent(tmp_path: Path) -> None:
    catalogue = elements.read_text(element_text()).catalogue
    with pytest.raises(ArchiveError, match="is a folder"):
        Archive(tmp_path).nearest(NOW)
    with pytest.raises(ArchiveError, match="cannot be opened or made"):
        Archive(tmp_path / "absent" / "a.sqlite").add(catalogue, NOW)


def test_waiting_for_another_program_ends(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "BUSY_S", 0.2)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(ArchiveError, match="another program has been writing"):
            Archive(path).forget([80001])
        assert len(Archive(path).nearest(NOW)) == 2  # readers are not held up
    finally:
        other.close()
