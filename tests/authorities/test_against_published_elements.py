"""Element sets against published ones, and against the sgp4 package's own readers."""

import gzip
import importlib.resources
import json
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from sgp4 import omm as sgp4_omm
from sgp4.alpha5 import from_alpha5, to_alpha5
from sgp4.api import Satrec
from sgp4.exporter import export_omm
from sgp4.io import fix_checksum

from passes.elements import read, read_text
from passes.elements.tle_grid import checksums

#: Zarya on 2008-09-20: the example of the two-line format in an encyclopedia, with
#: both checksums 7 ("Two-line element set", Wikipedia).
ZARYA = (
    "1 25544U 98067A   08264.51782528 -.00002182  00000-0 -11606-4 0  2927",
    "2 25544  51.6416 247.4627 0006703 130.5360 325.0288 15.72125391563537",
)
#: Vanguard 1: the first set of the SGP4 verification file (Vallado, Crawford, Hujsak
#: and Kelso 2006, AIAA 2006-6753; file SGP4-VER.TLE).
VANGUARD = (
    "1 00005U 58002B   00179.78495062  .00000023  00000-0  28098-4 0  4753",
    "2 00005  34.2682 348.7242 1859667 331.7664  19.3264 10.82419157413667",
)
#: GOES 9: the OMM example of CCSDS 502.0-B (its figures, as carried by Orekit's test
#: data OMMExample1.txt), keyword by keyword, and the same as two lines (written by the
#: sgp4 package's exporter).
GOES_9_OMM = {
    "OBJECT_NAME": "GOES 9",
    "OBJECT_ID": "1995-025A",
    "CENTER_NAME": "EARTH",
    "REF_FRAME": "TEME",
    "TIME_SYSTEM": "UTC",
    "MEAN_ELEMENT_THEORY": "SGP/SGP4",
    "EPOCH": "2007-064T10:34:41.4264",
    "MEAN_MOTION": "1.00273272",
    "ECCENTRICITY": "0.0005013",
    "INCLINATION": "3.0539",
    "RA_OF_ASC_NODE": "81.7939",
    "ARG_OF_PERICENTER": "249.2363",
    "MEAN_ANOMALY": "150.1602",
    "GM": "398600.8",
    "EPHEMERIS_TYPE": "0",
    "CLASSIFICATION_TYPE": "U",
    "NORAD_CAT_ID": "23581",
    "ELEMENT_SET_NO": "0925",
    "REV_AT_EPOCH": "4316",
    "BSTAR": "0.0001",
    "MEAN_MOTION_DOT": "-0.00000113",
    "MEAN_MOTION_DDOT": "0.0",
}
GOES_9_LINES = (
    "1 23581U 95025A   07064.44075725 -.00000113  00000-0  10000-3 0  9250",
    "2 23581   3.0539  81.7939 0005013 249.2363 150.1602  1.00273272 43169",
)


def one(*lines, origin="text"):
    reading = read_text("\n".join(lines), origin)
    assert reading.rejected == ()
    (found,) = reading.catalogue
    return found, reading.catalogue.satrec(0)


def test_checksums_of_published_lines():
    # 25544: 7 and 7; 00005: 3 and 7 (the last digits of the lines as published)
    assert checksums([*ZARYA, *VANGUARD]).tolist() == [7, 7, 3, 7]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        # the sgp4 package, alpha5.py: letters A–Z less I and O are 10 to 33
        ("A0000", 100000),
        ("E8493", 148493),
        ("J2931", 182931),
        ("P4018", 234018),
        ("W1928", 301928),
        ("Z9999", 339999),
    ],
)
def test_numbers_of_five_characters(text, number):
    lines = [fix_checksum(line[:2] + text + line[7:]) for line in VANGUARD]
    found, _ = one(*lines)
    assert found.catalog_number == number == from_alpha5(text)
    assert to_alpha5(number) == text


@pytest.mark.parametrize("text", ["I0000", "O0000", "a0000", "AA000", "-0001", "1A000"])
def test_what_is_no_number_of_five_characters(text):
    lines = [fix_checksum(line[:2] + text + line[7:]) for line in VANGUARD]
    reading = read_text("\n".join([*lines, *ZARYA]))
    assert len(reading.catalogue) == 1
    assert any(
        f"unreadable catalogue number '{text}'" in s.reason for s in reading.rejected
    )


