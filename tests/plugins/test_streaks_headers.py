"""What headers say of times, places, sites and rigs."""

from datetime import UTC, datetime
from typing import Any

import pytest

pytest.importorskip("passes_plugins.streaks")
from passes.errors import InputError
from passes_plugins.streaks import headers
from passes_plugins.streaks.header_times import exposure_of

BASE = {"DATE-OBS": "2025-09-13T21:00:00.0", "EXPTIME": 300.0}


def start(comment: str = "", **more: Any) -> datetime:
    header = {**BASE, **{key.replace("_", "-"): value for key, value in more.items()}}
    return exposure_of(header, {"DATE-OBS": comment}).start


def at(clock: str, day: int = 13) -> datetime:
    return datetime.fromisoformat(f"2025-09-{day}T{clock}").replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("comment", "clock"),
    [
        ("", "21:00:00"),
        ("Start of exposure", "21:00:00"),
        ("mid-exposure", "20:57:30"),
        ("end of exposure", "20:55:00"),
        ("[UTC] start of exposure; DATE-END is its end", "21:00:00"),
        ("calendar date, UTC", "21:00:00"),
        ("time at centre of exposure", "20:57:30"),
    ],
)
def test_where_in_the_exposure_the_time_stands(comment: str, clock: str) -> None:
    """FITS 4.0: DATE-OBS is taken as the start unless the header tells otherwise."""
    assert start(comment) == at(clock)


@pytest.mark.parametrize(
    ("scale", "clock"),
    [
        ("UTC", "21:00:00"),
        ("TAI", "20:59:23"),
        ("TT", "20:58:50.816"),
        ("TDB", "20:58:50.816"),
        ("GPS", "20:59:42"),
    ],
)
def test_time_scales(scale: str, clock: str) -> None:
    """TAI − UTC is 37 s since 2017 (IERS Bulletin C); TT − TAI 32.184 s; GPS 18 s."""
    assert start(TIMESYS=scale) == at(clock)


def test_time_scales_are_astropy_s() -> None:
    """The same, held against astropy's own leap seconds, before 2017 too."""
    time = pytest.importorskip("astropy.time")
    for text in (
        "2025-09-13T21:00:00.0",
        "2016-06-01T00:00:00.0",
        "2010-01-01T00:00:00",
    ):
        header = {"DATE-OBS": text, "EXPTIME": 1.0, "TIMESYS": "TT"}
        there = time.Time(text, scale="tt").utc.to_datetime(timezone=UTC)
        ours = exposure_of(header, {}).start
        assert abs((ours - there).total_seconds()) < 1e-5


def test_the_standard_s_keywords() -> None:
    assert start(DATE_BEG="2025-09-13T21:00:01.0") == at("21:00:01")
    header = {"DATE-AVG": "2025-09-13T21:02:30", "XPOSURE": 300}
    assert exposure_of(header, {}).start == at("21:00:00")
    header = {"DATE-END": "2025-09-13T21:05:00", "XPOSURE": 300}
    assert exposure_of(header, {}).start == at("21:00:00")
    header = {"MJD-BEG": 60931.875, "XPOSURE": 300}
    assert exposure_of(header, {}).start == at("21:00:00")


def test_a_date_and_a_time_apart() -> None:
    header = {"DATE-OBS": "2025-09-13", "TIME-OBS": "21:00:00.5", "EXPTIME": 1}
    assert exposure_of(header, {}).start == at("21:00:00.5")


def test_a_blank_for_the_t_is_read() -> None:
    """Not FITS 4.0 (section 9.1.1), but there is one way to understand it."""
    assert start(DATE_OBS="2025-09-13 21:00:01.5") == at("21:00:01.5")


def test_an_offset_is_taken_at_its_word() -> None:
    assert start(DATE_OBS="2025-09-13T23:00:00+02:00") == at("21:00:00")


def test_contradictions_are_told() -> None:
    header = {**BASE, "DATE-END": "2025-09-13T21:10:00", "XPOSURE": 290.0}
    found = exposure_of(header, {})
    assert found.exposure_s == 290.0
    assert any("EXPTIME is 300 s" in text for text in found.remarks)
    assert any("DATE-END puts the start" in text for text in found.remarks)


