"""Ephemerides spoilt at random: read or refused in one line, never believed wrongly."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.ephemeris import read_messages
from passes.errors import EphemerisError

FOLDER = Path(__file__).parents[2] / "fixtures" / "ephemerides"
#: Twenty states of each segment are enough to spoil.
_KVN = (FOLDER / "station.oem").read_text().split("\n")
KVN = "\n".join(_KVN[:40]).encode()
XML = (FOLDER / "station.oem.xml").read_bytes()[:4000]
XML = XML[: XML.rindex(b"<stateVector>")] + b"</data></segment></body></oem></ndm>"


def attempt(data):
    """The messages, or None; anything but the documented refusal is a crash."""
    try:
        return read_messages(data, "x")
    except EphemerisError as error:
        refusal = str(error)
    assert "\n" not in refusal
    assert refusal.startswith("x")
    return None


def test_what_is_spoilt_below_is_sound():
    assert attempt(KVN)
    assert attempt(XML)


@pytest.mark.parametrize("whole", [KVN, XML], ids=["KVN", "XML"])
@given(data=st.data())
def test_cut_off_anywhere(whole, data):
    found = attempt(whole[: data.draw(st.integers(0, len(whole)))])
    if found:
        full = attempt(whole)[0].segments[0]
        part = found[0].segments[0]
        count = part.time_s.size
        # the very last state may have lost digits where nothing closes it
        assert count <= full.time_s.size
        np.testing.assert_array_equal(
            part.position_km[: count - 1], full.position_km[: count - 1]
        )


@pytest.mark.parametrize("whole", [KVN, XML], ids=["KVN", "XML"])
@given(data=st.data())
def test_bytes_replaced_at_random(whole, data):
    spoilt = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 6))):
        spoilt[data.draw(st.integers(0, len(spoilt) - 1))] = data.draw(
            st.integers(0, 255)
        )
    for message in attempt(bytes(spoilt)) or ():
        for segment in message.segments:
            assert np.isfinite(segment.position_km).all()
            assert (np.diff(segment.time_s) > 0).all()
            assert segment.start < segment.stop


@pytest.mark.parametrize("start", [b"CCSDS_OEM_VERS = 2.0\n", b"<oem>", b"<ndm><oem>"])
@given(rest=st.binary(max_size=200))
def test_any_bytes_behind_a_beginning(start, rest):
    assert attempt(start + rest) is None


MARKS = ["META_START", "META_STOP", "COVARIANCE_START", "COVARIANCE_STOP", "="]


@given(st.lists(st.sampled_from([*MARKS, *KVN.decode().splitlines()]), max_size=40))
def test_lines_in_any_order(lines):
    found = attempt("\n".join(["CCSDS_OEM_VERS = 2.0", *lines]).encode())
    assert found is None or all(message.segments for message in found)
