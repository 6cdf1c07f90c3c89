"""Messages spoilt at random: read or refused in one line, never believed or crashed."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.elements import ELEMENT_COLUMNS, read_text
from passes.errors import ElementsError

READERS = Path(__file__).parents[2] / "fixtures" / "elements" / "readers"
NAMES = ["six.csv", "six.xml", "six.kvn"]


def attempt(data):
    """What reading gives, or how it refuses; anything else is a crash."""
    try:
        return read_text(data)
    except ElementsError as error:
        refusal = str(error)
    assert "\n" not in refusal
    return None


def rows(reading):
    catalogue = reading.catalogue
    columns = [getattr(catalogue, name) for name in ELEMENT_COLUMNS]
    return {tuple(row) for row in np.stack(columns, axis=1)}


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_a_file_cut_off_anywhere_gives_no_set_that_was_not_there(name, data):
    whole = (READERS / name).read_bytes()
    cut = data.draw(st.integers(0, len(whole)))
    found = attempt(whole[:cut])
    if found is not None and name != "six.csv":
        # a number at the very end may lose its last digits where nothing closes it
        extra = rows(found) - rows(read_text(whole))
        assert len(extra) <= (name == "six.kvn")


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_bytes_replaced_at_random_never_crash(name, data):
    spoilt = bytearray((READERS / name).read_bytes())
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(spoilt) - 1))
        spoilt[place] = data.draw(st.integers(0, 255))
    found = attempt(bytes(spoilt))
    if found is not None:
        assert len(found.catalogue) + len(found.rejected) > 0


@pytest.mark.parametrize(
    "start",
    [
        b"CCSDS_OMM_VERS = 2.0\n",
        b"<ndm><omm>",
        b"<?xml version='1.0'?><!DOCTYPE a [",
        b"NORAD_CAT_ID,EPOCH,BSTAR\n",
    ],
)
@given(rest=st.binary(max_size=200))
def test_any_bytes_behind_a_beginning_never_crash(start, rest):
    found = attempt(start + rest)
    if found is not None:
        assert len(found.catalogue) == 0
        assert len(found.rejected) > 0
