"""Element sets of a request from the archive: the right ones, the others counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from passes.archive import Archive
from passes.elements import as_catalogue
from passes.errors import NothingToSearch, UnknownName
from passes.forecast import Request
from passes.forecast.kept import decayed
from passes.forecast.supply import Supply
from passes.model import Span
from passes.testing.elements import element_sets

DAY_0 = datetime(2031, 10, 11, tzinfo=UTC)
STATION = element_sets()[0]


def window(days: float) -> Span:
    start = DAY_0 + timedelta(days=days)
    return Span(start=start, end=start + timedelta(hours=10))


@pytest.fixture
def supply(tmp_path: Path) -> Supply:
    """An archive with a history of one object, an old set, and one soon gone."""
    path = tmp_path / "kept.sqlite"
    sets = [replace(STATION, epoch_fraction=float(day)) for day in (0, 5, 20)]
    sets.append(replace(STATION, catalog_number=80002, epoch_fraction=-29.0))
    # an orbit of 150 km with a thick drag term is down within a day
    sinking = replace(
        STATION,
        catalog_number=80003,
        name="SINKER",
        epoch_fraction=0.0,
        mean_motion_rad_min=STATION.mean_motion_rad_min * 16.45 / 15.5,
        bstar=0.01,
    )
    Archive(path).add(as_catalogue([*sets, sinking]), DAY_0)
    return Supply(Request(archive=path), None)


def test_the_set_nearest_to_the_window_serves_it(supply: Supply) -> None:
    for days, wanted in ((1.0, 0.0), (3.0, 5.0), (11.0, 5.0), (40.0, 20.0)):
        found = supply.catalogue(window(days))
        row = found.catalog_number.tolist().index(80001)
        assert found.epoch_fraction[row] == wanted


def test_without_a_set_within_thirty_days_an_object_is_left_out_and_counted(
    supply: Supply,
) -> None:
    early = supply.catalogue(window(0.5))
    assert 80002 in early.catalog_number
    late = supply.catalogue(window(2.0))
    assert 80002 not in late.catalog_number
    (left,) = [one for one in late.skipped if one.catalog_number == 80002]
    assert "31 days away" in left.reason
    nothing = supply.catalogue(window(90.0))
    assert len(nothing) == 0
    assert len(nothing.skipped) == 3


def test_what_has_decayed_is_left_out_and_counted(supply: Supply) -> None:
    assert 80003 in supply.catalogue(window(0.0)).catalog_number
    later = supply.catalogue(window(4.0))
    assert 80003 not in later.catalog_number
    (left,) = [one for one in later.skipped if one.catalog_number == 80003]
    assert "decayed" in left.reason


def test_before_its_epoch_nothing_has_decayed(supply: Supply) -> None:
    everything = as_catalogue(element_sets())
    up, fallen = decayed(everything, window(-20.0))
    assert up.all()
    assert fallen == []


def test_history_and_names_come_from_the_archive(supply: Supply) -> None:
    assert [s.epoch_fraction for s in supply.history(80001)] == [0.0, 5.0, 20.0]
    named = supply.catalogue(window(1.0), ("SINKER",))
    assert 80001 not in named.catalog_number
    with pytest.raises(UnknownName):
        supply.catalogue(window(1.0), ("NOBODY",))


def test_an_empty_archive_says_what_to_do(tmp_path: Path) -> None:
    empty = Supply(Request(archive=tmp_path / "none.sqlite"), None)
    with pytest.raises(NothingToSearch, match="passes elements add FILE") as told:
        empty.catalogue(window(0.0))
    assert len(str(told.value).splitlines()) == 1
