"""The writer of output: forms, files written whole or not at all, hostile text."""

import csv
import io
import json
import os
import resource
import stat
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

import click
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.contributions import Command, Exporter
from passes.errors import PassesError
from passes.options import writes
from passes.options.files import check_writable, write_whole
from passes.options.formats import cell, csv_text, json_bytes
from passes.options.writer import encoded, to_stdout

TIME = datetime(2025, 9, 14, 21, 20, 5, 250_999, tzinfo=UTC)
RECORDS = [{"name": "LAMP 1", "magnitude": -2.5}, {"name": "LAMP 2", "magnitude": None}]


def show_command():
    @click.command("show")
    @writes("lamps")
    def command(output):
        output.write(
            table=lambda screen: f"two lamps at ±1° on {screen.width}\n",
            document=lambda: {"lamps": RECORDS, "demo": False},
            records=lambda: RECORDS,
            items=lambda: RECORDS,
        )

    return command


@pytest.fixture
def show(run, with_plugin):
    """Run ``passes show``, a command with two rows and one exporter."""

    def shown(*args):
        lamp = Exporter(
            name="morse",
            summary="Dots and dashes.",
            accepts=("lamps",),
            suffixes=(".morse",),
            export=lambda answer: f"{answer.kind} {len(answer.items)} .- -...\n",
        )
        other = Exporter(
            name="other", summary="Not for lamps.", accepts=("kites",), export=str
        )
        command = Command(name="show", summary="Shows.", load=show_command)
        with_plugin(passes_commands=[command], passes_exporters=[lamp, other])
        return run("show", *args)

    return shown


# --- forms ---------------------------------------------------------------------


def test_the_table_is_what_people_get_unasked(show):
    assert show().stdout == "two lamps at ±1° on 80\n"


@pytest.mark.parametrize("args", [["--json"], ["--format", "json"]])
def test_json_is_one_document(args, show):
    result = show(*args)
    assert json.loads(result.stdout) == {"lamps": RECORDS, "demo": False}
    assert result.stdout.endswith("}\n")
    assert result.stderr == ""


def test_csv_has_a_heading_and_a_row_each(show):
    assert show("--format", "csv").stdout == "name,magnitude\nLAMP 1,-2.5\nLAMP 2,\n"


def test_an_exporter_is_chosen_by_name(show):
    assert show("--format", "morse").stdout == "lamps 2 .- -...\n"


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("a.txt", "two lamps"),
        ("a.json", '{"lamps"'),
        ("a.CSV", "name,magnitude"),
        ("a.morse", "lamps 2"),
        ("plain", "two lamps"),
    ],
)
def test_the_suffix_picks_the_form(name, begins, show, tmp_path):
    result = show("--output", str(tmp_path / name))
    assert result.exit_code == 0, result.stderr
    assert (tmp_path / name).read_text().startswith(begins)
    assert result.stdout == ""
    assert str(tmp_path / name) in result.stderr


def test_a_form_named_wins_over_the_suffix(show, tmp_path):
    show("--output", str(tmp_path / "a.txt"), "--format", "csv")
    assert (tmp_path / "a.txt").read_text().startswith("name,")


def test_a_dash_is_standard_output(show):
    assert show("--output", "-").stdout.startswith("two lamps")


@pytest.mark.parametrize(
    ("args", "why"),
    [
        (
            ["--format", "pdf"],
            "no format 'pdf' for this (there are: table, json, cs",
        ),
        (["--format", "other"], "no format 'other'"),
        (["--output", "a.pdf"], "no format has the suffix .pdf"),
        (["--json", "--format", "csv"], "contradict"),
    ],
)
def test_a_form_that_does_not_exist_is_refused(args, why, show):
    result = show(*args)
    assert result.exit_code == 2
    assert why in result.stderr


def test_an_exporter_that_fails_is_named(run, with_plugin):
    bad = Exporter(
        name="bad", summary="Fails.", accepts=("lamps",), export=lambda answer: 7
    )
    command = Command(name="show", summary="Shows.", load=show_command)
    with_plugin(passes_commands=[command], passes_exporters=[bad])
    result = run("show", "--format", "bad")
    assert result.exit_code == 1
    assert "bad, from plugin zoo (passes-zoo 9.9), failed" in result.stderr


# --- JSON ----------------------------------------------------------------------


def test_json_holds_what_records_hold():
    document = {
        "time": TIME,
        "unknown": float("nan"),
        "endless": float("inf"),
        "table": MappingProxyType({"a": (1, 2)}),
        "array": np.array([1.5, np.nan]),
        "text": "\x1b[31m <b>",
    }
    read = json.loads(json_bytes(document, indented=False))
    assert read == {
        "time": "2025-09-14T21:20:05.250Z",
        "unknown": None,
        "endless": None,
        "table": {"a": [1, 2]},
        "array": [1.5, None],
        "text": "\x1b[31m <b>",
    }
    assert b"\x1b" not in json_bytes(document, indented=True)


# --- CSV (the list of leading characters: OWASP, "CSV Injection") ---------------


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@A1", "\t=1", "\r=1", "＝1"])
def test_text_that_would_run_as_a_formula_is_disarmed(text):
    assert cell(text).startswith("'")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (-2.5, "-2.5"),
        ("-2.5", "-2.5"),
        ("+1e-3", "+1e-3"),
        (-3, "-3"),
        (float("nan"), ""),
        (float("inf"), ""),
        (None, ""),
        (True, "true"),
        (TIME, "2025-09-14T21:20:05.250Z"),
        ("LAMP-1", "LAMP-1"),
        ("a\nb\x1b[2J", "a b�[2J"),
    ],
)
def test_numbers_stay_numbers_and_text_stays_text(value, text):
    assert cell(value) == text