@pytest.mark.parametrize(
    ("year", "want"), [("57", 1957), ("99", 1999), ("00", 2000), ("56", 2056)]
)
def test_years_of_two_digits(year, want):
    # 57 to 99 are 19xx, 00 to 56 are 20xx (the catalogue provider's FAQ)
    first = fix_checksum(VANGUARD[0][:18] + year + VANGUARD[0][20:])
    found, _ = one(first, VANGUARD[1])
    assert found.epoch.year == want
    short = fix_checksum(first[:9] + year + first[11:])
    found, _ = one(short, VANGUARD[1])
    assert found.designator == f"{want}-002B"


def test_the_epoch_of_the_verification_set():
    # the sgp4 package's own test: 2000-06-27 18:50:19.733568 UTC
    found, _ = one(*VANGUARD)
    assert found.epoch == datetime(2000, 6, 27, 18, 50, 19, 733568, tzinfo=UTC)


def test_the_omm_example_equals_its_two_lines():
    from_lines, _ = one(*GOES_9_LINES)
    from_omm, _ = one(json.dumps(GOES_9_OMM))
    assert from_omm.name == "GOES 9"
    assert from_omm.catalog_number == from_lines.catalog_number == 23581
    assert from_omm.designator == from_lines.designator == "1995-025A"
    assert from_omm.epoch_jd == from_lines.epoch_jd
    # 10:34:41.4264 is .440757250000 of a day, all of it within the eight decimals
    assert abs(from_omm.epoch_fraction - from_lines.epoch_fraction) < 1e-15
    for name in (
        "inclination_rad",
        "raan_rad",
        "eccentricity",
        "argument_rad",
        "mean_anomaly_rad",
        "mean_motion_rad_min",
        "bstar",
        "ndot",
        "nddot",
    ):
        np.testing.assert_allclose(
            getattr(from_omm, name), getattr(from_lines, name), rtol=1e-15, atol=0
        )


def test_the_omm_example_propagates_as_computed_independently():
    # SGP4 (WGS 72) at epoch, computed with the sgp4 package from the two lines;
    # printed to 1e-6 km and 1e-9 km/s
    found, satrec = one(json.dumps([GOES_9_OMM]))
    error, position, velocity = satrec.sgp4(found.epoch_jd, found.epoch_fraction)
    assert error == 0
    want = [-21838.503102, 36060.979982, 1415.309718]
    np.testing.assert_allclose(position, want, rtol=0, atol=1e-6)
    want = [-2.624812175, -1.593714272, 0.127571984]
    np.testing.assert_allclose(velocity, want, rtol=0, atol=1e-9)


def test_one_epoch_in_two_forms():
    # the same set of the ISS as two lines and as OMM (skyfield's documentation)
    first = fix_checksum(ZARYA[0][:18] + "24127.82853009" + ZARYA[0][32:])
    from_lines, _ = one(first, ZARYA[1])
    record = GOES_9_OMM | {"EPOCH": "2024-05-06T19:53:04.999776"}
    from_omm, _ = one(json.dumps(record))
    assert from_omm.epoch == from_lines.epoch
    assert from_omm.epoch == datetime(2024, 5, 6, 19, 53, 4, 999776, tzinfo=UTC)
    assert abs(from_omm.epoch_fraction - from_lines.epoch_fraction) < 1e-15


def test_leading_dots_and_days_of_the_year():
    # as in a third OMM example of Orekit's test data (STARLETTE): numbers may begin
    # with a dot, exponents with E, epochs may be days of the year
    record = GOES_9_OMM | {"ECCENTRICITY": ".0205751", "BSTAR": "-.47102E-5"}
    found, _ = one(json.dumps(record))
    assert found.eccentricity == 0.0205751
    assert found.bstar == -4.7102e-6


def test_the_verification_file_is_read_whole():
    # the sgp4 package's copy of SGP4-VER.TLE: 33 sets, each with a remark behind line
    # 2; three of them were altered by hand (as its comments say) and fail their sums
    path = importlib.resources.files("sgp4") / "SGP4-VER.TLE"
    lines = path.read_text().splitlines()
    want = [
        Satrec.twoline2rv(first, second)
        for first, second in pairwise(lines)
        if first.startswith("1 ")
    ]
    reading = read([str(path)])
    assert reading.records == len(want) == 33
    assert [s.catalog_number for s in reading.rejected] == [33333, 33334, 33335]
    assert all("adds up to" in s.reason for s in reading.rejected)
    kept = [s for s in want if not 33333 <= s.satnum <= 33335]
    assert_same(reading.catalogue, kept)


