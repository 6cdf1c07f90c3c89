"""The archive: everything kept once, the right set for the time, nothing lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from passes import elements
from passes.archive import Archive, Filter, SourceState
from passes.archive.rows import epochs_us, from_us, to_us
from passes.elements import Catalogue, ElementSet, as_catalogue
from passes.testing.elements import element_sets, element_text

NOW = datetime(2031, 10, 12, 6, tzinfo=UTC)
DAY_0 = datetime(2031, 10, 11, tzinfo=UTC)


def sets(*days: float, number: int = 80001, name: str = "DRIFTER") -> Catalogue:
    """Invented sets of one object at these days after a day."""
    like = element_sets()[0]
    return as_catalogue(
        replace(like, catalog_number=number, name=name, epoch_fraction=day)
        for day in days
    )


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    """An archive that is not there yet."""
    return Archive(tmp_path / "archive.sqlite")


def same(a: ElementSet, b: ElementSet) -> bool:
    return replace(a, origin="") == replace(b, origin="")


def test_an_absent_archive_is_empty_and_reading_makes_no_file(archive: Archive) -> None:
    assert len(archive.nearest(NOW)) == 0
    assert archive.holdings(NOW).objects == 0
    assert archive.listing(NOW, Filter()) == []
    assert archive.kept(80001) == []
    assert not archive.path.exists()


def test_what_is_kept_comes_back_to_the_last_bit(archive: Archive) -> None:
    catalogue = elements.read_text(element_text(), "a file").catalogue
    added = archive.add(catalogue, NOW)
    assert (added.sets, added.new, added.new_objects, added.aside) == (2, 2, 2, "")
    back = archive.nearest(NOW, publishing=True)
    assert list(back) == list(catalogue)
    assert elements.details_of(back) == elements.details_of(catalogue)
    assert elements.tle_text(back) == element_text()


def test_real_files_twice_and_out_again(archive: Archive, real_data: Path) -> None:
    # the published text is the reference for what comes out
    catalogue = elements.read([real_data / "active_2025-09-20.tle.gz"]).catalogue
    archive.add(catalogue, NOW)
    again = archive.add(catalogue, NOW)
    assert (again.new, again.new_objects) == (0, 0)
    back = archive.every()
    order = np.argsort(catalogue.catalog_number, kind="stable")
    assert elements.tle_text(back) == elements.tle_text(catalogue.take(order))


def test_adding_again_keeps_the_first_origin_and_arrival(archive: Archive) -> None:
    archive.add(sets(0.5), NOW, "first.tle")
    archive.add(sets(0.5, 0.75), NOW + timedelta(hours=1), "second.tle")
    kept = archive.kept(80001)
    assert [one.origin for one in kept] == ["first.tle", "second.tle"]
    assert [one.arrived for one in kept] == [NOW, NOW + timedelta(hours=1)]


def test_the_same_set_as_text_and_as_message_is_one(archive: Archive) -> None:
    catalogue = elements.read_text(element_text()).catalogue
    archive.add(catalogue, NOW)
    as_message = elements.read_text(elements.omm_text(catalogue)).catalogue
    assert archive.add(as_message, NOW).new == 0


def test_names_come_with_the_newest_set_that_has_one(archive: Archive) -> None:
    archive.add(sets(2.0, name=""), NOW)
    archive.add(sets(1.0, name="OLD NAME"), NOW)
    assert archive.nearest(NOW).name == ("OLD NAME",)
    archive.add(sets(3.0, name="NEW NAME"), NOW)
    archive.add(sets(0.0, name="OLDEST NAME"), NOW)
    archive.add(sets(4.0, name=""), NOW)
    assert archive.nearest(NOW).name == ("NEW NAME",)


@given(
    days=st.lists(st.integers(0, 4000), min_size=1, max_size=8, unique=True),
    middle=st.integers(-500, 4500),
)
@example(days=[55, 91], middle=73)  # equally near: the later one
def test_the_nearest_is_what_looking_at_all_finds(
    tmp_path_factory: pytest.TempPathFactory, days: list[int], middle: int
) -> None:
    archive = Archive(tmp_path_factory.mktemp("a") / "archive.sqlite")
    every = sets(*(day / 100 for day in days))
    archive.add(every, NOW)
    when = DAY_0 + timedelta(days=middle / 100)
    ours, all_looked_at = archive.nearest(when), elements.nearest(every, when)
    assert len(ours) == 1
    assert same(ours[0], all_looked_at[0])


def test_of_two_equally_near_the_later_one(archive: Archive) -> None:
    archive.add(sets(1.0, 3.0), NOW)
    found = archive.nearest(DAY_0 + timedelta(days=2))
    assert found.epoch_fraction.tolist() == [3.0]


def test_history_is_by_epoch(archive: Archive) -> None:
    archive.add(sets(2.0, 0.5, 1.0), NOW)
    archive.add(sets(7.0, number=80002), NOW)
    assert archive.history(80001).epoch_fraction.tolist() == [0.5, 1.0, 2.0]


def test_pairs_are_successive_and_the_newest_first(archive: Archive) -> None:
    archive.add(sets(2.0, 0.5, 1.0), NOW)
    archive.add(sets(7.0, 9.0, number=80002, name="OTHER"), NOW)
    archive.add(sets(7.0, number=80003, name="ALONE"), NOW)
    older, newer = archive.pairs()
    assert older.catalog_number.tolist() == [80001, 80002, 80001]
    assert older.epoch_fraction.tolist() == [1.0, 7.0, 0.5]
    assert newer.epoch_fraction.tolist() == [2.0, 9.0, 1.0]
    assert older.name == ("DRIFTER", "OTHER", "DRIFTER")
    older, _ = archive.pairs([80002])
    assert older.catalog_number.tolist() == [80002]
    assert len(archive.pairs(most=1)[0]) == 1
    older, _ = archive.pairs(since=DAY_0 + timedelta(days=0.75))
    assert older.epoch_fraction.tolist() == [1.0, 7.0]
    older, _ = archive.pairs(until=DAY_0 + timedelta(days=1.5))
    assert older.epoch_fraction.tolist() == [0.5]


def test_forgetting_by_object_by_age_and_never_all_by_mistake(
    archive: Archive,
) -> None:
    archive.add(sets(0.5, 1.0, 2.0), NOW)
    archive.add(sets(0.25, number=80002), NOW)
    before = DAY_0 + timedelta(days=0.75)
    assert archive.would_forget([80001], before) == 1
    assert archive.forget([80001], before) == 1
    assert len(archive.history(80001)) == 2
    assert archive.forget([], before) == 1
    assert archive.holdings(NOW).objects == 1
    assert archive.nearest(DAY_0)[0].epoch_fraction == 1.0
    with pytest.raises(ValueError, match="say which"):
        archive.forget([], None)
    assert archive.forget([80001]) == 2
    assert archive.holdings(NOW).sets == 0


def test_holdings_and_listing_count_by_class_and_age(archive: Archive) -> None:
    archive.add(sets(0.5, 1.0, name="TEST STATION"), NOW)
    archive.add(sets(1.0, number=80002, name="SPENT R/B"), NOW)
    held = archive.holdings(NOW)
    assert (held.objects, held.sets) == (2, 3)
    assert held.classes == {"station": 1, "rocket body": 1}
    assert held.median_age_days == pytest.approx(0.25)
    assert held.last_arrival == NOW
    assert held.usable == 2
    late = NOW + timedelta(days=40)
    assert archive.holdings(late).usable == 0
    found = archive.listing(NOW, Filter(object_class="rocket body"))
    assert [one.catalog_number for one in found] == [80002]
    assert [o.sets for o in archive.listing(NOW, Filter(text="stat"))] == [2]
    assert [o.sets for o in archive.listing(NOW, Filter(text="80001"))] == [2]
    assert archive.listing(NOW, Filter(older_days=0.3)) == []
    assert len(archive.listing(NOW, Filter(newer_days=0.3))) == 2


def test_numbers_of_nine_digits_and_odd_names(archive: Archive) -> None:
    archive.add(sets(0.5, number=799_999_999, name="Ωmega 'quoted'; --"), NOW)
    assert archive.nearest(NOW).catalog_number.tolist() == [799_999_999]
    assert archive.nearest(NOW).name == ("Ωmega 'quoted'; --",)


def test_more_sets_than_one_statement_takes(archive: Archive) -> None:
    many = sets(*(i / 100 for i in range(1234)))
    assert archive.add(many, NOW).new == 1234
    assert len(archive.every()) == 1234
    assert archive.add(many, NOW).new == 0


def test_sources_are_remembered_with_what_they_sent(archive: Archive) -> None:
    assert archive.source("club") == SourceState(name="club")
    state = SourceState(
        name="club",
        url="https://example.org/x",
        asked=NOW,
        answered=NOW,
        validators={"etag": '"a"'},
        wait_until=NOW + timedelta(hours=1),
    )
    archive.add_fetched(sets(0.5), state, NOW)
    assert archive.source("club") == state
    assert archive.kept(80001)[0].origin == "https://example.org/x"


@given(st.integers(-(10**15), 4 * 10**15))
def test_times_survive(microseconds: int) -> None:
    assert to_us(from_us(microseconds)) == microseconds


def test_epochs_are_the_elements_own() -> None:
    catalogue = sets(0.5, 0.123456789)
    for row, epoch in enumerate(epochs_us(catalogue).tolist()):
        exact = catalogue[row].epoch
        assert abs(from_us(epoch) - exact) <= timedelta(microseconds=1)
