"""``passes transits`` as a person types it, on the invented scenario."""

import csv
import io
import json
from datetime import UTC, datetime
from importlib import resources
from xml.etree import ElementTree

import geojson
import gpxpy
import pytest

jsonschema = pytest.importorskip("jsonschema")
pytest.importorskip("passes_plugins.transits")

from passes.tables.layout import cells  # noqa: E402
from passes_plugins.transits.cautions import SUN, SUN_UP  # noqa: E402

DEMO = ("transits", "--demo")
#: A lasting part of the caution about the Sun, on one line of any page.
FILTER = "certified full-aperture solar filter"


@pytest.fixture(autouse=True)
def strict(monkeypatch):
    """A plugin that fails is a failed test, and eighty columns are the page."""
    monkeypatch.setenv("PASSES_STRICT_PLUGINS", "1")
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def shown(run):
    def show(*args):
        result = run(*DEMO, *args)
        assert result.exit_code == 0, result.output
        return result.stdout

    return show


def checked(text):
    found = json.loads(text)
    folder = resources.files("passes_plugins.transits") / "schemas"
    schema = json.loads((folder / "transits.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(found)
    return found


@pytest.mark.parametrize(
    "args",
    [
        ("--body", "moon"),
        ("--body", "sun"),
        ("--reach", "100"),
        ("--reach", "100", "--rig", "long"),
        ("--within", "2"),
        ("--body", "moon", "--all", "--date", "2029-03-20"),
        ("--body", "jupiter"),
        ("--site", "emberpan", "--reach", "60"),
    ],
)
def test_the_page_fits_and_the_json_keeps_its_schema(shown, args):
    page = shown(*args)
    assert page.startswith("Demo: ")
    assert max(cells(line) for line in page.splitlines()) <= 80
    found = checked(shown(*args, "--json"))
    assert found["demo"] is True
    assert found["cautions"]
    for event in found["transits"]:
        assert event["id"] in page


def test_the_moon_from_the_site_itself(shown):
    (event,) = checked(shown("--body", "moon", "--json"))["transits"]
    assert event["time"].startswith("2029-03-20T18:21:53")
    assert event["duration_s"] == pytest.approx(0.616, abs=2e-3)
    assert event["from_site"] is True
    assert event["strip"] is None


def test_the_sun_from_a_place_to_drive_to(shown):
    page = shown("--body", "sun", "--reach", "100")
    (event,) = checked(shown("--body", "sun", "--reach", "100", "--json"))["transits"]
    assert event["time"].startswith("2029-03-21T12:43:1")
    assert event["strip"]["nearest"]["distance_km"] == pytest.approx(16.0, abs=1.0)
    assert "km NNW" in page
    assert "Decide with elements of" in page or "decide now" in page


def test_the_sun_cautions_stand_first_on_every_output(shown, tmp_path, run):
    page = " ".join(shown("--body", "sun", "--reach", "100").split())
    assert page.index(FILTER) < page.index("Searched")
    assert SUN in shown("--body", "sun", "--json")
    assert SUN in shown("--body", "sun", "--reach", "100", "--format", "csv")
    for suffix in ("geojson", "kml", "gpx", "csv", "json", "txt"):
        path = tmp_path / f"strip.{suffix}"
        shown("--body", "sun", "--reach", "100", "--output", str(path))
        text = " ".join(path.read_text(encoding="utf-8").split())
        assert FILTER in text, suffix
    assert FILTER in " ".join(run("transits", "--help").output.split())


def test_a_moon_by_day_says_that_the_sun_is_up(shown):
    found = checked(shown("--body", "moon", "--reach", "100", "--json"))
    assert found["cautions"][0] == SUN_UP


def test_files_are_opened_by_independent_readers(shown, tmp_path):
    names = {s: tmp_path / f"strip.{s}" for s in ("geojson", "kml", "gpx")}
    for path in names.values():
        shown("--reach", "100", "--output", str(path))
    collection = geojson.loads(names["geojson"].read_text(encoding="utf-8"))
    assert collection.is_valid
    assert len(collection["features"]) > 10
    tracks = gpxpy.parse(names["gpx"].read_text(encoding="utf-8"))
    assert len(tracks.tracks) % 3 == 0
    assert tracks.waypoints
    root = ElementTree.parse(names["kml"]).getroot()
    marks = root.findall(".//{http://www.opengis.net/kml/2.2}Placemark")
    assert len(marks) > 10


def test_the_table_of_way_points(shown):
    text = shown("--reach", "100", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert {row["demo"] for row in rows} == {"true"}
    along = [float(row["along_km"]) for row in rows if row["id"] == rows[0]["id"]]
    assert 0.0 in along
    assert along == sorted(along)
    assert all(-90 <= float(row["latitude_deg"]) <= 90 for row in rows)
    without = csv.DictReader(io.StringIO(shown("--body", "moon", "--format", "csv")))
    (row,) = without
    assert float(row["duration_s"]) > 0.5


def test_photography_for_a_rig(shown):
    args = ("--body", "sun", "--reach", "100", "--rig", "long")
    page = " ".join(shown(*args).split())
    assert "The disc sets the exposure" in page
    assert "solar rate" in page
    assert "from its centre towards position angle" in page
    assert "of the frames have the object in front of the disc" in page
    (event,) = checked(shown(*args, "--json"))["transits"]
    (advice,) = event["advice"]
    length = datetime.fromisoformat(advice["stop"]) - datetime.fromisoformat(
        advice["start"]
    )
    assert length.total_seconds() > 2.0 * event["timing_bound_s"]
    moon = " ".join(shown("--body", "moon", "--rig", "long").split())
    assert "lunar rate" in moon


def test_how_far_ahead_is_told_and_until_overrides(shown):
    page = shown("--reach", "100")
    assert "Trusted" in page
    usual = checked(shown("--reach", "100", "--json"))
    later = checked(shown("--reach", "100", "--until", "2029-03-30", "--json"))
    assert len(later["transits"]) > len(usual["transits"])
    assert later["window"]["end"] == "2029-03-30T00:00:00.000Z"
    assert any(event["beyond_outlook"] for event in later["transits"])
    page = " ".join(shown("--reach", "100", "--until", "2029-03-30").split())
    assert "off by more than the strip is wide, a hint and no more" in page
    station = next(o for o in usual["outlook"] if o["catalog_number"] == 80001)
    assert datetime.fromisoformat(station["until"]) < datetime(2029, 3, 27, tzinfo=UTC)


def test_height_moves_the_line(shown):
    args = ("--body", "sun", "--reach", "100", "--json")
    (low,) = checked(shown(*args, "--height-at", "0"))["transits"]
    (high,) = checked(shown(*args, "--height-at", "2000"))["transits"]
    assert low["strip"]["height_m"] == 0.0
    # southwards, towards the Sun, by two kilometres over the tangent of its altitude
    moved = low["strip"]["nearest"]["distance_km"]
    moved -= high["strip"]["nearest"]["distance_km"]
    assert 0.5 < moved < 2.5


def test_an_area_as_typed(shown, tmp_path):
    path = tmp_path / "home.geojson"
    ring = [[-2.7, 41.05], [-2.3, 41.05], [-2.3, 41.3], [-2.7, 41.3], [-2.7, 41.05]]
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    found = checked(shown("--area", str(path), "--json"))
    for event in found["transits"]:
        for longitude, latitude in event["strip"]["centre"]:
            assert -2.701 < longitude < -2.299
            assert 41.049 < latitude < 41.301
    assert "sun" in [event["body"] for event in found["transits"]]


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("--object", "NOBODY"), 2, "no object named 'NOBODY'"),
        (("--reach", "1001"), 2, "1001 km is impossible"),
        (("--reach", "nan"), 2, "impossible"),
        (("--body", "pluto"), 2, "pluto"),
        (("--area", "/nowhere/a.geojson"), 2, "cannot be read"),
        (("--until", "2029-03-01"), 2, "is past"),
        (("--until", "someday"), 2, "someday"),
        (("--until", "2029-03-20", "--date", "2029-03-20"), 2, "leave one out"),
        (("--within", "2", "--reach", "50"), 2, "leave it out with --reach"),
        (("--height-at", "100"), 2, "add --reach or --area"),
        (("--all", "--object", "80001"), 2, "contradict"),
        (("--all", "--until", "2029-03-20"), 2, "one night"),
        (
            ("--all", "--from", "2029-03-17T00:00Z", "--to", "2029-03-20T00:00Z"),
            2,
            "one night",
        ),
        (("--until", "2031-01-01"), 2, "at most 100 days"),
        (("--rig", "none", "--body", "moon"), 2, "none"),
    ],
)
def test_bad_input_is_a_clear_line(run, args, code, said):
    result = run(*DEMO, *args)
    assert result.exit_code == code, result.output
    assert said in result.stderr
    assert result.stdout == ""
    lines = [line for line in result.stderr.splitlines() if line.strip()]
    assert len(lines) <= 3
    assert "Traceback" not in result.output


