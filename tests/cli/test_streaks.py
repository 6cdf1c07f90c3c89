"""``passes streaks`` as a user types it: plans, files, formats, bad input."""

import csv
import io
import json
import shutil
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from session_plans import session_plan

jsonschema = pytest.importorskip("jsonschema")
pytest.importorskip("passes_plugins.streaks")

PLAN = session_plan(12)


def read(result: Any) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.fixture
def plan(tmp_path: Path) -> Any:
    """A plan file, with one thing in it changed."""

    def written(old: str = "", new: str = "") -> str:
        assert old in PLAN
        path = tmp_path / "plan.toml"
        path.write_text(PLAN.replace(old, new) if old else PLAN)
        return str(path)

    return written


def packaged(name: str) -> Any:
    """A schema out of the package."""
    folder = resources.files("passes_plugins.streaks") / "schemas"
    return json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def schema() -> Any:
    return packaged("streaks")


def test_the_demo_keeps_its_schema(run: Any, schema: Any) -> None:
    found = read(run("streaks", "--demo", "--json"))
    jsonschema.Draft202012Validator(schema).validate(found)
    assert found["demo"] is True
    assert len(found["subs"]) == 120
    worst = found["summary"]["worst"][0]
    assert (worst["name"], worst["verdict"]) == ("DEMO MIRROR", "spoiled")
    assert sum(found["summary"]["verdicts"].values()) == 120


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("placing", ("--place",)),
        ("lengths", ("--try-exposures", "60", "--try-exposures", "600")),
        ("comparison", ("--compare",)),
    ],
)
def test_other_questions_keep_their_schemas(
    run: Any, plan: Any, name: str, args: tuple[str, ...]
) -> None:
    path = plan()
    more = (path,) if args[-1] == "--compare" else ()
    found = read(run("streaks", path, "--demo", *args, *more, "--json"))
    assert found["kind"] == name
    check = jsonschema.Draft202012Validator(packaged(name))
    check.validate(found)
    assert not check.is_valid({**found, "site": None})
    rows = next(found[key] for key in ("hours", "lengths", "subs") if key in found)
    assert rows


def test_entry_and_exit_are_on_the_edge_of_the_frame(run: Any) -> None:
    found = read(run("streaks", "--demo", "--json"))
    checked = 0
    for sub in found["subs"]:
        for one in sub["crossings"]:
            for end in ("entry", "exit"):
                x, y = one[end]["x_px"], one[end]["y_px"]
                edge = min(abs(x - 0.5), abs(x - 6240.5), abs(y - 0.5), abs(y - 4160.5))
                assert edge < 2.0  # rounded to 0.1 px, places to 1e-5°
                checked += 1
    assert checked > 10


def test_the_page_fits_the_screen(run: Any) -> None:
    result = run("streaks", "--demo")
    assert result.exit_code == 0
    assert max(len(line) for line in result.stdout.splitlines()) <= 80
    assert result.stdout.startswith("Demo:")
    assert "DEMO MIRROR" in result.stdout
    assert "clean subs not listed" in result.stdout
    every = run("streaks", "--demo", "--all").stdout
    assert len(every.splitlines()) > len(result.stdout.splitlines()) + 100


def test_csv_has_a_row_for_every_sub(run: Any) -> None:
    result = run("streaks", "--demo", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert {row["sub_index"] for row in rows} == {str(i) for i in range(1, 121)}
    assert all(row["demo"] == "true" for row in rows)
    mirror = next(row for row in rows if row["name"] == "DEMO MIRROR")
    assert mirror["saturated"] == "true"


def test_a_plan_of_one_s_own(run: Any, plan: Any) -> None:
    found = read(run("streaks", plan(), "--demo", "--json"))
    assert len(found["subs"]) == 12
    assert found["subs"][1]["verdict"] == "spoiled"


def test_thresholds_can_be_set(run: Any, plan: Any) -> None:
    few = read(run("streaks", plan(), "--demo", "--json", "--least-subs", "13"))
    words = {sub["verdict"] for sub in few["subs"]}
    assert words == {"clean", "spoiled"}
    high = read(run("streaks", plan(), "--demo", "--json", "--clean-below", "0.01"))
    assert high["summary"]["thresholds"]["clean_below"] == 0.01


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("exposure_s = 180.0", "exposure_s = -180.0", "impossible"),
        ("20:00:00Z", "24:00:00Z", "hours run from 00 to 23"),
        ("20:00:00Z", "20:00:00", "no zone; add Z"),
        ('rig = "field"', 'rig = "fiel"', "no rig named 'fiel'"),
        ('rig = "field"', "", "which rig?"),
        ('site = "quillmoor"', 'site = "nowhere"', "no site named 'nowhere'"),
        ("dec_deg = 69.35", "dec_deg = 169.35", "impossible"),
        ("[target]", "[target", "not TOML"),
    ],
)
def test_bad_plans_get_one_clear_line(
    run: Any, plan: Any, old: str, new: str, words: str
) -> None:
    result = run("streaks", plan(old, new), "--demo")
    assert result.exit_code in (1, 2)
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) <= 2
    assert result.stdout == ""
    assert "Traceback" not in result.output


