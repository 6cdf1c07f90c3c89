"""Columns of element sets: shapes, rows, epochs, and records rebuilt from columns."""

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sgp4.api import Satrec

from passes.elements import (
    ELEMENT_COLUMNS,
    Catalogue,
    ElementSet,
    as_catalogue,
    duplicates,
    make_satrec,
    nearest,
    read,
    read_text,
)
from passes.model import Growth

MIDNIGHT = datetime(2025, 9, 13, tzinfo=UTC)


@pytest.fixture
def six(fixtures) -> Catalogue:
    return read([fixtures / "elements/readers/bare-names.tle"]).catalogue


def one(number=80001, *, days=0.0, name="INVENTED", **values) -> ElementSet:
    """An invented set whose epoch lies some days after a midnight."""
    return ElementSet(
        catalog_number=number,
        name=name,
        epoch_jd=2460931.5 + days // 1,
        epoch_fraction=days % 1,
        inclination_rad=0.9,
        raan_rad=1.0,
        eccentricity=0.001,
        argument_rad=2.0,
        mean_anomaly_rad=3.0,
        mean_motion_rad_min=0.066,
        bstar=1e-4,
        **values,
    )


def test_columns_must_have_one_length(six):
    with pytest.raises(ValueError, match="eccentricity"):
        replace(six, eccentricity=np.zeros(5))
    with pytest.raises(ValueError, match="catalog_number"):
        replace(six, catalog_number=np.arange(7))
    with pytest.raises(ValueError, match="late_s"):
        replace(six, late_s=np.zeros((6, 1)))


@pytest.mark.parametrize("words", ["designator", "origin", "growth", "satrecs"])
def test_words_must_have_the_length_of_the_columns(six, words):
    with pytest.raises(ValueError, match=f"{words}: 2 entries, want 6"):
        replace(six, **{words: ("a", "b")})