def test_a_body_that_stays_down_is_said_and_no_error(shown):
    page = shown(
        *("--body", "sun", "--from", "2029-03-18T20:00Z", "--to", "2029-03-18T23:00Z")
    )
    assert "No transit." in page
    assert "Sun: below 20° all the while (highest -" in page


@pytest.mark.parametrize("place", ["90,0", "-90,0", "89.99,180", "0,180"])
def test_poles_and_the_date_line_are_places_like_others(run, place, tmp_path, package):
    elements = package / "data" / "demo" / "elements.tle"
    path = tmp_path / "strip.geojson"
    result = run(
        *("transits", "--at", place, "--elements", str(elements), "--reach", "800"),
        *("--from", "2029-03-17T12:00Z", "--to", "2029-03-19T12:00Z"),
        *("--object", "80011", "--object", "80013", "--output", str(path)),
        *("--min-altitude", "0"),
    )
    assert result.exit_code == 0, result.output
    read = geojson.loads(path.read_text(encoding="utf-8"))
    assert read.is_valid
    assert all(feature.is_valid for feature in read["features"])


def test_old_elements_of_a_file_are_refused(run, root):
    elements = root / "fixtures" / "elements" / "first_night.tle"
    result = run("transits", "--at", "41,2", "--elements", str(elements))
    assert result.exit_code == 1
    assert "no usable element set for this window" in result.stderr
    assert "days away" in result.stderr
    assert "passes elements fetch" in result.stderr


def test_an_operators_ephemeris_serves_as_elements_do(run, shown, tmp_path):
    """The station's own pass, written and read back: the same strip to a metre."""
    path = tmp_path / "pass.oem"
    given = ("--object", "80001", "--pass", "80001-20290317T1900")
    assert run("track", "--demo", *given, "--output", str(path)).exit_code == 0
    asked = (
        *("--object", "80001", "--body", "saturn", "--reach", "800", "--json"),
        *("--from", "2029-03-17T18:57:30Z", "--to", "2029-03-17T19:03:30Z"),
        *("--min-altitude", "5"),
    )
    (before,) = checked(shown(*asked))["transits"]
    (after,) = checked(shown(*asked, "--ephemeris", str(path)))["transits"]
    assert ("change_over" in before["flags"], "change_over" in after["flags"]) == (
        False,
        True,
    )
    one, other = (e["strip"]["nearest"] for e in (before, after))
    assert other["distance_km"] == pytest.approx(one["distance_km"], abs=2e-3)
    assert other["time"][:21] == one["time"][:21]