def test_a_site_named_beside_the_plan_counts(run: Any, plan: Any) -> None:
    own = read(run("streaks", plan(), "--demo", "--json"))
    other = read(run("streaks", plan(), "--demo", "--site", "emberpan", "--json"))
    assert own["site"]["name"] == "quillmoor"
    assert other["site"]["name"] == "emberpan"
    assert other["summary"]["crossings"] == 0  # the field never rises there


def test_the_demo_brings_its_own_plan_to_plugins() -> None:
    from passes.config import Config
    from passes.forecast import Request, build
    from passes.registry import Registry

    forecast = build(Request(demo=True), Registry(), Config())
    assert "[session]" in forecast.demo_session
    moved = forecast.moved(site="emberpan")
    assert moved.site.name == "emberpan"
    assert forecast.site.name == "quillmoor"
    assert build(Request(), Registry(), Config()).demo_session == ""


def test_a_plan_that_is_not_there(run: Any) -> None:
    result = run("streaks", "none.toml", "--demo")
    assert result.exit_code == 2
    assert "none.toml" in result.stderr


def test_daylight_and_the_horizon_are_told(run: Any, plan: Any) -> None:
    day = run("streaks", plan("2029-03-17T20", "2029-03-17T12"), "--demo")
    assert "The Sun is up in every sub" in day.stdout
    down = run("streaks", plan("dec_deg = 69.35", "dec_deg = -60.0"), "--demo")
    assert down.exit_code == 0
    assert "below the horizon in every sub" in " ".join(down.stdout.split())
    assert " 0 of the field" in " ".join(down.stdout.split())
    assert "0.60 h below the horizon" in down.stdout


@pytest.mark.parametrize(
    "args",
    [
        ("streaks",),
        ("streaks", "--demo", "--list-files", "spoiled"),
        ("streaks", "--demo", "-0"),
        ("streaks", "--demo", "--clock-offset", "3"),
        ("streaks", "a.toml", "--subs", "b.fits"),
        ("streaks", "--demo", "--date", "2029-03-17"),
        ("streaks", "--demo", "--rig", "long", "--rig", "field"),
        ("streaks", "--demo", "--clean-below", "5"),
    ],
)
def test_what_contradicts_itself_is_refused(run: Any, args: tuple[str, ...]) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.output


def test_output_that_cannot_be_judged_leaves_the_old_file(
    run: Any, plan: Any, tmp_path: Path
) -> None:
    kept = tmp_path / "kept.json"
    kept.write_text("kept")
    bad = plan("exposure_s = 180.0", "exposure_s = 0.0")
    assert run("streaks", bad, "--demo", "--output", str(kept)).exit_code == 2
    assert kept.read_text() == "kept"


# --- files of a night that is over -------------------------------------------------


@pytest.fixture
def subs(fixtures: Path) -> str:
    pytest.importorskip("astropy")
    return str(fixtures / "fits" / "0*.f*")


