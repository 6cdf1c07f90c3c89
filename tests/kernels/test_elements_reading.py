"""Every form that is read, and every file that is refused, from invented files."""

import gzip
import io
import json
import os
from pathlib import Path

import numpy as np
import pytest

from passes.elements import ELEMENT_COLUMNS, Skipped, read, read_text, rejected_lines
from passes.errors import ElementsError

NUMBERS = [80001, 80002, 80003, 80004, 80005, 80006]
NAMES = (
    "INVENTED STATION",
    "INVENTED R/B",
    "INVENTED DEB",
    "INVENTED CRAFT 4",
    "INVENTED CRAFT 5",
    "INVENTED CRAFT 6",
)


@pytest.fixture
def good(fixtures) -> Path:
    return fixtures / "elements" / "readers"


@pytest.fixture
def broken(fixtures) -> Path:
    return fixtures / "broken"


def columns(catalogue):
    return np.stack([getattr(catalogue, name) for name in ELEMENT_COLUMNS])


def told(reading):
    """Line numbers, objects and reasons of what was left out."""
    return [
        (int(s.where.rsplit(":", 1)[1]), s.catalog_number, s.name, s.reason)
        for s in reading.rejected
    ]


# --- forms --------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "plain.tle",
        "bare-names.tle",
        "zero-names.tle",
        "padded-crlf.tle",
        "indented-cr.tle",
        "plus-exponents.tle",
        "remarks.tle",
        "names.tle.gz",
    ],
)
def test_every_way_to_write_two_line_sets_gives_the_same(good, name):
    reading = read([good / name])
    want = read([good / "bare-names.tle"]).catalogue
    assert reading.rejected == ()
    assert reading.records == 6
    assert reading.catalogue.catalog_number.tolist() == NUMBERS
    assert reading.catalogue.name == (("",) * 6 if name == "plain.tle" else NAMES)
    assert reading.catalogue.designator[0] == "2025-901A"
    assert reading.catalogue.origin == (str(good / name),) * 6
    np.testing.assert_array_equal(columns(reading.catalogue), columns(want))
    assert [s.satnum for s in reading.catalogue.satrecs] == NUMBERS


def test_numbers_with_a_letter_are_counted_on(good):
    # letters A to Z without I and O stand for 10 to 33 (the sgp4 package's alpha5)
    numbers = read([good / "alpha5.tle"]).catalogue.catalog_number
    assert numbers.tolist() == [100000, 148493, 182931, 234018, 301928, 339999]


@pytest.mark.parametrize("name", ["list.json", "one-line.json"])
def test_omm_as_json_gives_what_the_two_lines_give(good, name):
    reading = read([good / name])
    want = read([good / "bare-names.tle"]).catalogue
    assert reading.rejected == ()
    assert reading.catalogue.catalog_number.tolist() == NUMBERS
    assert reading.catalogue.name == NAMES
    assert reading.catalogue.designator == want.designator
    # lines round angles to 1e-4°, the motion to 1e-8 rev/day, the day to 1e-8
    ours, lines = columns(reading.catalogue), columns(want)
    np.testing.assert_array_equal(ours[0], lines[0])
    np.testing.assert_allclose(ours[1], lines[1], rtol=0, atol=6e-9)
    np.testing.assert_allclose(ours[2:7], lines[2:7], rtol=0, atol=1e-6)
    np.testing.assert_allclose(ours[7:], lines[7:], rtol=1e-8, atol=0)


def test_one_object_of_omm_is_read(good):
    reading = read([good / "one.json"])
    assert reading.catalogue.name == NAMES[:1]
    assert reading.files[0].form == "OMM as JSON"


def test_texts_for_numbers_and_every_way_to_write_an_epoch(good):
    reading = read([good / "texts.json"])
    plain = read([good / "list.json"]).catalogue
    assert reading.rejected == ()
    got = reading.catalogue
    assert got.catalog_number.tolist() == [80001, 80002, 987654321, 80004, 80005, 80006]
    np.testing.assert_array_equal(columns(got)[2:], columns(plain)[2:])
    seconds = (got.epoch_jd - 2460931.5 + got.epoch_fraction) * 86400
    want = np.arange(1, 7) * 10800 + np.array([1.5, 1.5, 1.5, 1.0, 1.5, 1.5])
    np.testing.assert_allclose(seconds, want, rtol=0, atol=1e-6)