def assert_same(catalogue, satrecs):
    """Every number of a catalogue is the one in the sgp4 package's record."""
    pairs = {
        "catalog_number": "satnum",
        "epoch_jd": "jdsatepoch",
        "epoch_fraction": "jdsatepochF",
        "inclination_rad": "inclo",
        "raan_rad": "nodeo",
        "eccentricity": "ecco",
        "argument_rad": "argpo",
        "mean_anomaly_rad": "mo",
        "mean_motion_rad_min": "no_kozai",
        "bstar": "bstar",
        "ndot": "ndot",
        "nddot": "nddot",
    }
    assert len(catalogue) == len(satrecs)
    for ours, theirs in pairs.items():
        want = [getattr(satrec, theirs) for satrec in satrecs]
        np.testing.assert_array_equal(getattr(catalogue, ours), want, err_msg=ours)


@pytest.mark.parametrize("day", ["13", "14", "17", "20"])
def test_real_catalogues_give_what_the_package_alone_gives(real_data, day):
    path = real_data / f"active_2025-09-{day}.tle.gz"
    with gzip.open(path, "rt") as file:
        lines = [line.rstrip() for line in file]
    satrecs = list(map(Satrec.twoline2rv, lines[1::3], lines[2::3]))
    reading = read([path])
    assert reading.rejected == ()
    assert reading.records == len(satrecs) > 12_000
    assert reading.catalogue.name == tuple(lines[::3])
    assert_same(reading.catalogue, satrecs)


def test_columns_of_numbers_are_where_the_format_puts_them(real_data):
    # cut from the published columns by hand, without the package
    path = real_data / "active_2025-09-13.tle.gz"
    with gzip.open(path, "rt") as file:
        lines = [line.rstrip() for line in file]
    catalogue = read([path]).catalogue
    second = lines[2::3]
    for name, start, stop in (
        ("inclination_rad", 8, 16),
        ("raan_rad", 17, 25),
        ("argument_rad", 34, 42),
        ("mean_anomaly_rad", 43, 51),
    ):
        degrees = np.array([float(line[start:stop]) for line in second])
        np.testing.assert_allclose(
            getattr(catalogue, name), np.radians(degrees), rtol=1e-15, atol=0
        )
    eccentricity = np.array([float("0." + line[26:33]) for line in second])
    np.testing.assert_array_equal(catalogue.eccentricity, eccentricity)
    revolutions = np.array([float(line[52:63]) for line in second])
    np.testing.assert_allclose(
        catalogue.mean_motion_rad_min, revolutions * 2 * np.pi / 1440, rtol=1e-15
    )


def test_omm_equals_the_packages_own_reader(real_data):
    # every field to the last bit; the epoch to the 4e-12 days that the package loses
    # by adding the fraction to 27,000 days
    catalogue = read([real_data / "active_2025-09-13.tle.gz"]).catalogue[::10]
    records = [
        export_omm(satrec, name)
        for satrec, name in zip(catalogue.satrecs, catalogue.name, strict=True)
        if satrec.intldesg
    ]
    ours = read_text(json.dumps(records)).catalogue
    theirs = [Satrec() for _ in records]
    for satrec, record in zip(theirs, records, strict=True):
        sgp4_omm.initialize(satrec, record)
    assert len(ours) == len(records) > 1000
    for mine, package in (
        ("inclination_rad", "inclo"),
        ("raan_rad", "nodeo"),
        ("eccentricity", "ecco"),
        ("argument_rad", "argpo"),
        ("mean_anomaly_rad", "mo"),
        ("mean_motion_rad_min", "no_kozai"),
        ("bstar", "bstar"),
        ("ndot", "ndot"),
        ("nddot", "nddot"),
        ("epoch_jd", "jdsatepoch"),
    ):
        want = [getattr(satrec, package) for satrec in theirs]
        np.testing.assert_array_equal(getattr(ours, mine), want, err_msg=mine)
    want = [satrec.jdsatepochF for satrec in theirs]
    np.testing.assert_allclose(ours.epoch_fraction, want, rtol=0, atol=5e-12)


def test_records_rebuilt_from_columns_propagate_alike(real_data):
    # one nanometre would be 1e-12 km: nothing is lost between text and columns
    catalogue = read([real_data / "active_2025-09-13.tle.gz"]).catalogue[::20]
    rebuilt = type(catalogue)(
        **{
            name: getattr(catalogue, name)
            for name in catalogue.__slots__
            if name != "satrecs"
        }
    )
    days, fractions = np.full(3, 2460933.5), np.array([0.0, 0.3, 0.7])
    for row in range(len(catalogue)):
        want = catalogue.satrec(row).sgp4_array(days, fractions)
        have = rebuilt.satrec(row).sgp4_array(days, fractions)
        np.testing.assert_array_equal(have[0], want[0])
        np.testing.assert_allclose(have[1], want[1], rtol=0, atol=1e-9)