def test_files_are_judged_and_keep_the_schema(run: Any, subs: str, schema: Any) -> None:
    found = read(run("streaks", "--demo", "--subs", subs, "--json"))
    jsonschema.Draft202012Validator(schema).validate(found)
    assert [Path(sub["path"]).name for sub in found["subs"]] == [
        "01-keywords.fits",
        "02-solved.fits",
        "03-distorted.fits",
        "04-gzip.fits.gz",
        "05-tiles.fits.fz",
    ]
    assert found["site"]["latitude_deg"] == 41.0
    marked = found["subs"][1]["crossings"][0]
    assert marked["name"] == "DEMO MIRROR"
    assert marked["entry"]["time"] < marked["exit"]["time"]


def test_files_say_what_a_plan_says(run: Any, plan: Any, subs: str) -> None:
    """The same field and times; a search in a disc against one in the rectangle."""
    by_plan = read(run("streaks", plan(), "--demo", "--json"))
    by_file = read(run("streaks", "--demo", "--subs", subs, "--json"))
    wanted = by_plan["subs"][1]["crossings"][0]
    got = by_file["subs"][1]["crossings"][0]
    assert got["name"] == wanted["name"]
    for end in ("entry", "exit"):
        a, b = (one[end]["time"] for one in (got, wanted))
        assert abs(float(a[17:-1]) - float(b[17:-1])) < 0.02
        assert got[end]["ra_deg"] == pytest.approx(wanted[end]["ra_deg"], abs=0.02)


def test_a_clock_that_is_off(run: Any, subs: str) -> None:
    off = read(
        run("streaks", "--demo", "--subs", subs, "--clock-offset", "186", "--json")
    )
    assert off["subs"][0]["start"] == "2029-03-17T19:56:54.000Z"
    assert off["subs"][2]["verdict"] == "spoiled"


def test_bad_files_are_told_and_the_rest_goes_on(run: Any, fixtures: Path) -> None:
    folder = str(fixtures / "fits")
    result = run("streaks", "--demo", "--subs", folder, "--json")
    found = read(result)
    lines = result.stderr.strip().splitlines()
    told = {line.split(": ")[1].rsplit("/", 1)[1]: line for line in lines}
    for name, words in {
        "bad-empty.fits": "the file is empty",
        "bad-text.fits": "is no FITS file",
        "bad-truncated.fits": "ends too early",
        "bad-short.fits": "shorter than its header says",
        "bad-hour-24.fits": "hours run from 00 to 23",
        "bad-local.fits": "local time cannot be used",
        "bad-negative.fits": "-180 s is impossible",
        "bad-nowhere.fits": "no place on the sky",
        "bad-untimed.fits": "no time of exposure",
    }.items():
        assert words in told[name]
    assert len(lines) == 9
    assert len(found["subs"]) == 6  # a short file has a whole header


def test_nothing_usable_is_an_error(run: Any, fixtures: Path) -> None:
    pattern = str(fixtures / "fits" / "bad-e*.fits")
    result = run("streaks", "--demo", "--subs", pattern)
    assert result.exit_code == 2
    assert "none of 1 files can be used" in result.stderr


def test_a_pattern_that_matches_nothing(run: Any, tmp_path: Path) -> None:
    result = run("streaks", "--demo", "--subs", str(tmp_path / "*.fits"))
    assert result.exit_code == 2
    assert "no file matches" in result.stderr


def test_paths_by_verdict(run: Any, subs: str) -> None:
    result = run("streaks", "--demo", "--subs", subs, "--list-files", "spoiled")
    names = [Path(line).name for line in result.stdout.splitlines()]
    assert names == ["02-solved.fits", "05-tiles.fits.fz"]
    both = run(
        *("streaks", "--demo", "--subs", subs, "-0"),
        *("--list-files", "spoiled", "--list-files", "clean"),
    )
    assert both.stdout.count("\0") == 5
    assert "\n" not in both.stdout


def test_odd_names_survive(run: Any, fixtures: Path, tmp_path: Path) -> None:
    odd = tmp_path / "a b\nc.fits"
    shutil.copy(fixtures / "fits" / "02-solved.fits", odd)
    result = run(
        *("streaks", "--demo", "--subs", str(tmp_path), "-0"),
        *("--list-files", "spoiled"),
    )
    assert result.stdout == f"{odd}\0"


def test_a_rig_named_beside_the_files(run: Any, subs: str) -> None:
    found = read(run("streaks", "--demo", "--subs", subs, "--rig", "field", "--json"))
    assert found["subs"][1]["verdict"] == "spoiled"
