"""Pixels and places held against astropy.wcs: rotation, flips, SIP, headers."""

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("astropy")
pytest.importorskip("passes_plugins.streaks")
from astropy.io import fits
from astropy.wcs import WCS

from passes import field
from passes.errors import InputError
from passes_plugins.streaks import fits_files
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.solution import wcs_of
from passes_plugins.streaks.solved import solved_frame

SIZE = (600, 400)
CASES = [
    (angle, mirrored, dec)
    for angle in (0.0, 33.0, 180.0, 271.5)
    for mirrored in (False, True)
    for dec in (-30.0, 0.0, 69.35, 89.5)
]


def header_of(angle_deg: float, mirrored: bool, dec_deg: float) -> fits.Header:
    """A tangent solution by CDELT and CROTA's meaning, through a CD matrix."""
    header = fits.Header()
    header["SIMPLE"], header["BITPIX"], header["NAXIS"] = True, 16, 2
    header["NAXIS1"], header["NAXIS2"] = SIZE
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN", "DEC--TAN"
    header["CRVAL1"], header["CRVAL2"] = 148.92, dec_deg
    header["CRPIX1"], header["CRPIX2"] = 300.5, 200.5
    scale, side = 2.0 / 3600.0, -1.0 if mirrored else 1.0
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    header["CD1_1"], header["CD1_2"] = -side * c * scale, s * scale
    header["CD2_1"], header["CD2_2"] = side * s * scale, c * scale
    return header


def spread(rng: np.random.Generator, n: int = 50) -> tuple[np.ndarray, np.ndarray]:
    """Pixels all over the frame."""
    return rng.uniform(0.5, SIZE[0] + 0.5, n), rng.uniform(0.5, SIZE[1] + 0.5, n)


@pytest.mark.parametrize(("angle", "mirrored", "dec"), CASES)
def test_pixels_of_a_turned_and_mirrored_frame(
    angle: float, mirrored: bool, dec: float
) -> None:
    wcs = WCS(header_of(angle, mirrored, dec))
    x, y = spread(np.random.default_rng(3))
    ra, dec_ = wcs.all_pix2world(x, y, 1)
    frame = Frame(
        ra_deg=148.92,
        dec_deg=dec,
        position_angle_deg=angle,
        width_px=SIZE[0],
        height_px=SIZE[1],
        scale_arcsec_px=2.0,
        mirrored=mirrored,
    )
    # a CD matrix has degrees where the tangent plane has tangents: TAN takes
    # 180/π × tan, so a pixel is 2″ in the plane exactly
    got = frame.pixels(ra, dec_)
    assert np.allclose(got[0], x, atol=1e-6)
    assert np.allclose(got[1], y, atol=1e-6)


@pytest.mark.parametrize(("angle", "mirrored", "dec"), CASES)
def test_a_frame_out_of_a_solution(angle: float, mirrored: bool, dec: float) -> None:
    frame = solved_frame(header_of(angle, mirrored, dec))
    assert frame is not None
    assert frame.ra_deg == pytest.approx(148.92)
    assert frame.dec_deg == pytest.approx(dec)
    turn = (frame.position_angle_deg - angle + 180.0) % 360.0 - 180.0
    assert turn == pytest.approx(0.0, abs=1e-4)
    assert frame.scale_arcsec_px == pytest.approx(2.0, rel=1e-6)
    assert frame.mirrored is mirrored


def test_tangent_plane_places_are_those_of_the_projection() -> None:
    wcs = WCS(header_of(0.0, False, 40.0))
    ra, dec = wcs.all_pix2world([10.0, 590.0], [390.0, 20.0], 1)
    east, north = field.standard(
        np.radians(ra), np.radians(dec), np.radians(148.92), np.radians(40.0)
    )
    plane = wcs.wcs_world2pix(np.stack([ra, dec], axis=-1), 1) - [300.5, 200.5]
    step = np.radians(2.0 / 3600.0)
    assert np.allclose(-east, plane[:, 0] * step, atol=1e-12)
    assert np.allclose(north, plane[:, 1] * step, atol=1e-12)


def sip_header() -> fits.Header:
    header = header_of(37.0, True, 69.35)
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN-SIP", "DEC--TAN-SIP"
    header["A_ORDER"], header["B_ORDER"] = 2, 3
    header["A_2_0"], header["A_1_1"] = 3e-5, -1e-5
    header["B_0_2"], header["B_2_1"] = 2e-5, 1e-8
    return header