def test_a_name_with_steering_characters_is_made_harmless(good):
    text = (good / "bare-names.tle").read_text()
    reading = read_text(text.replace("INVENTED DEB", "INV\x1b[2JENTED\x07 DEB"))
    assert reading.catalogue.name[2] == "INV\ufffd[2JENTED\ufffd DEB"
    record = json.loads((good / "one.json").read_text())
    record["OBJECT_NAME"] = "A\x1bB"
    assert read_text(json.dumps(record)).catalogue.name == ("A\ufffdB",)


def test_names_in_utf8_are_kept_and_others_are_remarked(good, broken):
    text = (good / "bare-names.tle").read_text()
    reading = read_text(text.replace("INVENTED DEB", "ERDFERNE Ä"))
    assert reading.catalogue.name[2] == "ERDFERNE Ä"
    assert reading.notes == ()
    latin = read([broken / "latin1.tle"])
    assert len(latin.catalogue) == 6
    assert latin.catalogue.name[3] == "INVENTED SONDE \ufffdT\ufffd"
    assert latin.notes == (f"{broken / 'latin1.tle'}: some names are not plain UTF-8",)


def test_a_byte_order_mark_is_no_character(good):
    data = (good / "list.json").read_bytes()
    assert len(read_text(b"\xef\xbb\xbf" + data).catalogue) == 6


# --- several files, standard input ---------------------------------------------


def test_several_files_come_together_in_order(good):
    reading = read([good / "one.json", good / "plain.tle"])
    assert reading.catalogue.catalog_number.tolist() == [80001, *NUMBERS]
    assert reading.records == 7
    assert [(f.form, f.records, f.used) for f in reading.files] == [
        ("OMM as JSON", 1, 1),
        ("TLE", 6, 6),
    ]
    assert reading.catalogue.satrec(0).satnum == 80001


@pytest.mark.parametrize("name", ["bare-names.tle", "names.tle.gz", "list.json"])
def test_a_dash_is_standard_input(good, name):
    with (good / name).open("rb") as file:
        reading = read(["-"], stdin=file)
    assert reading.catalogue.name == NAMES
    assert set(reading.catalogue.origin) == {"standard input"}


def test_a_file_without_elements_among_others_is_told_and_left_out(good, broken):
    reading = read([broken / "page.tle", good / "plain.tle", broken / "latin1.json"])
    assert len(reading.catalogue) == 6
    assert [s.where for s in reading.rejected] == [
        str(broken / "page.tle"),
        f"{broken / 'latin1.json'}:1",
    ]
    with pytest.raises(ElementsError, match="web page"):
        read([broken / "page.tle", good / "plain.tle"], strict=True)


