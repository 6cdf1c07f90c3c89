"""``passes tonight`` from end to end, on the invented night and on invented files."""

import csv
import io
import json
import subprocess
import sys

import jsonschema
import pytest

import passes.cli.tonight
from passes.cli.tonight import CSV_COLUMNS
from passes.registry import Registry
from passes.tables.layout import cells


@pytest.fixture(autouse=True)
def only_our_plugins(monkeypatch):
    found = Registry.from_entry_points
    monkeypatch.setattr(
        Registry, "from_entry_points", lambda **how: found(only=["passes"], **how)
    )


@pytest.fixture
def demo(run):
    def typed(*args, code=0):
        result = run("tonight", "--demo", *args)
        assert result.exit_code == code, result.output
        return result

    return typed


@pytest.fixture(scope="module")
def schema():
    file = (passes.cli.__path__[0]) + "/schemas/tonight.json"
    with open(file, encoding="utf-8") as text:
        found = json.load(text)
    jsonschema.Draft202012Validator.check_schema(found)
    return jsonschema.Draft202012Validator(found)


@pytest.mark.parametrize(
    "args",
    [[], ["--all"], ["--site", "emberpan"], ["--magnitude", "-20"], ["--limit", "1"]],
)
def test_json_is_what_its_schema_promises(args, demo, schema):
    document = json.loads(demo("--json", *args).stdout)
    schema.validate(document)
    assert document["demo"] is True
    assert document["searched"]["objects"] > 50


def test_the_schema_refuses_what_it_should(demo, schema):
    document = json.loads(demo("--json", "--all").stdout)
    for spoil in (
        lambda d: d.pop("window"),
        lambda d: d["passes"][0].pop("flags"),
        lambda d: d["passes"][0].update(id="80001"),
        lambda d: d["passes"][0].update(sunlit=None),
        lambda d: d["window"].update(start="2029-03-17T18:19:00+00:00"),
    ):
        spoilt = json.loads(json.dumps(document))
        spoil(spoilt)
        assert not schema.is_valid(spoilt)


def test_csv_has_a_row_for_each_pass_of_the_json(demo):
    rows = list(csv.DictReader(io.StringIO(demo("--format", "csv").stdout)))
    listed = json.loads(demo("--json").stdout)["passes"]
    assert [row["id"] for row in rows] == [one["id"] for one in listed]
    assert tuple(rows[0]) == CSV_COLUMNS
    assert {row["demo"] for row in rows} == {"true"}
    for row, one in zip(rows, listed, strict=True):
        assert float(row["brightest_magnitude"]) == one["brightest"]["magnitude"]


def test_the_table_shows_stations_and_fits_eighty_columns(demo):
    said = demo("--limit", "1").stdout
    assert said.startswith("Demo: ")
    assert "STATION" in said
    assert max(map(cells, said.splitlines())) <= 80


def test_all_lists_every_pass_and_more_than_are_visible(demo):
    every = json.loads(demo("--all", "--json").stdout)["passes"]
    best = json.loads(demo("--json").stdout)["passes"]
    assert len(every) > 3 * len(best)
    assert {one["id"] for one in best} <= {one["id"] for one in every}
    assert any(not one["sunlit"] for one in every)
    assert demo("--all").stdout.count("\n") > len(every)


def test_nothing_found_says_what_was_searched_and_what_cut_most(demo):
    said = demo("--magnitude", "-20", "--object", "DEMO ROWAN R/B").stdout
    assert "Nothing to go outside for." in said
    assert "Searched  1 object" in said
    assert "nothing to see" in said


def test_an_unknown_object_is_answered_with_similar_ones(demo):
    result = demo("--object", "DEMO ROWAM R/B", code=2)
    assert "DEMO ROWAN R/B" in result.stderr


def test_an_unknown_site_is_answered_with_those_there_are(demo):
    assert "quillmoor, emberpan" in demo("--site", "nowhere", code=2).stderr


def test_the_demo_is_the_same_for_everyone(demo, tmp_path):
    here = demo("--json").stdout
    elsewhere = subprocess.run(
        [sys.executable, "-m", "passes", "tonight", "--demo", "--json"],
        env={"TZ": "Asia/Tokyo", "HOME": "/nonexistent"},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert elsewhere.returncode == 0, elsewhere.stderr
    assert elsewhere.stdout == here


def test_elements_come_from_files_and_from_standard_input(run, fixtures):
    file = fixtures / "elements" / "first_night.tle"
    where = ["--at", "37.1,-3.4,1900", "--date", "2027-09-04", "--json"]
    from_file = run("tonight", "--elements", str(file), *where)
    from_stdin = run("tonight", "--elements", "-", *where, input=file.read_bytes())
    assert from_file.exit_code == 0, from_file.output
    assert (
        json.loads(from_file.stdout)["passes"]
        == json.loads(from_stdin.stdout)["passes"]
    )
    assert json.loads(from_file.stdout)["demo"] is False


def test_no_elements_at_all_says_how_to_give_some(run):
    result = run("tonight", "--at", "37.1,-3.4")
    assert result.exit_code == 1
    assert "--elements" in result.stderr


def test_no_place_at_all_says_how_to_give_one(run, fixtures):
    file = fixtures / "elements" / "first_night.tle"
    result = run("tonight", "--elements", str(file))
    assert result.exit_code == 2
    assert "--at" in result.stderr


def test_a_bad_record_is_told_and_the_good_ones_used(run, fixtures, tmp_path):
    lines = (fixtures / "elements" / "first_night.tle").read_text().splitlines()
    lines[1] = lines[1][:-1] + "9"
    (tmp_path / "spoilt.tle").write_text("\n".join(lines))
    where = ["--at", "37.1,-3.4,1900", "--date", "2027-09-04"]
    told = run("tonight", "--elements", str(tmp_path / "spoilt.tle"), *where)
    assert told.exit_code == 0, told.output
    assert "spoilt.tle:2" in told.stderr
    assert "checksum" in told.stderr
    strict = run(
        "tonight", "--elements", str(tmp_path / "spoilt.tle"), *where, "--strict"
    )
    assert strict.exit_code == 1
    assert "spoilt.tle:2" in strict.stderr
    assert strict.stdout == ""


def test_a_lateness_of_nothing_is_a_measurement_too(demo):
    station = ("--object", "80001", "--json")
    (before, *_) = json.loads(demo(*station).stdout)["passes"]
    (after, *_) = json.loads(demo(*station, "--late-by", "0").stdout)["passes"]
    assert "lateness_applied" in after["flags"]
    assert "lateness_applied" not in before["flags"]
    assert after["rise"]["time"] == before["rise"]["time"]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("frame.oem", "frame.oem:1: record 1: a message of another kind (OEM)"),
        ("crossed.xml", "crossed.xml:28: record 1: damaged XML"),
    ],
)
def test_a_file_without_a_usable_set_says_what_was_wrong_with_it(
    run, fixtures, name, said
):
    file = str(fixtures / "broken" / name)
    result = run("tonight", "--elements", file, "--at", "37,-3", "--date", "2024-03-20")
    assert result.exit_code == 1
    assert said in result.stderr
    assert "no element set is left" in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_an_unknown_object_is_answered_with_names_like_it(demo):
    assert "(like it: DEMO STATION" in demo("--object", "DEMO STATON", code=2).stderr
    nothing = demo("--object", "QQQQ", code=2).stderr
    assert "no object named 'QQQQ'" in nothing
    assert "known" not in nothing