@given(st.lists(st.text(max_size=20), min_size=1, max_size=5))
def test_any_text_reads_back_as_one_cell_that_is_no_formula(names):
    read = list(csv.reader(io.StringIO(csv_text({"name": n, "x": 1} for n in names))))
    assert len(read) == 1 + len(names)
    for (name, one), _ in zip(read[1:], names, strict=True):
        assert one == "1"
        assert not name.startswith(("=", "@", "\t", "\r"))
        assert "\n" not in name


def test_the_demo_marks_every_row_and_an_empty_list_still_has_a_heading():
    assert csv_text([{"a": 1}], demo=True) == "a,demo\n1,true\n"
    assert csv_text([], ("a", "b"), demo=True) == "a,b,demo\n"
    assert csv_text([], ("a", "demo"), demo=True) == "a,demo\n"


# --- files -----------------------------------------------------------------------


def test_nothing_but_the_file_is_left_behind(tmp_path):
    write_whole(tmp_path / "a.csv", b"one")
    write_whole(tmp_path / "a.csv", b"two")
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]
    assert (tmp_path / "a.csv").read_bytes() == b"two"


def test_a_new_file_has_the_usual_permissions_and_an_old_one_keeps_its_own(tmp_path):
    file, old_mask = tmp_path / "a", os.umask(0o027)
    try:
        write_whole(file, b"one")
        assert stat.S_IMODE(file.stat().st_mode) == 0o640
        file.chmod(0o604)
        write_whole(file, b"two")
    finally:
        os.umask(old_mask)
    assert stat.S_IMODE(file.stat().st_mode) == 0o604


def test_a_link_keeps_pointing_and_its_target_is_replaced(tmp_path):
    (tmp_path / "there").mkdir()
    target, link = tmp_path / "there" / "real", tmp_path / "link"
    target.write_text("old")
    link.symlink_to(Path("there") / "real")
    write_whole(link, b"new")
    assert link.is_symlink()
    assert target.read_text() == "new"


def test_a_link_to_nothing_makes_its_target(tmp_path):
    (tmp_path / "link").symlink_to("real")
    write_whole(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"


def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path):
    file = tmp_path / "a"
    file.write_text("old")
    code = (
        "import resource, signal, sys; from pathlib import Path\n"
        "from passes.options.files import write_whole\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "write_whole(Path(sys.argv[1]), b'x' * 100_000)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(file)], capture_output=True, text=True
    )
    assert "nothing was changed" in done.stderr
    assert file.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 1000


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("missing/a.csv", "its folder does not exist"),
        ("folder", "is a folder"),
        ("file/a.csv", "Not a directory"),
        ("x" * 300, "File name too long"),
    ],
)
def test_what_cannot_be_written_is_refused_before_any_work(name, why, tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("")
    with pytest.raises(PassesError, match=why):
        check_writable(tmp_path / name)


def test_the_refusal_comes_before_the_command_runs(run, with_plugin, tmp_path):
    def load():
        @click.command("show")
        @writes("lamps")
        def command(output):
            raise AssertionError("worked in vain")

        return command

    with_plugin(passes_commands=[Command(name="show", summary="Shows.", load=load)])
    result = run("show", "--output", str(tmp_path / "no" / "a.json"))
    assert result.exit_code == 1
    assert result.stderr.startswith("passes: cannot write")


def test_checking_leaves_no_trace(tmp_path):
    check_writable(tmp_path / "a")
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_written_to_and_not_replaced():
    check_writable(Path("/dev/null"))
    write_whole(Path("/dev/null"), b"gone")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


def test_a_pipe_is_written_to_and_not_replaced(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with subprocess.Popen(["cat", str(pipe)], stdout=subprocess.PIPE) as reader:
        write_whole(pipe, b"through")
        assert reader.communicate(timeout=10)[0] == b"through"
    assert stat.S_ISFIFO(pipe.stat().st_mode)


# --- standard output --------------------------------------------------------------


def program_writing(body, **how):
    code = (
        "from passes.cli import cli\nimport click\n"
        "from passes.options import to_stdout\n"
        "import passes.cli as frame\n"
        "@click.command()\n"
        f"def command():\n    {body}\n"
        "cli.get_command = lambda ctx, name: command\n"
        "cli.main(['tonight'], prog_name='passes')\n"
    )
    return subprocess.Popen(
        [sys.executable, "-c", code], stderr=subprocess.PIPE, text=True, **how
    )


def test_a_reader_that_goes_away_ends_the_program_quietly():
    body = "[to_stdout(b'x' * 65536) for _ in range(1000)]"
    with program_writing(body, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.read(10)
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait(timeout=30) == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_behind_standard_output_is_said():
    with open("/dev/full", "w") as full:
        process = program_writing("to_stdout(b'x' * 65536)", stdout=full)
        _, said = process.communicate(timeout=30)
    assert process.returncode == 1
    assert said.startswith("passes: cannot write to standard output: No space left")
    assert len(said.strip().splitlines()) == 1


def test_no_standard_output_at_all_is_said(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    with pytest.raises(PassesError, match="it is closed"):
        to_stdout(b"x")


def test_signs_are_spelt_where_the_terminal_lacks_them():
    assert encoded("21° ±0.4 – ☾", "ascii") == b"21 deg +-0.4 - ?"
    assert encoded("21°", "latin-1") == b"21\xb0"
    assert encoded("21°", None) == "21°".encode()
