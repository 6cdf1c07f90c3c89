"""``passes rig``: keeping telescopes and lenses by name."""

import csv
import io
import json

import pytest

LONG = (
    *("--focal-length", "2540", "--aperture", "254", "--pixel", "3"),
    *("--width", "1936", "--height", "1216"),
)
LENS = (
    *("--focal-length", "24", "--f-number", "2.8", "--pixel", "5.9"),
    *("--width", "6048", "--height", "4024"),
)


@pytest.fixture
def rig(run):
    def typed(*args, code=0):
        result = run("rig", *args)
        assert result.exit_code == code, result.output
        return result

    return typed


@pytest.fixture
def kept(rig):
    def records():
        return json.loads(rig("list", "--json").stdout)["rigs"]

    return records


def test_only_focal_length_pixel_width_and_height_are_needed(rig, kept):
    rig("add", "bare", *LONG[:2], *LONG[4:])
    (record,) = kept()
    assert record["aperture_mm"] is None
    assert record["f_number"] is None
    # common practice: 206.265 × pixel in µm / focal length in mm
    assert record["scale_arcsec_px"] == pytest.approx(206.265 * 3 / 2540, abs=1e-4)


def test_everything_about_a_rig_comes_back(rig, kept):
    rig(
        *("add", "long", *LONG, "--obstruction", "0.35", "--extender", "1.5"),
        *("--qe", "0.8", "--mono", "--rotation", "12", "--link", "380"),
        *("--write", "450", "--buffer", "512", "--free", "400"),
        *("--gain", "120,0.75,2.4,3000,12", "--gain", "0,3,6.5,12000"),
        *("--filter", "red,640,120,0.92"),
        *("--mode", "full,1936x1216,160,rolling,5,0.00003,1"),
        *("--mode", "binned,968x608,160,rolling,10,0.00003,1,2"),
        *("--mount", "equatorial", "--follows", "--rate-limits", "5,4"),
        *("--acceleration-limits", "2,3", "--tracking-error", "4"),
        *("--pointing-error", "3", "--shake", "5,8", "--offset", "4.5,-2"),
    )
    (record,) = kept()
    assert [gain["name"] for gain in record["gains"]] == ["120", "0"]
    assert record["gains"][0]["read_noise_e"] == 2.4
    assert record["filters"] == [
        {"name": "red", "centre_nm": 640.0, "width_nm": 120.0, "peak": 0.92}
    ]
    assert record["modes"][0]["shortest_exposure_s"] == 3e-5
    assert [mode["binning"] for mode in record["modes"]] == [1, 2]
    shown = " ".join(rig("show", "long").stdout.split())
    assert (
        "binned: 968 × 608 px at 160 a second, rolling shutter, binned 2 × 2" in shown
    )
    assert record["mount"]["rate_limits_deg_s"] == [5.0, 4.0]
    assert record["mount"]["shake_hz"] == 8.0
    assert record["mount"]["follows_satellites"] is True
    assert record["offset_arcmin"] == [4.5, -2.0]
    assert record["f_number"] == 15.0


def test_a_lens_has_a_focal_ratio_and_a_wide_field(rig, kept):
    rig("add", "wide", *LENS, "--colour")
    (record,) = kept()
    assert record["f_number"] == 2.8
    assert record["aperture_mm"] == pytest.approx(24 / 2.8)
    # a 35.7 mm wide sensor behind 24 mm: 2 atan(35.683 / 48), hand arithmetic
    assert record["field_deg"][0] == pytest.approx(73.26, abs=0.02)


def test_pages_fit_eighty_columns(rig):
    assert "No rig is kept yet" in rig("list").stdout
    rig("add", "long", *LONG, "--gain", "120,0.75,2.4,3000")
    rig("add", "wide", *LENS)
    page = rig("list").stdout
    assert "0.24″/px" in page
    sheet = rig("show", "long").stdout
    assert "2540 mm, aperture 254 mm, f/10.0" in sheet
    assert all(len(line) <= 80 for line in (page + sheet).splitlines())
    rows = list(csv.DictReader(io.StringIO(rig("list", "--format", "csv").stdout)))
    assert [row["name"] for row in rows] == ["long", "wide"]


def test_default_replace_and_remove(rig, kept, home):
    rig("add", "long", *LONG, "--default")
    path = home / ".config" / "passes" / "passes.toml"
    assert 'rigs = ["long"]' in path.read_text()
    assert "kept already" in rig("add", "long", *LENS, code=2).stderr
    rig("add", "long", *LENS, "--replace")
    assert kept()[0]["focal_length_mm"] == 24.0
    rig("remove", "long")
    assert kept() == []
    assert "known: none" in rig("remove", "long", code=2).stderr


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((*LENS[:2], "--f-number", "0", *LENS[4:]), "0 is impossible"),
        ((*LONG[:4], "--pixel", "1001", *LONG[6:]), "1001 is impossible"),
        (LONG[:-2], "--height"),
        ((*LONG, "--f-number", "10"), "give one"),
        ((*LONG, "--gain", "a,b"), "want NAME,E_PER_ADU"),
        ((*LONG, "--gain", "a,0,1,1000"), "electrons an ADU 0 is impossible"),
        ((*LONG, "--mode", "a,1936,10"), "no size such as"),
        ((*LONG, "--mode", "a,10x10,10,sideways"), "shutter 'sideways'"),
        ((*LONG, "--mode", "a,10x10,10,,,,,1.5"), "'1.5' is not a whole number"),
        ((*LONG, "--filter", "red,640,wide"), "'wide' is not a number"),
        ((*LONG, "--offset", "4"), "want RIGHT,UP"),
        ((*LONG, "--shake", "5,nan"), "impossible"),
    ],
)
def test_impossible_values_are_refused_in_a_line(rig, kept, args, said):
    result = rig("add", "x", *args, code=2)
    assert said in result.stderr
    assert len(result.stderr.splitlines()) <= 2
    assert kept() == []
