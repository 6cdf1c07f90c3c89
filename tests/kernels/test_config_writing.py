"""Changing the configuration: nothing of the person's own is lost."""

import os
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from passes.config import edit, load, remove, table_of
from passes.errors import ConfigError

OWN = """\
# my places
[sites.meadow]          # behind the wood
latitude_deg = 46.5
longitude_deg = 8.25
zone = "Europe/Zurich"

[plugins.anything]
weird = { a = 1 }  # kept as it is
"""


def add_site(name: str) -> Any:
    def change(document: Any) -> None:
        table = table_of(document, "sites", name)
        table["latitude_deg"] = 10.0
        table["longitude_deg"] = 20.0

    return change


def test_comments_and_everything_else_stay(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    config = edit(path, add_site("dunes"))
    assert sorted(config.sites) == ["dunes", "meadow"]
    text = path.read_text()
    for line in OWN.splitlines():
        assert line in text.splitlines()
    assert load(path).sites["dunes"].latitude_deg == 10.0


def test_a_file_that_is_absent_is_made_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "passes.toml"
    edit(path, add_site("dunes"))
    text = path.read_text()
    assert text.startswith("[sites.dunes]\n")
    assert "[sites]" not in text
    assert [one.name for one in path.parent.iterdir()] == ["passes.toml"]


def test_removing_leaves_no_empty_heading(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    gone: list[bool] = []
    edit(path, lambda document: gone.append(remove(document, "sites", "meadow")))
    assert gone == [True]
    assert load(path).sites == {}
    assert "[sites" not in path.read_text()
    edit(path, lambda document: gone.append(remove(document, "sites", "meadow")))
    assert gone == [True, False]


def test_a_change_that_cannot_be_read_back_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)

    def change(document: Any) -> None:
        table_of(document, "sites", "pole")["latitude_deg"] = "north"

    with pytest.raises(ConfigError, match=r"sites\.pole"):
        edit(path, change)
    assert path.read_text() == OWN
    assert [one.name for one in tmp_path.iterdir()] == ["passes.toml"]


def test_a_damaged_file_is_told_and_stays(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text("[sites\n")
    with pytest.raises(ConfigError, match=r"passes\.toml.*line 1"):
        edit(path, add_site("dunes"))
    assert path.read_text() == "[sites\n"


def test_line_ends_and_mark_stay(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_bytes(b"\xef\xbb\xbf" + OWN.replace("\n", "\r\n").encode())
    edit(path, add_site("dunes"))
    content = path.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf# my places\r\n")
    assert content.count(b"\n") == content.count(b"\r\n")
    assert sorted(load(path).sites) == ["dunes", "meadow"]


def test_a_link_stays_a_link_and_permissions_stay(tmp_path: Path) -> None:
    real = tmp_path / "kept" / "real.toml"
    real.parent.mkdir()
    real.write_text(OWN)
    real.chmod(0o640)
    link = tmp_path / "passes.toml"
    link.symlink_to(real)
    edit(link, add_site("dunes"))
    assert link.is_symlink()
    assert "dunes" in real.read_text()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


def test_a_write_protected_file_stays(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    path.chmod(0o444)
    with pytest.raises(ConfigError, match=r"write-protected; nothing was changed"):
        edit(path, add_site("dunes"))
    assert path.read_text() == OWN


def test_a_folder_in_its_place_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"directory"):
        edit(tmp_path, add_site("dunes"))


def test_another_editor_in_between_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    calls: list[int] = []

    def change(document: Any) -> None:
        if not calls:  # somebody saves while we think
            path.write_text(OWN + "# a late thought\n")
        calls.append(1)
        add_site("dunes")(document)

    edit(path, change)
    assert len(calls) == 2
    assert "# a late thought" in path.read_text()
    assert "dunes" in path.read_text()


def test_a_change_that_changes_nothing_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    os.utime(path, (1.0, 1.0))
    edit(path, lambda document: None)
    assert path.stat().st_mtime == 1.0


ADD_MANY = """
import sys
from pathlib import Path
from passes.config import edit, table_of
first = int(sys.argv[2])
for i in range(first, first + 10):
    def change(document):
        table = table_of(document, "sites", f"place-{i}")
        table["latitude_deg"] = 10.0
        table["longitude_deg"] = 20.0
    edit(Path(sys.argv[1]), change)
"""


def test_edits_at_once_are_all_kept(tmp_path: Path) -> None:
    path = tmp_path / "passes.toml"
    path.write_text(OWN)
    workers = [
        subprocess.Popen([sys.executable, "-c", ADD_MANY, str(path), str(first)])
        for first in (0, 10, 20)
    ]
    assert [worker.wait(60) for worker in workers] == [0, 0, 0]
    assert len(load(path).sites) == 31
