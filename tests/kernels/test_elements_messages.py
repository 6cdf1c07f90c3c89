"""Mean-elements messages as CSV, XML and KVN: every form gives the same sets."""

import gzip
import tracemalloc

import numpy as np
import pytest

from passes.elements import ELEMENT_COLUMNS, read, read_text
from passes.elements.omm_gather import BATCH
from passes.errors import ElementsError

FORMS = {
    "six.csv": "OMM as CSV",
    "semicolons-quoted.csv": "OMM as CSV",
    "six.xml": "OMM as XML",
    "prefixed.xml": "OMM as XML",
    "six.kvn": "OMM as KVN",
    "six-crlf.kvn": "OMM as KVN",
}


@pytest.fixture
def readers(fixtures):
    return fixtures / "elements" / "readers"


@pytest.fixture
def broken(fixtures):
    return fixtures / "broken"


@pytest.mark.parametrize("name", list(FORMS))
def test_every_form_gives_what_json_gives(readers, name):
    want = read([readers / "list.json"]).catalogue
    reading = read([readers / name])
    found = reading.catalogue
    assert [file.form for file in reading.files] == [FORMS[name]]
    assert reading.rejected == ()
    assert reading.records == len(found) == 6
    assert found.name == want.name
    assert found.designator == want.designator
    assert found.details == want.details
    for column in ("catalog_number", *ELEMENT_COLUMNS):
        np.testing.assert_array_equal(getattr(found, column), getattr(want, column))


@pytest.mark.parametrize("name", ["fields.csv", "fields.xml", "fields.kvn"])
def test_bad_records_are_told_and_the_others_used(broken, name):
    reading = read([broken / name])
    assert reading.catalogue.catalog_number.tolist() == [80006]
    assert reading.records == 6
    assert [s.catalog_number for s in reading.rejected] == [*range(80001, 80006)]
    reasons = [s.reason.split(": ", 1)[1] for s in reading.rejected]
    assert reasons == [
        "MEAN_MOTION is missing",
        "EPOCH '2025-13-13T00:00:00' is not a time",
        "ECCENTRICITY '1,5' is not a number",
        "REF_FRAME is 'EME2000', want TEME",
        "made for SGP4-XP (EPHEMERIS_TYPE 4), not for SGP4",
    ]


@pytest.mark.parametrize(
    ("name", "where", "reason", "used"),
    [
        ("cells.csv", ":2", "record 1: 23 cells under 21 headings", 4),
        ("twice.kvn", ":1", "record 1: 'BSTAR' is given twice", 0),
        ("cut-off.xml", ":130", "record 5: damaged XML (no element found)", 4),
        ("crossed.xml", ":28", "record 1: damaged XML (mismatched tag)", 0),
        (
            "other-kind.kvn",
            ":1",
            "record 1: a message of another kind (OPM), not mean elements",
            0,
        ),
    ],
)
def test_damage_is_told_where_it_stands(broken, name, where, reason, used):
    reading = read([broken / name])
    assert len(reading.catalogue) == used
    assert reading.rejected[0].reason == reason
    assert reading.rejected[0].where == f"{broken / name}{where}"
    with pytest.raises(ElementsError, match=name):
        read([broken / name], strict=True)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("entities.xml", "declares a document type or entities, which are not read"),
        ("outside.xml", "declares a document type or entities, which are not read"),
        ("deep.xml", "nested too deeply"),
        (
            "encoding.xml",
            "XML in an unknown encoding (unknown encoding: EBCDIC-9)",
        ),
    ],
)
def test_dangerous_files_are_refused_in_one_line(broken, name, reason):
    with pytest.raises(ElementsError) as error:
        read([broken / name])
    assert str(error.value) == f"{broken / name}: {reason}"


def test_terms_of_the_other_theory_are_named(readers):
    text = (readers / "six.kvn").read_text()
    text = text.replace("BSTAR               =", "BTERM =", 1)
    (rejected,) = read_text(text).rejected
    assert rejected.reason == ("record 1: made for SGP4-XP (BTERM, AGOM), not for SGP4")


@pytest.mark.parametrize("name", ["six.csv", "six.xml", "six.kvn", "list.json"])
def test_too_many_records_are_refused(readers, name):
    with pytest.raises(ElementsError, match="more than 5 records") as error:
        read([readers / name], max_records=5)
    assert "--max-size" in str(error.value)
    assert len(read([readers / name], max_records=6).catalogue) == 6


def test_gzip_is_expanded_no_further_than_allowed(readers):
    packed = gzip.compress((readers / "six.xml").read_bytes() + b" " * 5_000_000)
    assert len(packed) < 20_000
    assert len(read_text(packed).catalogue) == 6
    with pytest.raises(ElementsError, match=r"holds more than 1 MiB \(expanded\)"):
        read_text(packed, max_bytes=2**20)


def many(readers, name, times):
    """A form with its records repeated, one file."""
    text = (readers / name).read_text()
    if name.endswith(".xml"):
        head, body = text.split("<ndm>\n")
        return head + "<ndm>\n" + body.removesuffix("</ndm>\n") * times + "</ndm>\n"
    head = text.splitlines(keepends=True)[0] if name.endswith(".csv") else ""
    return head + text.removeprefix(head) * times


@pytest.mark.parametrize("name", ["six.csv", "six.xml", "six.kvn"])
def test_records_beyond_one_batch_are_all_read(readers, name):
    reading = read_text(many(readers, name, BATCH // 6 + 2))
    assert len(reading.catalogue) == 6 * (BATCH // 6 + 2) > BATCH
    assert set(reading.catalogue.catalog_number.tolist()) == set(range(80001, 80007))


def test_a_stream_of_xml_holds_one_message_at_a_time(readers):
    from passes.elements import omm_xml

    peaks = []
    for times in (100, 1000):
        data = many(readers, "six.xml", times).encode()
        tracemalloc.start()
        count = sum(1 for _ in omm_xml._entries(data, "x"))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert count == 6 * times
    assert peaks[1] < 2 * peaks[0] + 100_000