# --- bad records ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "used", "want"),
    [
        (
            "checksum.tle",
            [80001, 80004],
            [
                (5, 80002, NAMES[1], "checksum 3, but the line adds up to 0"),
                (9, 80003, NAMES[2], "unreadable checksum 'x'"),
            ],
        ),
        (
            "lengths.tle",
            [80004],
            [
                (2, 80001, NAMES[0], "68 characters long, want 69"),
                (6, 80002, NAMES[1], "40 characters long, want 69"),
                (8, 80003, NAMES[2], "70 characters long, want 69"),
            ],
        ),
        (
            "numbers-differ.tle",
            [80001, 80004],
            [
                (
                    6,
                    80002,
                    NAMES[1],
                    "lines 1 and 2 are of different objects (80002 and 80003)",
                )
            ],
        ),
        (
            "letters.tle",
            [80006],
            [
                (2, 80001, NAMES[0], "unreadable day of the epoch '256.O2501736'"),
                (6, 80002, NAMES[1], "unreadable inclination '98.B2000'"),
                (8, 80003, NAMES[2], "unreadable drag term '- 1200-4'"),
                (12, 80004, NAMES[3], "column 34 holds 'x', want a space"),
                (14, 80005, NAMES[4], "unreadable year of the epoch '5'"),
            ],
        ),
        (
            "impossible.tle",
            [80005],
            [
                (
                    3,
                    80001,
                    NAMES[0],
                    "mean motion 0 rev/day is impossible (must be above 0)",
                ),
                (6, 80002, NAMES[1], "inclination 181° is impossible (0 to 180)"),
                (8, 80003, NAMES[2], "day 0.375017 of the year is impossible"),
                (
                    11,
                    80004,
                    NAMES[3],
                    "made for SGP4-XP (ephemeris type 4), not for SGP4",
                ),
            ],
        ),
        (
            "lost-lines.tle",
            [80003, 80004],
            [
                (2, 80001, NAMES[0], "line 1 without its line 2"),
                (4, 80002, NAMES[1], "line 2 without its line 1"),
                (
                    9,
                    None,
                    NAMES[4],
                    "neither a name nor one of the two lines: "
                    "'x 80006U 25906A   25256.750017…'",
                ),
                (10, 80006, "", "line 2 without its line 1"),
            ],
        ),
        (
            "fields.json",
            [80006],
            [
                (2, 80001, NAMES[0], "record 1: MEAN_MOTION is missing"),
                (24, 80002, NAMES[1], "record 2: EPOCH 'yesterday' is not a time"),
                (
                    47,
                    None,
                    NAMES[2],
                    "record 3: NORAD_CAT_ID 1234567890 is out of range (nine digits)",
                ),
                (
                    70,
                    80004,
                    NAMES[3],
                    "record 4: INCLINATION 'steep' is not a number",
                ),
                (93, None, NAMES[4], "record 5: NORAD_CAT_ID is missing"),
            ],
        ),
        (
            "impossible.json",
            [80006],
            [
                (
                    2,
                    80001,
                    NAMES[0],
                    "record 1: eccentricity 1 is impossible (0 to below 1)",
                ),
                (
                    25,
                    80002,
                    NAMES[1],
                    "record 2: mean motion 0 rev/day is impossible (must be above 0)",
                ),
                (
                    48,
                    80003,
                    NAMES[2],
                    "record 3: inclination -1° is impossible (0 to 180)",
                ),
                (71, 80004, NAMES[3], "record 4: REF_FRAME is 'EME2000', want TEME"),
                (
                    94,
                    80005,
                    NAMES[4],
                    "record 5: made for SGP4-XP (EPHEMERIS_TYPE 4), not for SGP4",
                ),
            ],
        ),
        (
            "not-finite.json",
            [80001, *NUMBERS[2:]],
            [(25, 80002, NAMES[1], "record 2: BSTAR is not a finite number")],
        ),
        (
            "damaged.json",
            [*NUMBERS[:2], *NUMBERS[3:]],
            [(48, None, "", "record 3: damaged JSON (Expecting ',' delimiter)")],
        ),
        (
            "cut-off.json",
            NUMBERS[:4],
            [(94, None, "", "record 5: damaged JSON (Unterminated string)")],
        ),
        (
            "strangers.json",
            [80001],
            [
                (1, None, "", f"record {i}: not an object with OMM fields")
                for i in (1, 2, 3)
            ],
        ),
    ],
)
def test_bad_records_are_told_and_good_ones_used(broken, name, used, want):
    reading = read([broken / name])
    assert reading.catalogue.catalog_number.tolist() == used
    assert told(reading) == want
    assert reading.records == len(used) + len(want)
    assert all(s.where.startswith(f"{broken / name}:") for s in reading.rejected)
    with pytest.raises(ElementsError) as error:
        read([broken / name], strict=True)
    assert error.value.where == reading.rejected[0].where
    assert error.value.reason == reading.rejected[0].reason


def test_a_name_left_alone_is_told(good):
    lines = (good / "bare-names.tle").read_text().splitlines()
    reading = read_text("\n".join([*lines[:4], *lines[6:], "LAST"]))
    assert reading.catalogue.name == (NAMES[0], *NAMES[2:])
    assert [(s.where, s.reason) for s in reading.rejected] == [
        ("text:4", "a name without its two lines: 'INVENTED R/B'"),
        ("text:17", "a name without its two lines: 'LAST'"),
    ]


def test_names_that_begin_with_a_digit_are_names(good):
    first, second = (good / "plain.tle").read_text().splitlines()[:2]
    for name in ("1 HOPE", "2 MANY", "1KUNS", "2020-001", "100"):
        assert read_text(f"{name}\n{first}\n{second}").catalogue.name == (name,)
    assert read_text(f"0\n{first}\n{second}").catalogue.name == ("",)


