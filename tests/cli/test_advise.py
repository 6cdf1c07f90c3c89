"""``passes advise`` as a person types it, on the invented scenario."""

import json
from datetime import datetime
from importlib import resources
from itertools import pairwise

import pytest

jsonschema = pytest.importorskip("jsonschema")
pytest.importorskip("passes_plugins.imaging")

from passes.tables.layout import cells  # noqa: E402

#: What a terminal writes for red on black, and its end.
RED = "\x1b[31"
STATION = ("advise", "--demo", "--object", "80001")


@pytest.fixture(autouse=True)
def strict(monkeypatch):
    """A plugin that fails is a failed test, and eighty columns are the page."""
    monkeypatch.setenv("PASSES_STRICT_PLUGINS", "1")
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def shown(run):
    def show(*args):
        result = run(*STATION, *args)
        assert result.exit_code == 0, result.output
        return result.stdout

    return show


def schema(name):
    folder = resources.files("passes_plugins.imaging") / "schemas"
    return json.loads((folder / name).read_text(encoding="utf-8"))


def checked(text, name="advise.json"):
    found = json.loads(text)
    jsonschema.Draft202012Validator(schema(name)).validate(found)
    return found


@pytest.mark.parametrize(
    "args",
    [
        ("--rig", "long"),
        ("--rig", "wide"),
        ("--rig", "long", "--rig", "wide"),
        ("--rig", "long", "--mount", "fixed"),
        ("--rig", "field", "--mount", "stars"),
        ("--rig", "long", "--every", "5"),
        ("--rig", "long", "--glint-mag", "2.5"),
        ("--rig", "long", "--rig", "field", "--mount", "fixed"),
        ("--rig", "long", "--from", "2029-03-19T13:30Z", "--to", "2029-03-19T15:00Z"),
    ],
)
def test_the_page_fits_and_the_json_keeps_its_schema(shown, args):
    page = shown(*args)
    assert max(map(cells, page.splitlines())) <= 80
    assert page.startswith("Demo: ")
    found = checked(shown(*args, "--json"))
    assert found["demo"] is True
    assert [a["rig"] for a in found["advice"] if a["adviser"] == "imaging"] == [
        word for word in args if word in ("long", "wide", "field")
    ]


def test_settings_stand_before_why_and_why_before_cautions(shown):
    page = shown("--rig", "long")
    order = ["Rig long", "Shutter", "Gain", "Frames", "\nWhy", "\nBefore", "\nCautions"]
    assert [page.find(word) for word in order] == sorted(page.find(w) for w in order)
    assert all(word in page for word in order)
    assert "UTC)" in page
    assert "of date" in page


def test_these_settings_would_work_on_the_invented_night(shown):
    """A station of 104 m high in the sky, f/15 and 0.16″ a pixel, following.

    What those who do it use (common practice, no source): 1/200 to 1/2000 s following,
    no longer than the seeing keeps its pattern where light allows it, a gain whose well
    then fills to about a third, every frame that the camera gives; a tenth of a
    millisecond standing still.
    """
    (own,) = checked(shown("--rig", "long", "--json"))["advice"]
    assert own["adviser"] == "imaging"
    assert 1 / 2000 <= own["exposure_s"] <= 1 / 200
    assert own["gain"] == "120"
    shot = own["settings"]["shot"]
    assert own["exposure_s"] < shot["seeing_holds_s"] < shot["motion_limit_s"]
    assert shot["snr_px"] >= 20.0
    assert own["settings"]["recording"]["fits_disk"] is True
    assert 0.30 <= shot["well_filled"] <= 0.40
    assert 40.0 < own["settings"]["object"]["size_arcsec"] < 55.0
    still = checked(shown("--rig", "long", "--mount", "fixed", "--json"))["advice"][0]
    assert 1e-5 < still["exposure_s"] < 3e-4


def test_a_page_for_one_rig_is_a_page(shown):
    """What is dialled comes within the first lines, all of it on one sheet."""
    lines = shown("--rig", "long").splitlines()
    assert len(lines) <= 60
    assert any(line.startswith("Level") for line in lines[:15])
    assert len(shown("--rig", "wide").splitlines()) <= 45


def test_glints_are_told_and_kept_when_asked_for(shown):
    """35 % of a well leave 1.1 mag; 2.5 mag want a tenth of it."""
    page = " ".join(shown("--rig", "long").split())
    assert "glints over 1.1 mag brighter clip" in page
    assert "(--glint-mag 2.5)" in page
    kept = checked(shown("--rig", "long", "--glint-mag", "2.5", "--json"))["advice"][0]
    assert kept["settings"]["shot"]["headroom_mag"] >= 2.5
    assert kept["settings"]["shot"]["well_filled"] <= 0.1
    page = " ".join(shown("--rig", "long", "--glint-mag", "2.5").split())
    assert "brighter are kept" in page
    assert "clip" not in page


