"""``passes site``: keeping places by name, from coordinates and from a receiver."""

import csv
import io
import json
import stat

import pytest

FIX = (
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n"
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
)


@pytest.fixture
def site(run, home):
    def typed(*args, code=0, **more):
        result = run("site", *args, **more)
        assert result.exit_code == code, result.output
        return result

    return typed


@pytest.fixture
def kept(site):
    def records():
        return json.loads(site("list", "--json").stdout)["sites"]

    return records


@pytest.fixture
def trees(tmp_path):
    path = tmp_path / "trees.csv"
    path.write_text("azimuth,altitude\n# south is open\n0,5\n90,12\n180,3.5\n270,8\n")
    return path


def test_a_site_is_kept_with_all_that_is_known_of_it(site, kept, trees):
    site(
        *("add", "ridge", "--at", "37°06′N,3°24′W,1900", "--zone", "Europe/Madrid"),
        *("--sky", "21.6", "--seeing", "2", "--extinction", "0.15"),
        *("--horizon", str(trees), "--default"),
    )
    (record,) = kept()
    assert record == {
        "name": "ridge",
        "latitude_deg": pytest.approx(37.1),
        "longitude_deg": pytest.approx(-3.4),
        "height_m": 1900.0,
        "zone": "Europe/Madrid",
        "horizon": [[0.0, 5.0], [90.0, 12.0], [180.0, 3.5], [270.0, 8.0]],
        "seeing_arcsec": 2.0,
        "sky_mag_arcsec2": 21.6,
        "extinction_mag": 0.15,
        "default": True,
    }


def test_tonight_takes_the_site_by_name_and_by_default(site, run, fixtures):
    elements = str(fixtures / "elements" / "first_night.tle")
    night = ("--elements", elements, "--date", "2027-09-04", "--json")
    site("add", "ridge", "--at", "37.1,-3.4,1900", "--default")
    site("add", "camp", "--at", "41,-2.4")
    by_default = json.loads(run("tonight", *night).stdout)
    assert by_default["site"]["name"] == "ridge"
    named = json.loads(run("tonight", *night, "--site", "camp").stdout)
    assert named["site"]["name"] == "camp"
    wrong = run("tonight", *night, "--site", "ridgf")
    assert wrong.exit_code == 2
    assert "ridge, camp" in wrong.stderr


def test_comments_and_other_tables_stay(site, home):
    path = home / ".config" / "passes" / "passes.toml"
    path.parent.mkdir(parents=True)
    path.write_text("# my places\n[plugins.imaging]  # mine\nfill = 0.3\n")
    site("add", "ridge", "--at", "37.1,-3.4")
    text = path.read_text()
    assert text.startswith("# my places\n[plugins.imaging]  # mine\nfill = 0.3\n")
    assert "[sites.ridge]" in text


def test_a_name_is_not_taken_twice_unless_replaced(site, kept):
    site("add", "ridge", "--at", "37.1,-3.4,1900", "--sky", "21.6")
    refused = site("add", "ridge", "--at", "10,10", code=2)
    assert "kept already" in refused.stderr
    assert kept()[0]["latitude_deg"] == 37.1
    site("add", "ridge", "--at", "10,10", "--replace")
    assert kept()[0]["latitude_deg"] == 10.0
    assert kept()[0]["sky_mag_arcsec2"] is None


def test_remove_forgets_the_default_too(site, kept):
    site("add", "ridge", "--at", "37.1,-3.4", "--default")
    site("add", "camp", "--at", "41,-2.4")
    site("remove", "ridge")
    assert [one["name"] for one in kept()] == ["camp"]
    assert "camp" in site("remove", "ridge", code=2).stderr


