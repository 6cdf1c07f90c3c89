"""Text of element sets: what is written is read, what is spoilt is never believed."""

import json
from math import pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sgp4 import exporter
from sgp4.alpha5 import to_alpha5
from sgp4.api import WGS72, Satrec
from sgp4.io import fix_checksum

from passes.elements import ELEMENT_COLUMNS, Catalogue, read_text
from passes.errors import ElementsError

REV_DAY = 2 * pi / 1440

angles = st.floats(0.0, 359.99)
rates = st.one_of(
    st.just(0.0),
    st.floats(1e-8, 0.09).flatmap(lambda size: st.sampled_from([size, -size])),
)
printable = st.characters(min_codepoint=32, max_codepoint=126)
names = st.text(printable, max_size=24).map(str.strip)


@st.composite
def records(draw):
    """SGP4 records of invented objects, most of them possible orbits."""
    satrec = Satrec()
    satrec.sgp4init(
        WGS72,
        "i",
        draw(st.integers(1, 339_999)),
        draw(st.floats(20_000.0, 38_000.0)),
        draw(rates),
        draw(st.floats(-0.1, 0.1)) / (1440.0 * 1440.0),
        0.0,
        draw(st.floats(0.0, 0.99)),
        radians(draw(angles)),
        radians(draw(st.floats(0.0, 180.0))),
        radians(draw(angles)),
        draw(st.floats(0.05, 17.0)) * REV_DAY,
        radians(draw(angles)),
    )
    satrec.classification = "U"
    satrec.intldesg = draw(st.from_regex(r"[0-9]{5}[A-Z]{1,3}", fullmatch=True))
    satrec.elnum = draw(st.integers(0, 9999))
    satrec.revnum = draw(st.integers(0, 99_999))
    return satrec


def export_tle(satrec):
    """The two lines; the compiled record itself would write 230000 with an O."""
    number = to_alpha5(satrec.satnum)
    return [
        fix_checksum(line[:2] + number + line[7:])
        for line in exporter.export_tle(satrec)
    ]


def elements(catalogue: Catalogue):
    return np.stack([getattr(catalogue, name) for name in ELEMENT_COLUMNS], axis=1)


@given(st.lists(records(), min_size=1, max_size=4), st.sampled_from(["\n", "\r\n"]))
def test_sets_written_by_the_exporter_come_back(satrecs, end):
    lines = [line for satrec in satrecs for line in export_tle(satrec)]
    reading = read_text(end.join(lines))
    assert reading.rejected == ()
    back = reading.catalogue
    assert back.catalog_number.tolist() == [s.satnum for s in satrecs]
    np.testing.assert_allclose(
        back.epoch_jd - satrecs[0].jdsatepoch + back.epoch_fraction,
        [s.jdsatepoch - satrecs[0].jdsatepoch + s.jdsatepochF for s in satrecs],
        rtol=0,
        atol=6e-9,  # eight decimals of a day
    )
    # four decimals of a degree, seven of eccentricity, eight of revolutions a day
    for name, theirs, step in (
        ("inclination_rad", "inclo", radians(6e-5)),
        ("raan_rad", "nodeo", radians(6e-5)),
        ("argument_rad", "argpo", radians(6e-5)),
        ("mean_anomaly_rad", "mo", radians(6e-5)),
        ("eccentricity", "ecco", 6e-8),
        ("mean_motion_rad_min", "no_kozai", 6e-9 * REV_DAY),
    ):
        want = [getattr(s, theirs) for s in satrecs]
        np.testing.assert_allclose(getattr(back, name), want, rtol=0, atol=step)
    want = [s.bstar for s in satrecs]
    np.testing.assert_allclose(back.bstar, want, rtol=6e-5, atol=0)


@given(st.lists(st.tuples(names, records()), min_size=1, max_size=4))
def test_names_come_back_and_never_touch_the_numbers(pairs):
    text = "\n".join(
        line for name, satrec in pairs for line in (f"0 {name}", *export_tle(satrec))
    )
    reading = read_text(text)
    assert reading.catalogue.name == tuple(name for name, _ in pairs)
    bare = "\n".join(line for _, satrec in pairs for line in export_tle(satrec))
    np.testing.assert_array_equal(
        elements(reading.catalogue), elements(read_text(bare).catalogue)
    )


@settings(max_examples=400)
@given(records(), st.integers(0, 1), st.integers(0, 68), printable)
def test_one_wrong_character_never_gives_a_wrong_number(satrec, which, column, wrong):
    lines = list(export_tle(satrec))
    right = read_text("\n".join(lines)).catalogue
    line = lines[which]
    lines[which] = line[:column] + wrong + line[column + 1 :]
    reading = attempt("\n".join(["A NAME", *lines]))
    if isinstance(reading, ElementsError):
        return  # neither of the two lines looks like one any more
    if not len(reading.catalogue):
        assert reading.rejected
        return
    assert reading.rejected == ()
    assert reading.catalogue.catalog_number.tolist() == right.catalog_number.tolist()
    np.testing.assert_array_equal(elements(reading.catalogue), elements(right))


@given(st.lists(records(), min_size=2, max_size=5), st.data())
def test_a_lost_line_costs_only_its_own_set(satrecs, data):
    lines = [line for satrec in satrecs for line in export_tle(satrec)]
    lost = data.draw(st.integers(0, len(lines) - 1))
    whole = read_text("\n".join(lines)).catalogue
    reading = read_text("\n".join(lines[:lost] + lines[lost + 1 :]))
    kept = np.arange(len(satrecs)) != lost // 2
    np.testing.assert_array_equal(elements(reading.catalogue), elements(whole)[kept])
    assert len(reading.rejected) == 1
    assert reading.records == len(satrecs)


@given(
    st.lists(records(), min_size=1, max_size=4, unique_by=lambda s: s.satnum),
    st.randoms(use_true_random=False),
)
def test_mixed_up_lines_never_make_a_set_of_two_objects(satrecs, random):
    lines = [line for satrec in satrecs for line in export_tle(satrec)]
    whole = {tuple(row) for row in elements(read_text("\n".join(lines)).catalogue)}
    random.shuffle(lines)
    found = attempt("\n".join(lines))
    assert {tuple(row) for row in elements(found.catalogue)} <= whole
    assert len(found.catalogue) <= len(satrecs) <= found.records


def attempt(text):
    """What reading gives, or how it refuses; anything else is a crash."""
    try:
        return read_text(text)
    except ElementsError as error:
        return error


@pytest.mark.parametrize("start", [b"", b"{", b"[{", b"1 80001U", b"\x1f\x8b"])
@given(data=st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_and_never_crash(start, data):
    found = attempt(start + data)
    if isinstance(found, ElementsError):
        assert found.reason
        assert "\n" not in str(found)
    else:
        assert len(found.catalogue) + len(found.rejected) > 0


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    ["NORAD_CAT_ID", "EPOCH", "BSTAR", "MEAN_MOTION", "OBJECT_NAME"]
                ),
                inner,
                max_size=4,
            )
        ),
        max_leaves=12,
    )
)
def test_any_json_is_read_or_refused_and_never_crashes(value):
    found = attempt(json.dumps([value, value]))
    if isinstance(found, ElementsError):
        assert "\n" not in str(found)
    else:
        assert len(found.catalogue) == 0
        assert len(found.rejected) == found.records == 2