def test_a_binned_mode_of_the_rig_is_worked_out(shown):
    own = checked(shown("--rig", "long", "--mount", "fixed", "--json"))["advice"][0]
    (binned,) = (o for o in own["settings"]["options"] if o["kind"] == "binning")
    assert binned["exposure_s"] > own["exposure_s"]
    assert binned["snr_px"] > 1.5 * own["settings"]["shot"]["snr_px"]
    page = " ".join(shown("--rig", "long", "--mount", "fixed").split())
    assert "mode “binned 2 × 2” (1/" in page


def test_a_size_comes_from_the_scenarios_own_table(shown):
    own = checked(shown("--rig", "long", "--json"))["advice"][0]["settings"]["object"]
    assert (own["length_m"], own["width_m"]) == (104.0, 70.0)
    assert own["size_source"] == "invented"


def test_a_pass_by_day_has_the_sky_in_its_sum_and_the_sun_in_its_cautions(shown):
    day = ("--from", "2029-03-19T13:30Z", "--to", "2029-03-19T15:00Z")
    page = " ".join(shown("--rig", "long", *day).split())
    assert "e⁻ of that are sky" in page
    assert "The Sun is up" in page
    own = checked(shown("--rig", "long", *day, "--json"))["advice"][0]
    assert own["settings"]["object"]["sky_mag_arcsec2"] < 6.0
    assert own["settings"]["shot"]["snr_px"] > 10.0


def test_the_rigs_of_a_platform_share_one_pointing(shown):
    found = checked(shown("--rig", "field", "--rig", "long", "--json"))
    field, long = found["advice"]
    assert field["settings"]["rides_with"] == "long"
    assert field["pointing"] == long["pointing"]
    (shared,) = found["together"]
    assert shared["offset_arcmin"] == [-8.0, 5.0]
    assert shared["chance"] > 0.9 > long["settings"]["following"]["blind_chance"]
    page = " ".join(shown("--rig", "field", "--rig", "long").split())
    assert "that of long: follows the object" in page
    assert page.count("Meet it at") == 1


def test_two_rigs_on_one_platform_are_told_where_they_cannot_serve(shown):
    page = " ".join(shown("--rig", "long", "--rig", "wide").split())
    assert "wide looks +60′ right, +600′ up of long" in page
    assert "Put wide on its own tripod" in page
    together = checked(shown("--rig", "long", "--rig", "wide", "--json"))["together"]
    assert together[0]["in_field"] is True
    assert "stars trail" in together[0]["conflict"]


def test_every_gives_a_row_every_so_often(shown):
    own = checked(shown("--rig", "long", "--every", "5", "--json"))["advice"][0]
    table = own["table"]
    times = [datetime.fromisoformat(row["time"]) for row in table]
    assert {(b - a).total_seconds() for a, b in pairwise(times)} == {5.0}
    for row in table:
        assert row["exposure_follow_s"] >= row["exposure_fixed_s"]
    page = shown("--rig", "long", "--every", "20")
    assert "Axis 1 and 2: rates of azimuth and altitude" in " ".join(page.split())


def test_csv_has_the_rows(shown):
    lines = shown("--rig", "long", "--format", "csv").splitlines()
    assert lines[0].startswith("rig,time,azimuth_deg")
    assert lines[0].endswith("demo")
    assert len(lines) > 20


def test_the_red_theme_is_red_throughout(shown, monkeypatch):
    from passes.tables import Screen

    monkeypatch.setattr(
        Screen, "of", classmethod(lambda cls, *_: Screen(80, styled=True, theme="red"))
    )
    page = shown("--rig", "long", "--theme", "red")
    assert all(line.startswith(RED) for line in page.splitlines())


def test_a_measured_lateness_narrows_the_miss(shown):
    before = checked(shown("--rig", "long", "--json"))["advice"][0]
    after = checked(shown("--rig", "long", "--late-by", "0.4", "--json"))["advice"][0]
    assert after["pointing"]["time"] != before["pointing"]["time"] or (
        after["settings"]["object"] != before["settings"]["object"]
    )


# --- the best of the week ----------------------------------------------------