def test_list_and_show_fit_eighty_columns(site, trees):
    assert "No site is kept yet" in site("list").stdout
    site("add", "ridge", "--at", "37.1,-3.4,1900", "--horizon", str(trees), "--default")
    page = site("list").stdout
    assert "37.1000° N, 3.4000° W, 1900 m" in page
    assert "4 corners" in page
    sheet = site("show", "ridge").stdout
    assert "0°: 5°, 90°: 12°" in sheet
    assert all(len(line) <= 80 for line in (page + sheet).splitlines()[:-1])
    (row,) = csv.DictReader(io.StringIO(site("list", "--format", "csv").stdout))
    assert row["corners"] == "4"


def test_a_receiver_gives_the_place(site, kept, tmp_path):
    path = tmp_path / "fix.nmea"
    path.write_text(FIX, newline="")
    assert site("read", str(path)).stdout == "48.117300,11.516667,592.3\n"
    site("read", str(path), "--name", "meadow", "--sky", "21.2")
    (record,) = kept()
    assert record["latitude_deg"] == pytest.approx(48.1173)
    assert record["height_m"] == 592.3
    assert record["sky_mag_arcsec2"] == 21.2
    assert site("read", "-", input=FIX).stdout == "48.117300,11.516667,592.3\n"


def test_a_damaged_sentence_is_told_and_the_good_one_used(site, tmp_path):
    path = tmp_path / "fix.nmea"
    path.write_text(FIX.replace("W*6A", "W*6B"))
    result = site("read", str(path))
    assert result.stdout == "48.117300,11.516667,592.3\n"
    assert f"{path}:1: checksum" in result.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no NMEA 0183 sentence"),
        ("hello\n", "no NMEA 0183 sentence"),
        ("$GPGGA,123519,,,,,0,00,,,M,,M,,*6B\n", "no fix yet"),
        ("$GPGSA,A,3,01,20,19,13,,,,,,,,,40.4,24.4,32.2*0A\n", "GGA or RMC"),
    ],
)
def test_no_fix_is_an_error(site, tmp_path, text, said):
    path = tmp_path / "fix.nmea"
    path.write_text(text)
    result = site("read", str(path), code=2)
    assert said in result.stderr
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("args", "horizon", "said"),
    [
        (("--at", "91,0"), None, "latitude 91° is impossible"),
        (("--at", "10,0,20000"), None, "height 20000 m is impossible"),
        (("--at", "10"), None, "want LAT,LON"),
        (("--at", "10,0", "--zone", "Mars/Base"), None, "no time zone 'Mars/Base'"),
        (("--at", "10,0", "--sky", "30"), None, "30"),
        (("--at", "10,0"), "0,5\n90,3\n80,2\n", "out of order"),
        (("--at", "10,0"), "10,5\n20,3\n", "does not cover the circle"),
        (("--at", "10,0"), "10,5\n20,three\n", ":2: want AZIMUTH,ALTITUDE"),
        (("--at", "10,0"), "10,5\n400,3\n", "azimuth 400° is impossible"),
        (("--at", "10,0"), "10,95\n200,3\n", "altitude 95° is impossible"),
        (("--at", "10,0"), "0,nan\n200,3\n", ":1: want AZIMUTH,ALTITUDE"),
    ],
)
def test_impossible_values_are_refused_and_nothing_is_kept(
    site, kept, tmp_path, args, horizon, said
):
    more = ()
    if horizon is not None:
        path = tmp_path / "horizon.csv"
        path.write_text(horizon)
        more = ("--horizon", str(path))
    result = site("add", "x", *args, *more, code=1 if "Mars/Base" in args else 2)
    assert said in result.stderr
    assert len(result.stderr.splitlines()) <= 2
    assert kept() == []


def test_a_protected_file_stays_as_it_was(site, home):
    site("add", "ridge", "--at", "37.1,-3.4")
    path = home / ".config" / "passes" / "passes.toml"
    before = path.read_bytes()
    path.chmod(stat.S_IRUSR)
    result = site("add", "camp", "--at", "41,-2.4", code=1)
    assert "write-protected" in result.stderr
    assert path.read_bytes() == before
