"""``passes identify`` on made images: a streak drawn from a known object's places.

The places are skyfield's (reference library), the pixels astropy's; neither has
anything of the program in it.
"""

import json
from datetime import UTC, datetime, timedelta
from importlib import resources
from typing import Any

import numpy as np
import pytest

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from astropy.io import fits
from astropy.wcs import WCS
from demo_sky import DEMO, records, table
from one_satellite import planets
from skyfield.api import EarthSatellite, load, wgs84

MIRROR = 80031
#: When DEMO MIRROR is in the middle of the field.
MIDDLE = datetime(2029, 3, 17, 20, 3, 14, tzinfo=UTC)


def places(number: int, start: datetime, seconds: Any) -> Any:
    """RA and Dec, degrees, of a demo object from the demo's site at seconds."""
    text = (DEMO / "elements.tle").read_text(encoding="utf-8")
    ts = load.timescale(builtin=True)
    _, one, two = next(each for each in records(text) if int(each[1][2:7]) == number)
    site = table("sites.toml")["sites"]["quillmoor"]
    ground = wgs84.latlon(
        site["latitude_deg"], site["longitude_deg"], elevation_m=site["height_m"]
    )
    days = np.asarray(seconds) / 86400.0
    t0 = ts.from_datetime(start)
    t = ts.utc(*start.utctimetuple()[:5], start.second + np.asarray(seconds))
    assert abs(t.tt[0] - t0.tt - days[0]) < 1e-8
    earth = planets()["earth"]
    ra, dec, _ = (
        (earth + ground).at(t).observe(earth + EarthSatellite(one, two, ts=ts)).radec()
    )
    return ra.hours * 15.0, dec.degrees


def solution(turn_deg: float = 20.0) -> WCS:
    """A field of 2.8 × 1.9° in the demo plan's direction, east to the left."""
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [148.92, 69.35]
    wcs.wcs.crpix = [500.5, 340.5]
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    scale = 10.0 / 3600.0
    wcs.wcs.cd = scale * np.array([[-c, s], [s, c]])
    wcs.wcs.set()
    return wcs


def image(path: Any, opened: datetime, exposure_s: float, number: int) -> Any:
    """Draw what an object leaves on a sub, and give the streak's ends in pixels."""
    wcs = solution()
    seconds = np.linspace(0.0, exposure_s, 20_001)
    ra, dec = places(number, opened, seconds)
    x, y = wcs.wcs_world2pix(ra, dec, 1)
    inside = (x > 0.5) & (x < 1000.5) & (y > 0.5) & (y < 680.5)
    pixels = np.random.default_rng(4).normal(100.0, 3.0, (680, 1000))
    column = np.rint(x[inside] - 1).astype(int).clip(0, 999)
    pixels[np.rint(y[inside] - 1).astype(int).clip(0, 679), column] += 500.0
    header = wcs.to_header()
    header["DATE-OBS"] = f"{opened:%Y-%m-%dT%H:%M:%S}.{opened.microsecond // 1000:03d}"
    header["TIMESYS"] = "UTC"
    header["EXPTIME"] = exposure_s
    fits.PrimaryHDU(pixels.astype(np.float32), header).writeto(path)
    on = np.argwhere(pixels > 400.0)
    places_px = on[:, ::-1] + 1.0
    along = np.stack([x[inside], y[inside]], axis=-1)
    ends = [
        places_px[np.hypot(*(places_px - end).T).argmin()]
        for end in (along[0], along[-1])
    ]
    return [f"{a:.1f},{b:.1f}" for a, b in ends]


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
    assert "none of these (uncatalogued, aircraft, meteor)" in page
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
