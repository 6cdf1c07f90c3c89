"""``passes identify`` on made images: a streak drawn from a known object's places."""

import json
from datetime import timedelta
from importlib import resources
from typing import Any

import pytest

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from astropy.io import fits
from drawn_streaks import MIDDLE, MIRROR, image


def read(result: Any) -> Any:
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def keeps_schema(found: Any) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    file = resources.files("passes_plugins.streaks") / "schemas/identification.json"
    schema = json.loads(file.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(found)


def test_a_streak_across_the_whole_frame_is_named(run: Any, tmp_path: Any) -> None:
    path = tmp_path / "sub.fits"
    ends = image(path, MIDDLE - timedelta(seconds=60), 180.0, MIRROR)
    found = read(
        run("identify", "--image", str(path), "--ends", *ends, "--demo", "--json")
    )
    streak = found["streaks"][0]
    assert streak["named"] == MIRROR
    assert [end["cut"] for end in streak["ends"]] == [True, True]
    best = streak["candidates"][0]
    assert abs(best["offset_arcsec"]) < 20.0  # two pixels
    assert abs(best["turn_deg"]) < 0.2
    assert best["late_low_s"] < 0.0 < best["late_high_s"]
    chances = [one["chance"] for one in streak["candidates"]]
    assert sum(chances) + streak["none_of_these"] == pytest.approx(1.0, abs=1e-4)
    assert found["clock_offset"] is None
    keeps_schema(found)


def test_an_end_in_the_frame_tells_the_time(run: Any, tmp_path: Any) -> None:
    """The shutter opened with the object in the field: its moment is known."""
    path = tmp_path / "sub.fits"
    ends = image(path, MIDDLE, 60.0, MIRROR)
    args = ["--image", str(path), "--ends", *ends, "--demo", "--json"]
    best = read(run("identify", *args))["streaks"][0]["candidates"][0]
    assert best["catalog_number"] == MIRROR
    assert best["late_low_s"] == best["late_high_s"]
    assert abs(best["late_s"]) < 0.1


def test_a_direction_that_nobody_has_is_nobody_s(run: Any, tmp_path: Any) -> None:
    path = tmp_path / "sub.fits"
    image(path, MIDDLE - timedelta(seconds=60), 180.0, MIRROR)
    args = ["--image", str(path), "--ends", "0.5,300", "1000,420", "--demo"]
    streak = read(run("identify", *args, "--json"))["streaks"][0]
    assert streak["named"] is None
    assert streak["none_of_these"] > 0.99
    page = run("identify", *args).stdout
    row = next(line for line in page.splitlines() if line.startswith(" 100 %"))
    assert row == " 100 %  none of these (uncatalogued, aircraft, meteor)"
    assert any(line.startswith("Chance  Object") for line in page.splitlines())
    assert max(map(len, page.splitlines())) <= 80


def test_the_right_path_at_the_wrong_time_is_nobody_s(run: Any, tmp_path: Any) -> None:
    """A minute off, with orbits known to a tenth of a second."""
    path = tmp_path / "sub.fits"
    ends = image(path, MIDDLE - timedelta(seconds=60), 180.0, MIRROR)
    with fits.open(path, mode="update") as opened:
        late = MIDDLE + timedelta(seconds=20)
        opened[0].header["DATE-OBS"] = f"{late:%Y-%m-%dT%H:%M:%S}"
    args = ["--image", str(path), "--ends", *ends, "--demo", "--json"]
    assert read(run("identify", *args))["streaks"][0]["named"] is None


def test_two_streaks_tell_the_camera_s_clock(run: Any, tmp_path: Any) -> None:
    """Both images say they began 1.5 s later than they did."""
    paths, ends = [], []
    for number, begun in (
        (MIRROR, MIDDLE),
        (MIRROR, MIDDLE - timedelta(seconds=3)),
    ):
        path = tmp_path / f"{len(paths)}.fits"
        ends += ["--ends", *image(path, begun, 60.0, number)]
        with fits.open(path, mode="update") as opened:
            wrong = begun + timedelta(seconds=1.5)
            opened[0].header["DATE-OBS"] = f"{wrong:%Y-%m-%dT%H:%M:%S}.500"
        paths += ["--image", str(path)]
    found = read(
        run("identify", *paths, *ends, "--demo", "--json", "--clock-sigma", "5")
    )
    assert [one["named"] for one in found["streaks"]] == [MIRROR, MIRROR]
    assert found["clock_offset"]["offset_s"] == pytest.approx(1.5, abs=0.1)
    assert found["clock_offset"]["streaks"] == 2
    keeps_schema(found)


TIMES = ("--from", "2029-03-17T20:00:00Z", "--to", "2029-03-17T20:03:00Z")


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (["--image", "no.fits"], "needs --ends"),
        (["--radec", "1,2", "3,4"], "needs --from and --to"),
        ([], "give --image and --ends"),
        (["--image", "no.fits", "--ends", "1,1", "9,9"], "no.fits"),
        (
            ["--radec", "400,2", "3,4", *TIMES],
            "no place on the sky",
        ),
        (
            ["--radec", "abc", "3,4", *TIMES],
            "want RA,DEC",
        ),
    ],
)
def test_bad_input_is_one_line(run: Any, args: Any, message: str) -> None:
    result = run("identify", *args, "--demo")
    assert result.exit_code != 0
    assert message in result.stderr
    assert "Traceback" not in result.stderr
