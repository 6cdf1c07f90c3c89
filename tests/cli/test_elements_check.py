"""``passes elements check`` as it is typed."""

import csv
import io
import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import passes.cli

SCHEMA = Draft202012Validator(
    json.loads(
        (Path(passes.cli.__file__).parent / "schemas/elements_check.json").read_text()
    )
)
DATE = ("--date", "2025-09-13")


@pytest.fixture
def good(fixtures):
    return fixtures / "elements/readers"


@pytest.fixture
def typed(run):
    """Type the command; its output and that it ended well."""

    def it(*args, code=0, **more):
        result = run("elements", "check", *map(str, args), **more)
        assert result.exit_code == code, result.output
        return result

    return it


def lines(text):
    return [" ".join(line.split()) for line in text.splitlines()]


def document(result):
    found = json.loads(result.stdout)
    SCHEMA.validate(found)
    return found


def test_a_page_says_what_a_file_holds(typed, good):
    page = lines(typed(good / "bare-names.tle", *DATE, env={"COLUMNS": "200"}).stdout)
    assert f"File {good / 'bare-names.tle'}: TLE, 6 of 6 records used" in page
    assert "Objects 6 in 6 element sets" in page
    assert "Epochs 2025-09-13 03:00 to 2025-09-13 18:00 UTC" in page
    assert (
        "Age at 2025-09-13 12:00 UTC half of them within 0.2 days, the furthest 0.4"
        in (page)
    )
    assert "Objects low medium geostationary-like high or eccentric all" in page
    assert "payload – 1 1 1 3" in page
    assert "all 3 1 1 1 6" in page
    assert "Every record could be used." in page
    refused = (
        "SGP4 refuses none of them between 2025-09-13 12:00 and 2025-09-14 12:00 UTC."
    )
    assert refused in page


def test_a_page_fits_eighty_columns(typed, good, fixtures):
    for path in (good / "list.json", *sorted((fixtures / "broken").glob("l*.tle"))):
        # the folder of the test may itself be longer than a line
        text = typed(path, *DATE, env={"COLUMNS": "80"}).stdout
        shown = [
            line for line in text.splitlines() if str(path.parent)[:40] not in line
        ]
        assert max(map(len, shown)) <= 80


def test_json_follows_its_schema_and_carries_everything(typed, good, fixtures):
    broken = fixtures / "broken" / "letters.tle"
    found = document(typed(good / "list.json", broken, *DATE, "--json"))
    assert found["files"] == [
        {
            "file": str(good / "list.json"),
            "form": "OMM as JSON",
            "records": 6,
            "used": 6,
        },
        {"file": str(broken), "form": "TLE", "records": 6, "used": 1},
    ]
    assert found["window"] == {
        "start": "2025-09-13T12:00:00.000Z",
        "end": "2025-09-14T12:00:00.000Z",
    }
    assert (found["sets"], found["objects"]) == (7, 6)
    assert found["classes"] == {
        "payload": 3,
        "station": 1,
        "rocket body": 1,
        "debris": 1,
    }
    assert sum(row["objects"] for row in found["counts"]) == 6
    assert found["several_sets"] == [
        {"catalog_number": 80006, "name": "INVENTED CRAFT 6", "sets": 2}
    ]
    assert found["rejected"][1] == {
        "where": f"{broken}:6",
        "catalog_number": 80002,
        "name": "INVENTED R/B",
        "reason": "unreadable inclination '98.B2000'",
    }
    assert len(found["rejected"]) == 5
    assert found["demo"] is False


def test_csv_has_a_row_for_everything_that_deserves_a_look(typed, good, fixtures):
    broken = fixtures / "broken" / "checksum.tle"
    result = typed(good / "plain.tle", broken, *DATE, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["finding"] for row in rows] == [
        *("rejected", "rejected"),
        *("several sets", "several sets"),
    ]
    assert rows[0]["catalog_number"] == "80002"
    assert rows[0]["where_or_when"] == f"{broken}:5"


def test_what_sgp4_refuses_that_night_is_told_in_words(typed, good):
    # four years on, the low ones have come down or their elements make no orbit
    result = typed(good / "plain.tle", "--date", "2029-09-13", "--json")
    refused = document(result)["refused"]
    assert {row["code"] for row in refused} <= {1, 6}
    assert 80001 in [row["catalog_number"] for row in refused]
    page = typed(good / "bare-names.tle", "--date", "2029-09-13").stdout
    assert f"SGP4 refuses {len(refused)} of them" in page
    assert all(row["reason"] in page for row in refused)


def test_bad_records_are_ten_or_all_and_the_exit_stays_zero(typed, tmp_path, good):
    text = (good / "plain.tle").read_text().splitlines()
    path = tmp_path / "bad.tle"
    path.write_text("\n".join([*text, *[f"{text[0][:60]}"] * 25]))
    page, whole = (
        " ".join(typed(path, *DATE, *more).stdout.split()) for more in ((), ("-v",))
    )  # in one line, wherever the page broke a long path
    assert "Left out, 25:" in page
    assert page.count("line 1 without its line 2") == 10
    assert "… and 15 more left out (--verbose lists all)" in page
    assert whole.count("line 1 without its line 2") == 25


def test_strict_stops_at_the_first(typed, fixtures):
    path = fixtures / "broken/checksum.tle"
    result = typed(path, "--strict", code=1)
    assert result.stdout == ""
    reason = "checksum 3, but the line adds up to 0"
    assert result.stderr == f"passes: {path}:5: {reason}\n"


def test_a_dash_is_standard_input(typed, good):
    data = (good / "names.tle.gz").read_bytes()
    found = document(typed("-", *DATE, "--json", input=data))
    assert found["files"][0]["file"] == "standard input"
    assert found["objects"] == 6


def test_a_quoted_pattern_is_expanded(typed, good):
    found = document(typed(good / "*.json", *DATE, "--json"))
    assert len(found["files"]) == 4


def test_the_demo_is_checked_at_its_own_clock(typed):
    found = document(typed("--demo", "--json"))
    assert found["demo"] is True
    assert found["rejected"] == []
    assert found["objects"] > 60
    assert found["classes"]["station"] >= 1
    assert found["greatest_age_days"] < 7
    assert "Demo: the objects are invented." in typed("--demo").stdout


@pytest.mark.parametrize("args", [[], ["a.tle", "--demo"]])
def test_a_file_or_the_demo_but_not_both(typed, args):
    result = typed(*args, code=2)
    assert "name a FILE" in result.stderr


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("empty.tle", "is empty"),
        ("page.tle", "is a web page"),
        ("gone.tle", "no such file"),
        ("", "is a directory"),
    ],
)
def test_a_file_without_elements_is_one_line(typed, fixtures, name, reason):
    result = typed(fixtures / "broken" / name, code=1)
    assert result.stdout == ""
    assert reason in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_global_options_stand_before_and_after(run, good):
    path = str(good / "plain.tle")
    for args in (
        ("--theme", "red", "elements", "check", path),
        ("elements", "--theme", "red", "check", path),
        ("elements", "check", path, "--theme", "red", "--config", "absent.toml"),
    ):
        assert run(*args).exit_code == 0


def test_the_output_is_written_whole(typed, good, tmp_path):
    target = tmp_path / "check.json"
    result = typed(good / "plain.tle", *DATE, "--output", target)
    assert result.stdout == ""
    SCHEMA.validate(json.loads(target.read_text()))