def test_resolution() -> None:
    assert exposure_of(BASE, {}).resolution_s == pytest.approx(0.1)
    whole = {**BASE, "DATE-OBS": "2025-09-13T21:00:00"}
    assert exposure_of(whole, {}).resolution_s == 1.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"DATE-OBS": "2025-09-13T24:00:00"}, "hours run from 00 to 23"),
        ({"DATE-OBS": "13/09/25"}, "without a time"),
        ({"DATE-OBS": "2025-13-13T21:00:00"}, "month"),
        ({"DATE-OBS": "yesterday at Teatime"}, "no FITS time"),
        ({"DATE-OBS": ""}, "no time of exposure"),
        ({"EXPTIME": -1.0}, "impossible"),
        ({"EXPTIME": "long"}, "no number"),
        ({"EXPTIME": None}, "no exposure time"),
        ({"TIMESYS": "LOCAL"}, "local time cannot be used"),
    ],
)
def test_impossible_times(change: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        exposure_of({**BASE, **change}, {})


@pytest.mark.parametrize(
    ("header", "ra", "dec"),
    [
        ({"RA": 148.92, "DEC": 69.35}, 148.92, 69.35),
        ({"RA": "148.92", "DEC": "69.35"}, 148.92, 69.35),
        ({"OBJCTRA": "09 55 40.8", "OBJCTDEC": "+69 21 00"}, 148.92, 69.35),
        ({"RA": "09:55:40.8", "DEC": "-00:21:00"}, 148.92, -0.35),
    ],
)
def test_places(header: dict[str, Any], ra: float, dec: float) -> None:
    found = headers.pointing_of(header)
    assert found.ra_deg == pytest.approx(ra, abs=1e-6)
    assert found.dec_deg == pytest.approx(dec, abs=1e-6)


@pytest.mark.parametrize("header", [{}, {"RA": 10.0}, {"RA": 10.0, "DEC": 95.0}])
def test_no_place(header: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="place on the sky"):
        headers.pointing_of(header)


def test_sites() -> None:
    site = headers.site_of({"SITELAT": "+41 00 00", "SITELONG": "-02 24 00"})
    assert site is not None
    assert (site.latitude_deg, site.longitude_deg) == (41.0, -2.4)
    site = headers.site_of({"OBSGEO-B": -30.5, "OBSGEO-L": 19.5, "OBSGEO-H": 900.0})
    assert site is not None
    assert site.height_m == 900.0
    assert headers.site_of({}) is None
    assert headers.site_of({"SITELAT": "north", "SITELONG": "1"}) is None


def test_a_rig_made_of_a_header() -> None:
    header = {"NAXIS1": 60, "NAXIS2": 40, "XPIXSZ": 3.76, "FOCALLEN": 400.0}
    rig = headers.rig_from({**header, "EGAIN": 0.25, "GAIN": 100}, float("nan"))
    assert rig.scale_arcsec_px == pytest.approx(1.9389, abs=1e-4)
    assert rig.gains[0].name == "100"
    with pytest.raises(InputError, match="name the rig by --rig"):
        headers.rig_from({"NAXIS1": 60, "NAXIS2": 40}, float("nan"))


@pytest.mark.parametrize("word", ["Dark Frame", "BIAS", "flat"])
def test_frames_without_sky(word: str) -> None:
    assert headers.kind_of({"IMAGETYP": word})
    assert not headers.kind_of({"IMAGETYP": "Light Frame"})


def test_places_that_contradict_each_other_are_told() -> None:
    """An RA in hours, where degrees are meant, is the usual slip."""
    header = {"RA": 9.928, "DEC": 69.35, "OBJCTRA": "09 55 40.8", "OBJCTDEC": "+69 21"}
    (said,) = headers.pointing_remarks(header)
    assert "OBJCTRA, OBJCTDEC lie" in said
    assert "RA, DEC, which are taken" in said
    agreed = {**header, "RA": 148.92}
    assert headers.pointing_remarks(agreed) == []
    assert headers.pointing_remarks({"RA": 148.92, "DEC": 69.35}) == []


def test_a_site_in_metres_from_the_earth_s_centre() -> None:
    """OBSGEO-X, -Y, -Z (FITS 4.0, section 8.4.1), held against astropy's place."""
    coordinates = pytest.importorskip("astropy.coordinates")
    place = coordinates.EarthLocation.from_geodetic(-3.4, 37.1, 1900.0)
    header = {f"OBSGEO-{axis}": getattr(place, axis.lower()).value for axis in "XYZ"}
    site = headers.site_of(header)
    assert site is not None
    assert (site.latitude_deg, site.longitude_deg) == (37.1, -3.4)
    assert site.height_m == 1900.0


def test_zeros_are_no_site() -> None:
    assert headers.site_of({"SITELAT": 0.0, "SITELONG": 0.0}) is None
    assert headers.site_of({"OBSGEO-X": 0.0, "OBSGEO-Y": 0.0, "OBSGEO-Z": 0.0}) is None


def test_times_in_the_first_header_serve_an_image_behind_it(tmp_path: Any) -> None:
    """Observatories keep times and site in an empty first unit (FITS 4.0, 4.4.2)."""
    fits = pytest.importorskip("astropy.io.fits")
    import numpy as np

    from passes_plugins.streaks.fits_files import open_header

    first = fits.PrimaryHDU()
    first.header["DATE-OBS"] = ("2025-09-13T21:00:00.0", "mid-exposure")
    first.header["EXPTIME"], first.header["CRVAL1"] = 300.0, 12.0
    first.header["OBJECT"] = "of the file"
    image = fits.ImageHDU(np.zeros((4, 6), dtype=np.int16))
    image.header["OBJECT"] = "of the image"
    path = tmp_path / "two.fits"
    fits.HDUList([first, image]).writeto(path)
    opened = open_header(str(path))
    assert opened.header["NAXIS1"] == 6
    assert opened.header["OBJECT"] == "of the image"
    assert "CRVAL1" not in opened.header
    found = exposure_of(opened.header, opened.comments)
    assert found.start == at("20:57:30")


def test_a_colour_image_of_three_planes_has_its_solution() -> None:
    fits = pytest.importorskip("astropy.io.fits")
    from passes_plugins.streaks.solved import solved_frame

    header = fits.Header({"SIMPLE": True, "BITPIX": 16, "NAXIS": 3})
    header["NAXIS1"], header["NAXIS2"], header["NAXIS3"] = 600, 400, 3
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN", "DEC--TAN"
    header["CRVAL1"], header["CRVAL2"] = 148.92, 69.35
    header["CRPIX1"], header["CRPIX2"] = 300.5, 200.5
    header["CD1_1"], header["CD2_2"] = -2.0 / 3600.0, 2.0 / 3600.0
    header["CD1_2"] = header["CD2_1"] = 0.0
    frame = solved_frame(header)
    assert frame is not None
    assert frame.size_px == (600, 400)
    assert (frame.ra_deg, frame.dec_deg) == pytest.approx((148.92, 69.35))


def test_a_card_nobody_can_read_spoils_no_other(tmp_path: Any) -> None:
    fits = pytest.importorskip("astropy.io.fits")
    from passes_plugins.streaks.fits_files import open_header

    header = fits.Header({"SIMPLE": True, "BITPIX": 8, "NAXIS": 2})
    header["NAXIS1"], header["NAXIS2"] = 6, 4
    header["DATE-OBS"], header["EXPTIME"] = "2025-09-13T21:00:00.0", 300.0
    text = header.tostring(endcard=False, padding=False)
    text += "BROKEN  = 'no end, 3 / 4".ljust(
        80
    ) + "EXPTIME =                  1.0".ljust(80)
    text += "END".ljust(80)
    path = tmp_path / "odd.fits"
    path.write_bytes(text.ljust(2880).encode() + bytes(2880))
    words = open_header(str(path)).words()
    assert words["EXPTIME"] == 300.0  # the first of two counts
    assert exposure_of(words, {}).start == at("21:00:00")