def test_columns_are_held_as_copies_that_nobody_can_write(six):
    mine = np.full(6, 0.5)
    held = replace(six, eccentricity=mine, late_s=mine)
    mine[0] = 9.0
    assert held.eccentricity[0] == 0.5
    for column in (*ELEMENT_COLUMNS, "catalog_number", "late_s"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(held, column)[0] = 1


def test_a_row_is_an_element_set(six):
    row = six[1]
    assert (row.catalog_number, row.name) == (80002, "INVENTED R/B")
    assert row.designator == "2025-902A"
    assert isinstance(row.catalog_number, int)
    for column in ELEMENT_COLUMNS:
        assert getattr(row, column) == getattr(six, column)[1]
    assert six[-1].catalog_number == 80006
    assert [s.catalog_number for s in six] == list(range(80001, 80007))
    with pytest.raises(IndexError):
        six[6]


def test_slices_and_takes_keep_every_column_together(six):
    growth = tuple(
        Growth(sigma0_s=i, sigma1_s=1.0, bound0_s=1.0, bound1_s=1.0) for i in range(6)
    )
    full = replace(six, growth=growth, late_s=np.arange(6.0))
    for part, want in (
        (full[1:5:2], [1, 3]),
        (full[::-1], [5, 4, 3, 2, 1, 0]),
        (full.take([4, 0, 4]), [4, 0, 4]),
        (full.take(full.catalog_number > 80004), [4, 5]),
        (full.take([-1]), [5]),
        (full.take([]), []),
    ):
        assert len(part) == len(want)
        assert part.catalog_number.tolist() == [80001 + i for i in want]
        assert part.late_s.tolist() == want
        assert [g.sigma0_s for g in part.growth] == want
        assert list(part) == [full[i] for i in want]
        assert [s.satnum for s in part.satrecs] == [80001 + i for i in want]


def test_a_take_refuses_what_are_no_rows(six):
    with pytest.raises(ValueError, match="mask"):
        six.take(np.ones(5, dtype=bool))
    with pytest.raises(ValueError, match="indices"):
        six.take([0.5, 1.0])
    with pytest.raises(ValueError, match="indices"):
        six.take([[0, 1]])
    with pytest.raises(IndexError):
        six.take([6])


def test_a_sequence_of_sets_becomes_a_catalogue_and_back(six):
    assert as_catalogue(six) is six
    rows = list(six)
    again = as_catalogue(iter(rows))
    assert list(again) == rows
    assert len(as_catalogue([])) == 0


def test_epochs_are_good_to_a_microsecond(six):
    # 2025-09-13 03:00:01.5 as eight decimals of a day keep it: half a millisecond
    parts = [(s.epoch_jd, s.epoch_fraction) for s in six]
    assert parts[0] == (2460931.5, 0.12501736)
    assert six[0].epoch == MIDNIGHT + timedelta(seconds=0.12501736 * 86400)
    exact = one(days=0.0)
    for microseconds in (1, 999_999, 43_200_000_001, 86_399_999_999):
        fraction = microseconds / 86_400_000_000
        moved = replace(exact, epoch_fraction=fraction)
        assert moved.epoch == MIDNIGHT + timedelta(microseconds=microseconds)


def test_epochs_in_seconds_agree_with_those_in_calendar_time(six):
    since = datetime(2025, 9, 14, 7, 8, 9, 123456, tzinfo=UTC)
    want = [(s.epoch - since).total_seconds() for s in six]
    np.testing.assert_allclose(six.epoch_s(since), want, rtol=0, atol=1e-6)
    zone = (since + timedelta(0)).astimezone()
    np.testing.assert_array_equal(six.epoch_s(zone), six.epoch_s(since))


def test_a_record_is_made_once_and_kept(six):
    bare = replace(six, satrecs=[])
    assert bare.satrecs == [None] * 6
    made = bare.satrec(2)
    assert bare.satrec(2) is made
    assert bare.take([2]).satrec(0) is made
    assert made.satnum == 80003


def states(satrec, days=(0.0, 0.3, 2.7, 7.1)):
    jd = np.full(len(days), satrec.jdsatepoch)
    error, position, velocity = satrec.sgp4_array(
        jd, satrec.jdsatepochF + np.array(days)
    )
    return error, position, velocity


def test_records_rebuilt_from_columns_equal_those_from_text(six):
    # the same SGP4 from the same numbers: not a bit may differ
    for row, made in enumerate(six.satrecs):
        rebuilt = replace(six, satrecs=[]).satrec(row)
        assert isinstance(made, Satrec)
        assert made is not rebuilt
        for ours, theirs in zip(states(rebuilt), states(made), strict=True):
            np.testing.assert_array_equal(ours, theirs)


def test_numbers_beyond_five_characters_still_propagate(six):
    small, big = six[0], replace(six[0], catalog_number=987654321)
    np.testing.assert_array_equal(
        states(make_satrec(big))[1], states(make_satrec(small))[1]
    )
    catalogue = as_catalogue([big])
    assert catalogue[0].catalog_number == 987654321
    assert catalogue.satrec(0).satnum == 339999


def test_a_record_keeps_both_parts_of_its_epoch():
    fraction = 0.123456789012345
    satrec = make_satrec(replace(one(), epoch_fraction=fraction))
    assert (satrec.jdsatepoch, satrec.jdsatepochF) == (2460931.5, fraction)


def test_of_several_sets_the_nearest_to_the_middle_serves():
    sets = [one(80001, days=d, name=f"{d}") for d in (0.0, 1.0, 2.0, 5.0)]
    sets += [one(80002, days=9.0), one(80001, days=2.5, name="2.5")]
    catalogue = as_catalogue(sets)
    for hours, want in (
        (0, "0.0"),
        (36, "2.0"),
        (54, "2.5"),
        (90, "5.0"),
        (999, "5.0"),
    ):
        chosen = nearest(catalogue, MIDNIGHT + timedelta(hours=hours))
        assert sorted(chosen.catalog_number.tolist()) == [80001, 80002]
        assert want in chosen.name


def test_of_two_equally_near_the_later_serves_and_of_two_alike_the_first():
    sets = [one(days=0.0, name="early"), one(days=1.0, name="late")]
    middle = MIDNIGHT + timedelta(hours=12)
    for order in (sets, sets[::-1]):
        assert nearest(as_catalogue(order), middle).name == ("late",)
    alike = [one(name="first"), one(name="second")]
    assert nearest(as_catalogue(alike), middle).name == ("first",)


def test_choosing_keeps_the_order_and_leaves_single_sets_alone(six):
    assert nearest(six, MIDNIGHT) is six
    mixed = six.take([5, 0, 3, 0, 5])
    assert nearest(mixed, MIDNIGHT).catalog_number.tolist() == [80006, 80001, 80004]
    assert duplicates(mixed) == {80001: 2, 80006: 2}
    empty = six.take([])
    assert nearest(empty, MIDNIGHT) is empty


def test_every_column_of_elements_is_a_field_of_the_record():
    names = [field.name for field in fields(ElementSet)]
    assert [name for name in names if name in ELEMENT_COLUMNS] == list(ELEMENT_COLUMNS)


def test_reading_text_twice_gives_the_same_columns(fixtures):
    text = (fixtures / "elements/readers/plain.tle").read_text()
    first, second = read_text(text).catalogue, read_text(text.encode()).catalogue
    assert list(first) == list(second)