@pytest.mark.parametrize(
    ("field", "value", "reason"),
    [
        ("EPOCH", None, "EPOCH is missing"),
        ("EPOCH", "", "EPOCH is missing"),
        ("EPOCH", 20250913, "EPOCH 20250913 is not a time"),
        ("EPOCH", "2025-02-30T00:00:00", "EPOCH '2025-02-30T00:00:00' is not a time"),
        ("EPOCH", "2025-400T00:00:00", "EPOCH '2025-400T00:00:00' is not a time"),
        ("EPOCH", "2025-09-13T24:00:00", "EPOCH '2025-09-13T24:00:00' is not a time"),
        ("EPOCH", "1234-09-13T00:00:00", "EPOCH '1234-09-13T00:00:00' is not a time"),
        ("EPOCH", "2025-09-13T00:00:00+02:00", "is not a time"),
        ("NORAD_CAT_ID", -5, "NORAD_CAT_ID -5 is out of range (nine digits)"),
        ("NORAD_CAT_ID", "A0001", "NORAD_CAT_ID 'A0001' is not a catalogue number"),
        ("NORAD_CAT_ID", 5.5, "NORAD_CAT_ID 5.5 is not a catalogue number"),
        ("NORAD_CAT_ID", True, "NORAD_CAT_ID True is not a catalogue number"),
        ("NORAD_CAT_ID", "9" * 5000, "out of range"),
        ("BSTAR", None, "BSTAR is missing"),
        ("BSTAR", "1_0", "BSTAR '1_0' is not a number"),
        ("BSTAR", [1], "BSTAR [1] is not a number"),
        ("BSTAR", True, "BSTAR True is not a number"),
        ("BSTAR", "inf", "BSTAR is not a finite number"),
        ("MEAN_MOTION", "nan", "MEAN_MOTION is not a finite number"),
        ("MEAN_MOTION", 10**400, "MEAN_MOTION 1"),
        ("MEAN_MOTION_DOT", "?", "MEAN_MOTION_DOT '?' is not a number"),
        ("TIME_SYSTEM", "TAI", "TIME_SYSTEM is 'TAI', want UTC"),
        ("CENTER_NAME", "MARS", "CENTER_NAME is 'MARS', want EARTH"),
        ("MEAN_ELEMENT_THEORY", "DSST", "MEAN_ELEMENT_THEORY is 'DSST', want SGP4"),
    ],
)
def test_a_field_that_cannot_be_used_is_named(good, field, value, reason):
    record = json.loads((good / "one.json").read_text())
    bad = {**record, field: value, "NOTE": ["x", {"y": 1}]}
    reading = read_text(json.dumps([bad, record]))
    assert reading.catalogue.catalog_number.tolist() == [80001]
    assert len(reading.rejected) == 1
    assert reason in reading.rejected[0].reason
    assert reading.rejected[0].where == "text:1"


def test_fields_that_sgp4_does_not_use_may_be_left_out(good):
    record = json.loads((good / "one.json").read_text())
    for field in ("MEAN_MOTION_DOT", "MEAN_MOTION_DDOT", "OBJECT_NAME", "OBJECT_ID"):
        del record[field]
    record["OBJECT_NAME"] = None
    reading = read_text(json.dumps(record))
    assert reading.rejected == ()
    assert reading.catalogue.name == ("",)
    assert reading.catalogue.ndot.tolist() == [0.0]


def test_records_one_a_line_without_a_list_are_read(good):
    records = json.loads((good / "list.json").read_text())
    reading = read_text("\n".join(json.dumps(record) for record in records))
    assert reading.catalogue.catalog_number.tolist() == NUMBERS
    assert reading.rejected == ()


def test_a_missing_brace_costs_one_record(good):
    records = [json.dumps(r) for r in json.loads((good / "list.json").read_text())]
    records[2] = records[2][:-1]
    reading = read_text("[" + ",\n".join(records) + "]")
    assert reading.catalogue.catalog_number.tolist() == [*NUMBERS[:2], *NUMBERS[3:]]
    assert len(reading.rejected) == 1


# --- what is no element file -----------------------------------------------------


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("empty.tle", "is empty"),
        ("blank.tle", "is empty"),
        ("page.tle", "is a web page ('Not found'), not element sets"),
        ("binary.tle", "is a binary file, not element sets as text"),
        (
            "prose.tle",
            "holds no element sets (TLE, or OMM as JSON, CSV, XML or KVN); it begins "
            "'No data for this question.'",
        ),
        ("utf16.tle", "is not UTF-8 text but UTF-16; save it as UTF-8"),
        ("latin1.json", "not UTF-8 text (byte 0xc9); save it as UTF-8"),
        ("nothing-left.tle.gz", "the gzip file is damaged"),
    ],
)
def test_a_file_that_holds_no_elements_is_refused_in_one_line(broken, name, reason):
    with pytest.raises(ElementsError) as error:
        read([broken / name])
    assert str(broken / name) in error.value.where
    assert reason in error.value.reason
    assert "\n" not in str(error.value)
    assert len(error.value.reason) < 120


