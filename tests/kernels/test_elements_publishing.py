"""Element sets out again: the text that came in, to the last character."""

import gzip
import json
from pathlib import Path

import numpy as np
import pytest
from sgp4 import exporter
from sgp4.api import Satrec

from passes import elements

# an invented object, laid out as the published format says
TWO = """\
DRIFTER 1
1 80001U 26001A   26001.50000000  .00001234  00000+0  12345-4 0  9993
2 80001  51.6400 120.0000 0007000  30.0000 330.0000 15.50000000 12340
"""


def _checked(text: str) -> str:
    """The same with the last digits that the lines add up to."""
    lines = []
    for line in text.splitlines():
        if line[:2] in ("1 ", "2 "):
            total = sum(int(c) if c.isdigit() else c == "-" for c in line[:68])
            line = f"{line[:68]}{total % 10}"
        lines.append(line)
    return "\n".join(lines) + "\n"


def test_two_lines_come_back() -> None:
    text = _checked(TWO)
    assert elements.tle_text(elements.read_text(text).catalogue) == text


@pytest.mark.parametrize("day", ["13", "14", "17", "20"])
def test_real_files_come_back_to_the_last_character(real_data: Path, day: str) -> None:
    # the published text itself is the reference
    file = real_data / f"active_2025-09-{day}.tle.gz"
    published = gzip.decompress(file.read_bytes()).decode().splitlines()
    published = [line.rstrip() for line in published]
    catalogue = elements.read([file]).catalogue
    assert elements.tle_text(catalogue).splitlines() == published


def test_through_messages_and_back_to_the_same_text(real_data: Path) -> None:
    file = real_data / "active_2025-09-20.tle.gz"
    catalogue = elements.read([file]).catalogue
    again = elements.read_text(elements.omm_text(catalogue)).catalogue
    assert elements.tle_text(again) == elements.tle_text(catalogue)
    for column in elements.ELEMENT_COLUMNS:
        np.testing.assert_allclose(
            getattr(again, column), getattr(catalogue, column), rtol=1e-15, atol=1e-15
        )


def test_numbers_as_another_writer_has_them() -> None:
    # the sgp4 package writes the same lines (its zero has the other sign)
    text = _checked(TWO.replace("00000+0", "11606-4"))
    _, first, second = text.splitlines()
    theirs = exporter.export_tle(Satrec.twoline2rv(first, second))
    ours = elements.tle_text(elements.read_text(text).catalogue).splitlines()[1:]
    assert ours == list(theirs)


def test_what_two_lines_cannot_hold_is_a_message_still() -> None:
    record = json.loads(elements.omm_text(elements.read_text(_checked(TWO)).catalogue))
    record[0]["NORAD_CAT_ID"] = 800_000_001
    catalogue = elements.read_text(json.dumps(record)).catalogue
    assert elements.fits_tle(catalogue).tolist() == [False]
    with pytest.raises(ValueError, match="do not fit"):
        elements.tle_text(catalogue)
    again = json.loads(elements.omm_text(catalogue))
    assert again == record


def test_letters_in_front_of_long_numbers() -> None:
    text = _checked(TWO.replace("80001", "A0001"))
    catalogue = elements.read_text(text).catalogue
    assert catalogue.catalog_number.tolist() == [100_001]
    assert elements.tle_text(catalogue) == text


def test_set_number_revolution_and_classification_are_kept() -> None:
    catalogue = elements.read_text(_checked(TWO)).catalogue
    assert elements.details_of(catalogue) == [(999, 1234, "U")]
    both = elements.read_text(elements.omm_text(catalogue)).catalogue
    assert elements.details_of(both) == [(999, 1234, "U")]
