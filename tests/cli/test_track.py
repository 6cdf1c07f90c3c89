"""``passes track``: one pass second by second, as a person and as a script reads it."""

import csv
import io
import json
from datetime import datetime
from itertools import pairwise

import jsonschema
import numpy as np
import pytest

import passes.cli
from passes.tables.layout import cells

SCHEMA = passes.cli.__path__[0] + "/schemas/track.json"


@pytest.fixture
def track(run):
    def typed(*args, code=0):
        result = run("track", "--demo", *args)
        assert result.exit_code == code, result.output
        return result

    return typed


@pytest.fixture
def station(track):
    return json.loads(track("--object", "80001", "--step", "1", "--json").stdout)


def test_json_keeps_to_its_schema(station):
    with open(SCHEMA, encoding="utf-8") as text:
        jsonschema.validate(station, json.load(text))
    assert station["demo"] is True
    assert station["pass"]["id"].startswith("80001-2029")


def test_samples_stand_on_whole_seconds_and_cover_the_pass(station):
    times = [datetime.fromisoformat(row["time"]) for row in station["track"]]
    assert {one.microsecond for one in times} == {0}
    assert {(b - a).total_seconds() for a, b in pairwise(times)} == {1}
    start, end = (
        datetime.fromisoformat(station["window"][k]) for k in ("start", "end")
    )
    assert times[0] <= start
    assert times[-1] >= end


def test_rates_are_the_slopes_of_what_they_belong_to(station):
    rows = station["track"]
    for angle, rate in (
        ("altitude_deg", "altitude_rate_deg_s"),
        ("azimuth_deg", "azimuth_rate_deg_s"),
    ):
        values = np.array([row[angle] for row in rows])
        slope = (values[2:] - values[:-2]) / 2
        told = np.array([row[rate] for row in rows])[1:-1]
        high = np.array([row["altitude_deg"] for row in rows])[1:-1]
        calm = high < 60.0  # beside the zenith a chord is not the slope
        np.testing.assert_allclose(slope[calm], told[calm], atol=2e-3)
        assert calm.sum() > 200


def test_a_finer_step_agrees_at_common_times(track, station):
    fine = json.loads(track("--object", "80001", "--step", "0.05", "--json").stdout)
    by_time = {row["time"]: row for row in fine["track"]}
    for row in station["track"][::40]:
        assert by_time[row["time"]] == row


def test_the_pass_can_be_named_by_the_id_that_tonight_prints(run, track, station):
    night = json.loads(run("tonight", "--demo", "--json").stdout)
    (wanted,) = [one for one in night["passes"] if one["id"] == station["pass"]["id"]]
    named = json.loads(track("--pass", wanted["id"], "--step", "1", "--json").stdout)
    assert named == station


def test_an_id_from_other_elements_still_finds_the_pass(track, station):
    number, stamp = station["pass"]["id"].split("-")
    minute = int(stamp[-2:]) // 10 * 10
    near = f"{number}-{stamp[:-4]}{stamp[-4:-2]}{(minute + 10) % 60:02d}"
    found = json.loads(track("--pass", near, "--json").stdout)
    assert found["pass"]["id"] == station["pass"]["id"]


def test_the_page_fits_eighty_columns_and_names_its_frames(track):
    said = track("--object", "80001", "--step", "30").stdout
    assert all(cells(line) <= 80 for line in said.splitlines())
    assert said.startswith("Demo: ")
    for part in ("RA of date", "refr.", "DEMO STATION (80001)", "95 % within"):
        assert part in said


def test_cautions_stand_below_and_name_the_sun_where_it_is_up(track):
    by_night = " ".join(track("--object", "80001").stdout.split())
    assert "keep people and cables clear" in by_night
    assert "SUN" not in by_night
    hours = ("--from", "2029-03-18T14:00Z", "--to", "2029-03-18T17:00Z")
    args = ("--object", "80001", *hours, "--step", "30")
    page = track(*args).stdout
    rows = json.loads(track(*args, "--json").stdout)["track"]
    near = min(row["sun_separation_deg"] for row in rows if row["altitude_deg"] > 0)
    assert all(row["sun_altitude_deg"] > 0 for row in rows)
    by_day = " ".join(page.split())
    assert f"within {near:.0f}° of it" in by_day
    assert "certified full-aperture solar filter" in by_day
    assert max(map(cells, page.splitlines())) <= 80


def test_csv_has_a_row_a_sample_and_marks_the_demo(track):
    text = track("--object", "80001", "--step", "60", "--format", "csv").stdout
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) in (7, 8)
    assert {row["demo"] for row in rows} == {"true"}
    assert float(rows[0]["altitude_deg"]) == pytest.approx(10.0, abs=0.2)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--object", "99999"), "no object named '99999'"),
        (("--pass", "80001-20290317T1500"), "no pass 80001-20290317T1500"),
        (("--pass", "tonight"), "'tonight'"),
        (("--object", "80001", "--step", "0"), "0"),
        (("--object", "80002", "--min-altitude", "89"), "no pass of 80002 above 89°"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(run, args, said):
    result = run("track", "--demo", *args)
    assert result.exit_code == 2
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) <= 2
    assert said in lines[0]