def pc_header() -> fits.Header:
    header = header_of(12.0, False, -30.0)
    for i in (1, 2):
        header[f"CDELT{i}"] = 2.0 / 3600.0
        for j in (1, 2):
            header[f"PC{i}_{j}"] = header[f"CD{i}_{j}"] * 1800.0
            del header[f"CD{i}_{j}"]
    return header


def old_header() -> fits.Header:
    """The way before FITS 3: CDELT and CROTA2."""
    header = header_of(0.0, False, 10.0)
    for i in (1, 2):
        for j in (1, 2):
            del header[f"CD{i}_{j}"]
    header["CDELT1"], header["CDELT2"] = -2.0 / 3600.0, 2.0 / 3600.0
    header["CROTA2"] = 25.0
    return header


def untold_header() -> fits.Header:
    """SIP terms, but a CTYPE that does not say so: they count all the same."""
    header = sip_header()
    header["CTYPE1"], header["CTYPE2"] = "RA---TAN", "DEC--TAN"
    return header


def swapped_header() -> fits.Header:
    """Declination on the first axis of the sky."""
    header = header_of(33.0, False, 40.0)
    header["CTYPE1"], header["CTYPE2"] = "DEC--TAN", "RA---TAN"
    header["CRVAL1"], header["CRVAL2"] = header["CRVAL2"], header["CRVAL1"]
    for i in (1, 2):
        one, two = header[f"CD1_{i}"], header[f"CD2_{i}"]
        header[f"CD1_{i}"], header[f"CD2_{i}"] = two, one
    return header


def test_a_solution_with_declination_first() -> None:
    frame = solved_frame(swapped_header())
    assert frame is not None
    assert (frame.ra_deg, frame.dec_deg) == pytest.approx((148.92, 40.0))
    plain = solved_frame(header_of(33.0, False, 40.0))
    assert plain is not None
    assert frame.position_angle_deg == pytest.approx(plain.position_angle_deg)
    assert frame.mirrored is plain.mirrored
    x, y = frame.pixels(np.array([148.95]), np.array([40.02]))
    there = plain.pixels(np.array([148.95]), np.array([40.02]))
    assert (x[0], y[0]) == pytest.approx((there[0][0], there[1][0]), abs=1e-6)


def test_nothing_is_said_on_stdout(capfd: pytest.CaptureFixture[str]) -> None:
    """astropy remarks on odd headers where an answer is written."""
    header = untold_header()
    header["LONPOLE"] = 170.0  # no usual one: astropy's own reader
    assert solved_frame(header) is not None
    assert capfd.readouterr().out == ""


def test_a_projection_nobody_knows_is_one_line() -> None:
    header = header_of(0.0, False, 40.0)
    header["CTYPE1"] = "RA---ZZZ"
    with pytest.raises(InputError, match="its plate solution fails") as caught:
        solved_frame(header)
    assert "\n" not in str(caught.value)
    assert ".c:" not in str(caught.value)


@pytest.mark.parametrize(
    "header",
    [
        header_of(33.0, True, 89.5),
        sip_header(),
        pc_header(),
        old_header(),
        untold_header(),
    ],
    ids=["cd", "sip", "pc", "crota", "untold"],
)
def test_a_solution_taken_quickly_is_the_one_astropy_reads(header: fits.Header) -> None:
    x, y = spread(np.random.default_rng(4))
    there = WCS(header).all_pix2world(x, y, 1)
    ours = wcs_of(header).all_pix2world(x, y, 1)
    assert np.allclose(ours, there, rtol=0.0, atol=1e-11)


def test_distorted_pixels_are_astropy_s() -> None:
    header = sip_header()
    frame = solved_frame(header)
    assert frame is not None
    x, y = spread(np.random.default_rng(5))
    ra, dec = WCS(header).all_pix2world(x, y, 1)
    got = frame.pixels(ra.reshape(25, 2), dec.reshape(25, 2))
    assert np.allclose(np.ravel(got[0]), x, atol=1e-3)
    assert np.allclose(np.ravel(got[1]), y, atol=1e-3)


@pytest.mark.parametrize(
    "name",
    ["01-keywords.fits", "02-solved.fits", "04-gzip.fits.gz", "05-tiles.fits.fz"],
)
def test_headers_are_those_astropy_reads(fixtures: Path, name: str) -> None:
    path = fixtures / "fits" / name
    ours = fits_files.open_header(str(path)).header
    with fits.open(path) as units:
        theirs = next(u.header for u in units if u.header.get("NAXIS", 0) == 2)
    for key in ("NAXIS1", "NAXIS2", "DATE-OBS", "EXPTIME", "OBJECT", "FOCALLEN"):
        assert ours[key] == theirs[key]