@pytest.mark.parametrize("text", ["[]", "  [ ] \n"])
def test_an_empty_list_is_refused(text):
    with pytest.raises(ElementsError, match="holds no element sets"):
        read_text(text)


@pytest.mark.parametrize("text", ["{", "[[]]", "null", "[null,]", '"', "[{]"])
def test_json_without_records_is_told(text):
    if not text.startswith(("[", "{")):
        text = f"[{text}"
    reading = read_text(text)
    assert len(reading.catalogue) == 0
    assert len(reading.rejected) == reading.records == 1


def test_files_that_cannot_be_opened(tmp_path, good):
    gone = tmp_path / "gone.tle"
    for path, reason in (
        (gone, "no such file"),
        (tmp_path, "is a directory; name the files in it"),
        (f"{tmp_path}/a\0b", "cannot be read"),
    ):
        with pytest.raises(ElementsError) as error:
            read([good / "plain.tle", path])
        assert error.value.where == str(path)
        assert reason in error.value.reason


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_without_permission_is_refused(tmp_path):
    locked = tmp_path / "locked.tle"
    locked.touch(mode=0o000)
    with pytest.raises(ElementsError, match="permission denied"):
        read([locked])


def test_a_permission_error_is_put_in_plain_words(tmp_path, monkeypatch):
    def refuse(*args, **more):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    with pytest.raises(ElementsError, match=r"may not be read \(permission denied\)"):
        read(["locked.tle"])


def test_what_a_broken_download_left_is_used(broken):
    reading = read([broken / "cut-off.tle.gz"])
    assert reading.catalogue.name == NAMES[:4]
    assert "gzip file is damaged" in reading.rejected[-1].reason
    assert reading.rejected[-1].reason.endswith("what came before is used")


# --- limits ----------------------------------------------------------------------


def test_more_bytes_than_allowed_are_refused_whatever_they_are_packed_in(good):
    data = (good / "bare-names.tle").read_bytes()
    assert len(read_text(data, max_bytes=len(data)).catalogue) == 6
    for packed in (data, gzip.compress(data)):
        with pytest.raises(ElementsError, match=r"holds more than 933 bytes"):
            read_text(packed, max_bytes=len(data) - 1)


def test_a_bomb_is_stopped_before_it_fills_the_memory():
    bomb = gzip.compress(b"\n" * (1 << 24), mtime=0)
    stream = io.BytesIO(bomb)
    with pytest.raises(ElementsError, match=r"holds more than 1 MiB"):
        read(["-"], stdin=stream, max_bytes=1 << 20)
    assert stream.tell() < len(bomb)


@pytest.mark.parametrize("name", ["bare-names.tle", "list.json"])
def test_more_records_than_allowed_are_refused(good, name):
    assert len(read([good / name], max_records=6).catalogue) == 6
    with pytest.raises(ElementsError, match="more than 5 records"):
        read([good / name], max_records=5)
    with pytest.raises(ElementsError, match="more than 11 records"):
        read([good / name] * 2, max_records=11)


@pytest.mark.parametrize(
    "text", ["1 00001\n" + "x\n" * 50_000, "[" * 50_000, '[{"a":' * 50_000, "[" + "{},"]
)
def test_hostile_text_is_refused_or_told_but_never_a_crash(text):
    with pytest.raises(ElementsError):
        read_text(text, max_records=100, strict=True)


def test_deep_nesting_is_refused():
    with pytest.raises(ElementsError, match="nested too deeply"):
        read_text('{"a":' * 100_000)


# --- telling ----------------------------------------------------------------------


def test_ten_of_the_rejected_are_shown_and_the_rest_counted():
    many = [
        Skipped(catalog_number=80000 + i, name="", reason="bad", where=f"a.tle:{i}")
        for i in range(1013)
    ]
    lines = rejected_lines(many)
    assert lines[0] == "a.tle:0: 80000: bad"
    assert lines[10] == "… and 1,003 more left out (--verbose lists all)"
    assert len(lines) == 11
    assert len(rejected_lines(many, verbose=True)) == 1013
    assert len(rejected_lines(many[:10])) == 10
    nameless = Skipped(catalog_number=None, name="A B", reason="bad", where="")
    assert rejected_lines([nameless]) == ["A B: bad"]
