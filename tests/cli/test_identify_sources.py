"""``passes identify`` by other solutions, by an archive, by an operator's ephemeris."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
import flights
from astropy.io import fits
from demo_sky import DEMO, records
from drawn_streaks import MIDDLE, MIRROR, image, places, solution
from one_satellite import timescale
from skyfield.api import EarthSatellite

OPENED = MIDDLE - timedelta(seconds=60)
SITE = ("--at", "41.0,-2.4,1150")


def asked(run: Any, *args: Any) -> Any:
    result = run("identify", *map(str, args), "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)["streaks"]


def lines_of(number: int) -> tuple[str, str]:
    text = (DEMO / "elements.tle").read_text(encoding="utf-8")
    return next(one[1:] for one in records(text) if int(one[1][2:7]) == number)


# --- solutions ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turn_deg", "mirrored"), [(20.0, True), (200.0, False), (305.0, True)]
)
def test_turned_flipped_and_bent_frames(
    run: Any, tmp_path: Path, turn_deg: float, mirrored: bool
) -> None:
    path = tmp_path / "sub.fits"
    wcs = solution(turn_deg, mirrored=mirrored, bent=True)
    ends = image(path, OPENED, 180.0, MIRROR, wcs)
    (streak,) = asked(run, "--image", path, "--ends", *ends, "--demo")
    assert streak["named"] == MIRROR
    best = streak["candidates"][0]
    assert abs(best["offset_arcsec"]) < 20.0  # two pixels
    assert abs(best["turn_deg"]) < 0.2


def test_a_bent_frame_taken_as_straight_would_be_wrong(tmp_path: Path) -> None:
    """The distortion above is worth several pixels: leaving it out would show."""
    wcs = solution(bent=True)
    x, y = np.array([20.0, 980.0]), np.array([660.0, 30.0])
    bent, straight = wcs.all_pix2world(x, y, 1), wcs.wcs_pix2world(x, y, 1)
    assert np.abs(bent[1] - straight[1]).max() * 3600.0 > 40.0


def test_rows_counted_from_the_top_are_guessed_at(run: Any, tmp_path: Path) -> None:
    path = tmp_path / "sub.fits"
    ends = image(path, OPENED, 180.0, MIRROR)
    turned = []
    for end in ends:
        x, y = map(float, end.split(","))
        turned.append(f"{x},{681.0 - y}")
    result = run("identify", "--image", str(path), "--ends", *turned, "--demo")
    assert result.exit_code == 0
    assert "Made by  nobody" in result.stdout
    assert "with rows counted from the top, DEMO MIRROR fits" in result.stderr


def test_an_end_short_of_the_edge_is_still_cut_by_it(run: Any, tmp_path: Path) -> None:
    """Few people measure to the last pixel of a streak that leaves the frame."""
    path = tmp_path / "sub.fits"
    ends = np.array(
        [list(map(float, end.split(","))) for end in image(path, OPENED, 180.0, MIRROR)]
    )
    inward = ends + 7.0 * (ends[::-1] - ends) / np.hypot(*(ends[1] - ends[0]))
    typed = [f"{x:.1f},{y:.1f}" for x, y in inward]
    (streak,) = asked(run, "--image", path, "--ends", *typed, "--demo")
    assert streak["named"] == MIRROR
    assert [end["cut"] for end in streak["ends"]] == [True, True]


def test_a_streak_that_fades_half_way_is_still_named(run: Any, tmp_path: Path) -> None:
    """Light that goes out inside the frame is not the shutter, and tells no time."""
    path = tmp_path / "sub.fits"
    first, last = (
        np.array(list(map(float, end.split(","))))
        for end in image(path, OPENED, 180.0, MIRROR)
    )
    x, y = 0.5 * (first + last)
    typed = (f"{first[0]},{first[1]}", f"{x},{y}")
    (streak,) = asked(run, "--image", path, "--ends", *typed, "--demo")
    assert streak["named"] == MIRROR
    best = streak["candidates"][0]
    assert best["partly"]
    assert best["late_low_s"] < 0.0 < best["late_high_s"]


def test_a_clock_minutes_off_is_searched_for_as_far(run: Any, tmp_path: Path) -> None:
    """Five minutes fast: named only where the clock is said to be so wrong."""
    path = tmp_path / "sub.fits"
    ends = image(path, MIDDLE, 60.0, MIRROR)
    with fits.open(path, mode="update") as opened:
        wrong = MIDDLE + timedelta(seconds=300)
        opened[0].header["DATE-OBS"] = f"{wrong:%Y-%m-%dT%H:%M:%S}"
    args = ("--image", path, "--ends", *ends, "--demo")
    assert asked(run, *args)[0]["named"] is None
    (streak,) = asked(run, *args, "--clock-sigma", "200")
    assert streak["named"] == MIRROR
    assert streak["candidates"][0]["late_s"] == pytest.approx(300.0, abs=0.5)


def test_a_file_without_a_solution_is_told_to_be_rough(
    run: Any, fixtures: Path
) -> None:
    path = fixtures / "fits" / "01-keywords.fits"
    args = ("--image", str(path), "--ends", "2,2", "50,30", "--demo")
    result = run("identify", *args)
    assert result.exit_code == 0
    assert "no plate solution" in result.stderr
    assert "none of these" in result.stdout


# --- places and times ---------------------------------------------------------------


def test_places_and_times_typed(run: Any) -> None:
    ra, dec = places(MIRROR, OPENED, np.array([58.0, 62.0]))
    ends = [f"{a:.5f},{d:.5f}" for a, d in zip(ra, dec, strict=True)]
    times = ("--from", f"{OPENED:%Y-%m-%dT%H:%M:%SZ}")
    times += ("--to", f"{OPENED + timedelta(seconds=180):%Y-%m-%dT%H:%M:%SZ}")
    cut = asked(run, "--radec", *ends, *times, "--cut", "both", "--demo")[0]
    assert cut["named"] == MIRROR
    # ends that are the shutter's would take 180 s, not 4
    short = asked(run, "--radec", *ends, *times, "--demo")[0]
    best = short["candidates"][0]
    assert best["catalog_number"] == MIRROR
    assert best["partly"]
    assert best["length_ratio"] == pytest.approx(4.0 / 180.0, rel=0.05)


def test_sexagesimal_places(run: Any) -> None:
    times = ("--from", "2029-03-17T20:00:00Z", "--to", "2029-03-17T20:03:00Z")
    ends = ("09:55:40.8,+69:21:00", "09:59:40.8,+69:41:00")
    (streak,) = asked(run, "--radec", *ends, *times, "--demo")
    assert streak["ends"][0]["ra_deg"] == pytest.approx(148.92, abs=1e-4)
    assert streak["ends"][0]["dec_deg"] == pytest.approx(69.35, abs=1e-4)


# --- where the elements come from ---------------------------------------------------


def later(lines: tuple[str, str], days: float, turn_deg: float) -> str:
    """The same set with an epoch so much later and another mean anomaly."""
    one, two = lines
    epoch = f"{float(one[18:32]) + days:014.8f}"
    anomaly = f"{(float(two[43:51]) + turn_deg) % 360.0:8.4f}"
    made = [one[:18] + epoch + one[32:68], two[:43] + anomaly + two[51:68]]
    marked = []
    for line in made:
        digits = sum(int(c) if c.isdigit() else c == "-" for c in line)
        marked.append(f"{line}{digits % 10}")
    return "DEMO MIRROR\n" + "\n".join(marked) + "\n"


def test_the_archive_s_set_nearest_that_night_counts(run: Any, tmp_path: Path) -> None:
    """A set two days newer has the object elsewhere; alone it names nobody."""
    lines = lines_of(MIRROR)
    image_path = tmp_path / "sub.fits"
    ends = image(image_path, OPENED, 180.0, MIRROR)
    files = {
        "true.tle": "DEMO MIRROR\n" + "\n".join(lines) + "\n",
        "newer.tle": later(lines, 2.0, 120.0),
        "older.tle": later(lines, -3.0, 240.0),
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    named = {}
    for kept in (("older.tle", "newer.tle"), tuple(files)):
        archive = tmp_path / f"{len(kept)}.sqlite"
        for name in kept:
            added = run(
                "elements", "add", str(tmp_path / name), "--archive", str(archive)
            )
            assert added.exit_code == 0, added.stderr
        args = ("--image", image_path, "--ends", *ends, *SITE, "--archive", archive)
        (streak,) = asked(run, *args)
        named[len(kept)] = streak["named"]
        if streak["named"]:
            assert abs(streak["candidates"][0]["element_age_days"]) < 1.0
        assert "none_of_these" in streak
    assert named == {2: None, 3: MIRROR}


def test_an_operator_s_ephemeris_names_a_craft_that_moved(
    run: Any, tmp_path: Path
) -> None:
    """It came 40 s after its elements say; the operator knew."""
    late_s = 40.0
    opened = OPENED + timedelta(seconds=late_s)
    image_path = tmp_path / "sub.fits"
    ends = image(image_path, opened, 60.0, MIRROR, late_s=late_s)
    one, two = lines_of(MIRROR)
    model = EarthSatellite(one, two, ts=timescale()).model
    model.jdsatepochF += late_s / 86400.0
    moved = EarthSatellite.from_satrec(model, timescale())
    start: datetime = opened - timedelta(minutes=30)
    seconds = np.arange(0.0, 3601.0, 30.0)
    year, launch = int(one[9:11]), one[11:17].strip()
    text = flights.message(
        seconds,
        *flights.states("TEME", seconds, start, moved),
        name="DEMO MIRROR",
        object_id=f"20{year:02d}-{launch}",
        made=f"{start:%Y-%m-%dT%H:%M:%S}",
        start=start,
    )
    path = flights.written(tmp_path, text)
    args = ("--image", image_path, "--ends", *ends, "--demo")
    (without,) = asked(run, *args)
    assert without["named"] is None
    (streak,) = asked(run, *args, "--ephemeris", path)
    assert streak["named"] == MIRROR
    best = streak["candidates"][0]
    assert best["late_low_s"] < 0.5
    assert best["late_high_s"] > -0.5