def test_the_best_of_the_week_are_ranked_with_reasons(run):
    result = run("advise", "--demo", "--rig", "long", "--best", "--json")
    assert result.exit_code == 0, result.output
    found = checked(result.stdout, "best.json")
    assert found["min_altitude_deg"] == 40.0
    assert [row["rank"] for row in found["best"]] == list(
        range(1, len(found["best"]) + 1)
    )
    assert found["best"][0]["catalog_number"] == 80001
    for row in found["best"]:
        assert row["altitude_deg"] >= 40.0
        assert row["reasons"]
        assert row["time_step_s"] >= min(row["timing_bound_s"], 3600.0)
        moment = datetime.fromisoformat(row["time"])
        seconds = moment.hour * 3600 + moment.minute * 60 + moment.second
        assert seconds % row["time_step_s"] == 0.0
    page = run("advise", "--demo", "--rig", "long", "--best").stdout
    assert max(map(cells, page.splitlines())) <= 80
    assert "no finer than their" in page
    assert any("in daylight" in row["reasons"] for row in found["best"])
    assert "full-aperture solar filter" in " ".join(page.split())


# --- bad input ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--rig", "none"), "no rig named 'none'"),
        (("--size", "big"), "LENGTHxWIDTH"),
        (("--size", "0"), "LENGTHxWIDTH"),
        (("--blur-px", "0"), "impossible"),
        (("--pass", "80001-20290317T0000"), "no pass 80001-20290317T0000"),
        (
            ("--min-altitude", "89", "--date", "2029-03-18"),
            "no pass of 80001 above 89°",
        ),
        (("--every", "0"), "impossible"),
        (("--glint-mag", "-1"), "impossible"),
        (("--seeing", "900"), "impossible"),
    ],
)
def test_what_cannot_be_advised_is_one_clear_line(run, args, words):
    result = run("advise", "--demo", "--object", "80001", *args)
    assert result.exit_code == 2, result.output
    error = [
        x for x in result.stderr.splitlines() if x.startswith(("Error", "passes:"))
    ]
    assert len(error) == 1
    assert words in error[0]
    assert "Traceback" not in result.output


@pytest.fixture
def own_rig(tmp_path, fixtures):
    """Write a configuration with one rig, and name the elements of the demo."""

    def write(lines):
        path = tmp_path / "passes.toml"
        path.write_text(f"[rigs.mine]\n{lines}\n", encoding="utf-8")
        elements = resources.files("passes") / "data" / "demo" / "elements.tle"
        return (
            *("advise", "--config", str(path), "--at", "41,-2.4,1150"),
            *("--elements", str(elements), "--date", "2029-03-17"),
        )

    return write


CHIP = "focal_length_mm = 2000\npixel_um = 3\nwidth_px = 1936\nheight_px = 1216\n"


def test_a_rig_without_aperture_is_one_line_and_gets_what_can_be_said(run, own_rig):
    result = run(*own_rig(CHIP), "--object", "80001", "--rig", "mine")
    assert result.exit_code == 0, result.output
    page = " ".join(result.stdout.split())
    assert page.count("rig mine: no aperture_mm") == 1
    assert "Shutter 1/" in page


def test_a_lens_of_f_0_is_one_line(run, own_rig):
    """A file that is wrong is a failure of the run (1), a typed one of its use (2)."""
    args = own_rig(f"{CHIP}focal_ratio = 0")
    result = run(*args, "--object", "80001")
    assert result.exit_code == 1
    (error,) = result.stderr.splitlines()
    assert "[rigs.mine]: rig mine: f-number 0 is impossible (0.3 to 500)" in error


def test_a_pass_below_the_horizon_is_one_line(run, own_rig):
    """35° of inclination never rise at 75° north."""
    args = [a if a != "41,-2.4,1150" else "75,0" for a in own_rig(CHIP)]
    result = run(*args, "--object", "80002", "--rig", "mine")
    assert result.exit_code == 2
    (error,) = result.stderr.splitlines()
    assert "no pass of 80002 above 10° in this window: it stays below" in error
    assert result.stdout == ""


def test_an_object_of_unknown_size_is_one_line(run, own_rig):
    args = own_rig(f"{CHIP}aperture_mm = 250")
    result = run(*args, "--object", "80012", "--rig", "mine", "--min-altitude", "5")
    assert result.exit_code == 0, result.output
    page = " ".join(result.stdout.split())
    assert page.count("the object's size is unknown") == 1
    assert "--size" in page
    sized = run(*args, "--object", "80012", "--rig", "mine", "--size", "11x3", "--json")
    found = checked(sized.stdout)["advice"][0]["settings"]["object"]
    assert found["size_source"] == "as stated"


def test_no_rig_at_all_is_one_line(run, tmp_path):
    path = tmp_path / "empty.toml"
    result = run("advise", "--config", str(path), "--at", "41,-2.4")
    assert result.exit_code == 2
    assert "no rig is known" in result.stderr
