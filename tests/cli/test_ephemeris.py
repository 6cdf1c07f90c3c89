"""Ephemerides, limits and lateness as a user types them."""

import json
from datetime import datetime

import pytest
from click.testing import CliRunner

from passes.cli import cli
from passes.ephemeris import read_messages


@pytest.fixture
def run(root, monkeypatch, tmp_path):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(root)

    def call(line, code=0):
        result = CliRunner().invoke(cli, line.split(), prog_name="passes")
        assert result.exit_code == code, result.output
        return result

    return call


STATION = "fixtures/ephemerides/station.oem"
SIX = "fixtures/elements/readers/six"
WHERE = "tonight --at 40,150 --date 2025-09-13 --all"


def test_the_demos_pass_as_an_ephemeris_and_back(run, tmp_path):
    path = tmp_path / "pass.oem"
    run(f"track --demo --object 80001 --step 1 --output {path}")
    (message,) = read_messages(path.read_bytes(), "x")
    assert message.comments[0] == "Invented: a demonstration."
    plain = json.loads(run("track --demo --object 80001 --json").stdout)
    line = f"track --demo --pass {plain['pass']['id']} --ephemeris {path} --json"
    back = json.loads(run(line).stdout)
    # the last row stands where the message has ended, and fades
    assert len(back["track"]) == len(plain["track"]) > 20
    for ours, theirs in zip(back["track"][:-1], plain["track"][:-1], strict=True):
        assert ours["altitude_deg"] == pytest.approx(theirs["altitude_deg"], abs=2e-5)
        assert ours["azimuth_deg"] == pytest.approx(theirs["azimuth_deg"], abs=6e-5)


def test_an_ephemeris_alone(run, tmp_path):
    line = f"{WHERE} --archive {tmp_path / 'none.db'} --ephemeris {STATION}"
    found = json.loads(run(f"{line} --json").stdout)
    assert [one["name"] for one in found["passes"]] == ["INVENTED STATION"]
    assert found["passes"][0]["catalog_number"] > 900_000_000
    page = run(line).stdout
    assert "INVENTED STATION: places from the operator's ephemeris" in page
    assert f"{STATION} remarks: invented, for tests" in page
    assert max(map(len, page.splitlines())) <= 80


def test_an_ephemeris_over_elements(run):
    window = "--from 2025-09-13T18:00Z --to 2025-09-14T01:45Z"
    line = f"tonight --at 40,150 --all --elements {SIX}.xml --object 80001 --json"
    plain = json.loads(run(f"{line} {window}").stdout)["passes"]
    given = json.loads(run(f"{line} {window} --ephemeris {STATION}").stdout)["passes"]
    tops = [[instant(one) for one in passes] for passes in (given, plain)]
    moved = [(a - b).total_seconds() for a, b in zip(*tops, strict=True)]
    before = [one.hour < 22 and one.day == 13 for one in tops[1]]
    assert before.count(True) == 3
    # 80001 flies as its elements say until the manoeuvre at 22:00; 1.5 m/s faster it
    # rises, and falls behind by 3 × 1.5 m/s: 2 s an hour
    for late_s, flown in zip(moved, before, strict=True):
        assert abs(late_s) < 0.01 if flown else 1.0 < late_s < 9.0
    flags = {flag for one in given for flag in one["flags"]}
    assert "change_over" not in flags
    assert "class_sigma" not in flags


def instant(one):
    return datetime.fromisoformat(one["culmination"]["time"].replace("Z", "+00:00"))


@pytest.mark.parametrize("form", ["csv", "xml", "kvn"])
def test_every_form_of_elements_gives_the_same_passes(run, form):
    line = f"{WHERE} --object 80001 --json --elements"
    want = json.loads(run(f"{line} fixtures/elements/readers/list.json").stdout)
    found = json.loads(run(f"{line} {SIX}.{form}").stdout)
    assert found["passes"] == want["passes"] != []


@pytest.mark.parametrize(
    ("given", "code", "words"),
    [
        ("fixtures/broken/clock.oem", 1, "TIME_SYSTEM 'GPS' is not supported"),
        ("fixtures/broken/metres.oem", 1, "are these kilometres?"),
        ("fixtures/broken/entities.xml", 1, "declares a document type or entities"),
        ("nothing.oem", 1, "no such file"),
        ("README.md", 1, "holds no orbit ephemeris message"),
        (f"{SIX}.kvn", 1, "no orbit ephemeris is in it (OMM is"),
        ("'*.nothing'", 2, "--ephemeris '*.nothing': no file matches"),
    ],
)
def test_bad_ephemerides_are_refused_in_one_line(run, given, code, words):
    result = run(f"tonight --demo --ephemeris {given}", code)
    assert words in result.stderr
    first, *rest = result.stderr.strip().splitlines()
    assert first.startswith("passes: ")
    assert all("see passes tonight --help" in line for line in rest)


@pytest.mark.parametrize(
    "command", ["elements check", "tonight --at 40,150 --elements"]
)
def test_limits_are_told_and_can_be_moved(run, command):
    result = run(f"{command} {SIX}.xml --max-size 0.002", 1)
    assert "holds more than 2,097 bytes (expanded); split it, or allow more by" in (
        result.stderr
    )
    assert run(f"{command} {SIX}.xml --max-size 1 --date 2025-09-13").stdout
    result = run(f"{command} {SIX}.xml --max-size 0", 2)
    assert "--max-size" in result.stderr


def test_a_lateness_moves_passes_and_says_so(run):
    line = "tonight --demo --object 80001 --all --json"
    plain = json.loads(run(line).stdout)["passes"]
    late = json.loads(run(f"{line} --late-by 45").stdout)["passes"]
    assert len(plain) == len(late) > 0
    assert plain[0]["culmination"]["time"] < late[0]["culmination"]["time"]
    assert all("lateness_applied" in one["flags"] for one in late)
    assert all("lateness_applied" not in one["flags"] for one in plain)
    assert "name it by --object" in run("tonight --demo --late-by 45", 2).stderr


def test_formats_that_do_not_fit_are_refused(run):
    assert "no format 'oem'" in run("tonight --demo --format oem", 2).stderr
