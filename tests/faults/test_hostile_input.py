"""Documents, files, servers and arguments that mean harm: refused in a line."""

import json
import os
import socket
import sys
from pathlib import Path

import cue_help
import pytest
from hostile import places
from hostile.cases import CASES, Case
from hostile.names import NAMES, harm

from passes.cli import cli


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind}, {case.what}")
def test_a_bad_document_is_refused_in_a_line(case: Case, tmp_path: Path) -> None:
    code, said = case.outcome(tmp_path)
    assert code == case.code, said
    assert case.words in " ".join(said.split())
    assert harm(said) == ""
    if code:
        assert len(said.splitlines()) <= 2
    assert "Traceback" not in said


# --- where answers go ----------------------------------------------------------


def test_an_output_follows_links_and_keeps_them(tmp_path: Path) -> None:
    found = places.linked_outputs(tmp_path)
    assert found["a link to a file"] == ("written", "link kept, target: new")
    assert found["a link to what is not there"] == found["a link to a file"]
    assert found["a second name of a file (hard link)"] == (
        "written",
        "no link, target: old",
    )
    assert found["a link to a folder"][0] == "is a folder"
    assert found["a link to itself"][0] == "its links lead in a circle"
    assert found["a link to a device"] == ("written", "link kept, target: old")


def test_anothers_link_in_a_shared_folder_is_not_followed(tmp_path: Path) -> None:
    if os.geteuid() != 0:
        pytest.skip("only root can give a link to another user")
    said, there = places.anothers_link(tmp_path)
    assert said == "it is another user's link in a shared folder"
    assert there == "old"


# --- what the terminal gets ----------------------------------------------------

#: A name that a terminal must not see as it is; no file system minds it.
_NAME = "x\x1b[31m\u202e\x9b2J" + os.fsdecode(b"\xff")

_NOW = ("--now", "2029-03-17T20:02:00Z")
_SPOKEN = (
    ["site", "add", "ridge", "--at", "1,2", "--config", f"{_NAME}.toml"],
    ["site", "list", "--config", f"{_NAME}.toml"],
    ["check", "--config", f"{_NAME}.toml", "--archive", f"{_NAME}.sqlite"],
    ["elements", "list", "--archive", f"{_NAME}.sqlite"],
    ["elements", "check", f"{_NAME}.tle"],
    ["tonight", "--demo", "--limit", "1", "--output", f"{_NAME}.json"],
    ["tonight", "--demo", "--limit", "1", "--output", f"{_NAME}/x.json"],
    ["tonight", "--demo", "--limit", "1", "--chart", f"{_NAME}.gif"],
    ["tonight", "--demo", "--object", _NAME],
    ["tonight", "--demo", "--site", _NAME],
    ["tonight", "--demo", "--format", _NAME],
    ["tonight", "--demo", f"--{_NAME}"],
    ["track", "--demo", "--pass", _NAME],
    ["site", "add", _NAME, "--at", "1,2"],
    ["site", "add", os.fsdecode(b"\xffridge"), "--at", "1,2"],
    ["elements", "sources", "--add", _NAME, "--url", "https://example.org"],
    ["elements", "sources", "--add", "a", "--url", f"https://{_NAME}/"],
    ["elements", "show", _NAME, "--archive", "sets.sqlite"],
    ["gate", "--demo", "--exposure", "9", "--list", f"{_NAME}.gate", *_NOW],
    ["cue", _NAME],
    ["streaks", _NAME, "--demo"],
    [_NAME],
)


@pytest.mark.parametrize("args", _SPOKEN, ids=lambda args: " ".join(args[:2])[:30])
@pytest.mark.parametrize("theme", [[], ["--theme", "red"]], ids=["plain", "red"])
def test_no_argument_and_no_file_name_reaches_a_terminal_raw(
    args: list[str],
    theme: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsysbinary: pytest.CaptureFixture[bytes],
) -> None:
    """On a terminal, so that nothing is stripped because nobody looks."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    for stream in (sys.stdout, sys.stderr):
        monkeypatch.setattr(stream, "isatty", lambda: True, raising=False)
    with pytest.raises(SystemExit) as ended:
        cli.main([*theme, *args], prog_name="passes")
    out, err = capsysbinary.readouterr()
    said = (out + err).decode("utf-8", "surrogateescape")
    for style in ("\x1b[1m", "\x1b[31;40m", "\x1b[0m"):
        said = said.replace(style, "")
    assert harm(said) == ""
    assert "unexpected" not in said
    assert ended.value.code in (0, 1, 2)


# --- what programs get ---------------------------------------------------------

_KEEP = "import json, sys; json.dump(sys.argv[2:], open(sys.argv[1], 'w'))"


def test_a_program_gets_each_name_as_one_argument_through_no_shell(
    tmp_path: Path,
) -> None:
    typed = [name for name in NAMES.values() if "\ud800" not in name]
    steps = [
        {**step, "id": f"step-{i}", "event": "start", "subject": name}
        for i, (step, name) in enumerate(
            zip(cue_help.steps(range(len(typed)), first=1e9), typed, strict=True)
        )
    ]
    schedule = cue_help.written(tmp_path / "steps.jsonl", steps)
    code, given, err = cue_help.ran(
        *(schedule, "--rehearse", "--quiet", "--speed", "100000"),
        *("--run", sys.executable, "--", "-c", _KEEP),
        *(f"{tmp_path}/{{id}}.json", "{subject}", "--name={subject}"),
    )
    assert code == 0, err
    assert [step["subject"] for step in given] == typed
    assert harm(err) == ""
    for i, name in enumerate(typed):
        word = name.replace("\0", "")
        told = json.loads((tmp_path / f"step-{i}.json").read_text("utf-8"))
        assert told == [word, f"--name={word}"]
    assert len(list(tmp_path.iterdir())) == len(typed) + 1


# --- where servers send us -----------------------------------------------------


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")


@pytest.mark.parametrize("location", places.REDIRECTS)
def test_a_redirect_to_nowhere_good_is_refused(location: str) -> None:
    said = places.redirected(location)
    assert places.REDIRECTS[location] in said
    assert f"sends on to {location}" in said


@pytest.mark.parametrize("address", ["10.1.2.3", "fd00::1", "::ffff:192.168.0.1"])
def test_a_name_for_a_private_address_is_refused(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = socket.getaddrinfo

    def resolved(host: str, *rest: object, **more: object) -> list[tuple[object, ...]]:
        if host != "club.example":
            return found(host, *rest, **more)  # type: ignore[arg-type, return-value]
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (address, 443))]

    monkeypatch.setattr(socket, "getaddrinfo", resolved)
    assert "within a private network" in places.redirected("https://club.example/x")
