"""What is true of every search: complete, in order, and the same however it is cut."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from properties.brute_force import same_bits, search, second_by_second, tidy

from passes.elements import Catalogue
from passes.errors import InputError
from passes.finder import search as search_module
from passes.finder import search_passes
from passes.model import Flags, Site

SIERRA = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
sites = st.builds(
    Site,
    latitude_deg=st.floats(-90.0, 90.0),
    longitude_deg=st.floats(-180.0, 180.0),
    height_m=st.floats(-400.0, 5000.0),
)
limits = st.floats(-5.0, 85.0)
#: Rise and set of the same pass found in two ways.
SAME_S = 1e-3

has_heyoka = pytest.mark.skipif(
    find_spec("heyoka") is None, reason="heyoka is not installed"
)
few = settings(
    max_examples=12, suppress_health_check=[HealthCheck.too_slow], deadline=None
)


@few
@given(sites, limits, st.integers(0, 10_000), st.floats(0.05, 8.0))
@example(Site(latitude_deg=90.0, longitude_deg=0.0), 10.0, 1, 6.0)
@example(Site(latitude_deg=-90.0, longitude_deg=0.0), -5.0, 2, 6.0)
@example(Site(latitude_deg=0.0, longitude_deg=-78.0), 0.0, 3, 6.0)
def test_second_by_second(site, limit_deg, seed, hours):
    catalogue = made_catalogue(25, seed=seed)
    table = search(catalogue, site, START, hours, limit_deg)
    tidy(table)
    second_by_second(table, range(25))


def test_every_kind_of_orbit_second_by_second():
    catalogue = made_catalogue(90, seed=17)
    table = search(catalogue, SIERRA, START, 12.0)
    tidy(table)
    assert second_by_second(table, range(90)) > 50_000


def test_lowest_orbits_second_by_second():
    # sub-grids coarser than 15 s lose the tops of very low objects
    catalogue = low_orbits()
    table = search(catalogue, SIERRA, START, 12.0, 5.0)
    tidy(table)
    assert len(table) > 60
    assert second_by_second(table, range(len(catalogue))) > 5000


def low_orbits(count: int = 60, drag: float = 0.0) -> Catalogue:
    """Invented orbits between 150 and 250 km."""
    axis_km = 6378.137 + np.linspace(150.0, 250.0, count)
    angle = np.linspace(0.0, 2 * np.pi, count)
    return Catalogue(
        catalog_number=np.arange(80001, 80001 + count),
        name=tuple(f"LOW {i}" for i in range(count)),
        designator=("",) * count,
        epoch_jd=np.full(count, 2460932.0),
        epoch_fraction=np.full(count, 0.25),
        inclination_rad=np.linspace(0.6, 1.9, count),
        raan_rad=5 * angle,
        eccentricity=np.full(count, 1e-4),
        argument_rad=3 * angle,
        mean_anomaly_rad=7 * angle,
        mean_motion_rad_min=60 * np.sqrt(398600.4418 / axis_km**3),
        bstar=np.full(count, drag),
        ndot=np.zeros(count),
        nddot=np.zeros(count),
    )


@few
@given(sites, st.integers(0, 1000), st.integers(1, 60))
def test_blocks_change_nothing(site, seed, size):
    catalogue = made_catalogue(60, seed=seed)
    whole = search(catalogue, site, START, 6.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(search_module, "_MOST_OBJECTS", size)
        same_bits(search(catalogue, site, START, 6.0), whole)


@has_heyoka
@pytest.mark.parametrize("size", [8000, 37])
def test_heyoka_finds_the_same(monkeypatch, size):
    # it solves Kepler's equation for several objects at once until the last of them
    # has settled, so an object's last bit hangs on its neighbours
    catalogue = made_catalogue(1000, seed=19)
    plain = search(catalogue, SIERRA, START)
    monkeypatch.setattr(search_module, "_MOST_OBJECTS", size)
    quick = search(catalogue, SIERRA, START, fast=True)
    assert_array_equal(plain.row, quick.row)
    assert_array_equal(plain.flags, quick.flags)
    assert_allclose(plain.begin_s, quick.begin_s, rtol=0, atol=1e-6)
    assert_allclose(plain.finish_s, quick.finish_s, rtol=0, atol=1e-6)


@few
@given(st.permutations(range(40)), st.integers(0, 1000))
def test_order_changes_nothing(order, seed):
    catalogue = made_catalogue(40, seed=seed)
    whole = search(catalogue, SIERRA, START, 6.0)
    moved = search(catalogue.take(np.array(order)), SIERRA, START, 6.0)
    back = np.array(order)[moved.row]
    again = np.lexsort((moved.begin_s, back))
    assert_array_equal(back[again], whole.row)
    for name in ("begin_s", "finish_s", "flags"):
        assert_array_equal(getattr(moved, name)[again], getattr(whole, name))


def test_one_object_alone_is_as_in_company():
    catalogue = made_catalogue(200, seed=6)
    whole = search(catalogue, SIERRA, START)
    for row in range(0, 200, 7):
        alone = search(catalogue.take(np.array([row])), SIERRA, START)
        assert_array_equal(alone.begin_s, whole.begin_s[whole.row == row])
        assert_array_equal(alone.finish_s, whole.finish_s[whole.row == row])


@few
@given(sites, limits, st.floats(0.02, 0.98), st.integers(0, 1000))
def test_two_windows_make_one(site, limit_deg, share, seed):
    catalogue = made_catalogue(50, seed=seed)
    whole = search(catalogue, site, START, 6.0, limit_deg)
    middle_s = 6.0 * 3600.0 * share
    middle = START + timedelta(seconds=middle_s)
    middle_s = (middle - START).total_seconds()
    first = search_passes(catalogue, site, START, middle, min_altitude_deg=limit_deg)
    second = search_passes(
        catalogue, site, middle, whole.end, min_altitude_deg=limit_deg
    )
    cut = (first.flags & Flags.UP_AT_END) != 0
    taken_up = (second.flags & Flags.UP_AT_START) != 0
    assert_array_equal(first.row[cut], second.row[taken_up])
    begin = np.concatenate([first.begin_s, second.begin_s[~taken_up] + middle_s])
    end = np.concatenate([first.finish_s[~cut], second.finish_s + middle_s])
    assert_allclose(np.sort(begin), np.sort(whole.begin_s), rtol=0, atol=SAME_S)
    assert_allclose(np.sort(end), np.sort(whole.finish_s), rtol=0, atol=SAME_S)


@few
@given(sites, st.floats(-5.0, 60.0), st.floats(0.5, 20.0), st.integers(0, 1000))
def test_a_higher_limit_lies_within(site, limit_deg, more_deg, seed):
    catalogue = made_catalogue(40, seed=seed)
    low = search(catalogue, site, START, 6.0, limit_deg)
    high = search(catalogue, site, START, 6.0, limit_deg + more_deg)
    for row, begin, finish in zip(high.row, high.begin_s, high.finish_s, strict=True):
        around = (low.row == row) & (low.begin_s <= begin) & (low.finish_s >= finish)
        assert around.sum() == 1


@few
@given(st.floats(-300.0, 300.0), st.integers(0, 1000))
def test_late_is_the_same_orbit_later(late_s, seed):
    # near the Earth SGP4 knows no Sun and no Moon: a later epoch is all
    catalogue = made_catalogue(40, seed=seed)
    near = catalogue.take(catalogue.mean_motion_rad_min > 2 * np.pi / 220)
    count = len(near)
    late = replace(near, late_s=np.full(count, late_s))
    epoch = near.epoch_fraction + late_s / 86400.0
    later = replace(near, epoch_fraction=epoch, satrecs=[])
    one, other = search(late, SIERRA, START, 6.0), search(later, SIERRA, START, 6.0)
    assert_array_equal(one.row, other.row)
    assert_allclose(one.begin_s, other.begin_s, rtol=0, atol=1e-4)
    assert_allclose(one.finish_s, other.finish_s, rtol=0, atol=1e-4)
    punctual = search(near, SIERRA, START, 6.0)
    if abs(late_s) > 1.0 and len(punctual):
        assert not np.array_equal(one.begin_s, punctual.begin_s)


def test_a_minute():
    catalogue = made_catalogue(3000, seed=2)
    table = search(catalogue, SIERRA, START, 1 / 60)
    tidy(table)
    up = np.unique(table.row)
    assert up.size > 50
    assert second_by_second(table, [*up[:40], *range(0, 3000, 100)]) > 1000
    # most are up throughout: no rise, no set
    throughout = Flags.UP_AT_START | Flags.UP_AT_END
    assert ((table.flags & throughout) == throughout).sum() > 20


def test_a_fortnight():
    catalogue = made_catalogue(40, seed=11)
    table = search(catalogue, SIERRA, START, 14 * 24.0)
    tidy(table)
    second_by_second(table, range(40), step_s=20.0)
    # the last day as found from its own start
    last_day = START + timedelta(days=13)
    alone = search(catalogue, SIERRA, last_day, 24.0)
    risen = table.rise.time_s[table.rise.time_s > 13 * 86400.0] - 13 * 86400.0
    there = np.sort(alone.rise.time_s[np.isfinite(alone.rise.time_s)])
    assert_allclose(np.sort(risen), there, rtol=0, atol=SAME_S)


def test_nothing_to_search():
    empty = made_catalogue(1).take(np.array([], dtype=int))
    table = search(empty, SIERRA, START)
    assert len(table) == 0
    assert table.skipped == ()
    assert table.rise.time_s.shape == table.further.time_s.shape == (0,)


def test_element_sets_will_do():
    catalogue = made_catalogue(5, seed=3)
    one = search(catalogue, SIERRA, START)
    other = search(list(catalogue), SIERRA, START)
    same_bits(one, other)
    assert len(other.catalogue) == 5


def test_the_table_is_in_utc_and_knows_what_was_asked():
    catalogue = made_catalogue(5, seed=3)
    table = search(catalogue, SIERRA, START, 2.0, 20.0)
    assert (table.start, table.min_altitude_deg) == (START, 20.0)
    assert table.end == START + timedelta(hours=2)
    assert table.site is SIERRA
    assert table.start.tzinfo is UTC


def test_taking_passes():
    everything = made_catalogue(800, seed=1)
    deep = everything.take(everything.mean_motion_rad_min < 2 * np.pi / 225)
    table = search(deep, SIERRA, START, 48.0)
    tidy(table)
    assert table.further_of.size > 5
    # every second one, backwards, and so that some with further tops stay
    chosen = np.arange(len(table))[::-2]
    some = table.take(chosen)
    assert_array_equal(some.row, table.row[chosen])
    assert_array_equal(some.set.time_s, table.set.time_s[chosen])
    assert some.further_of.size
    for place, i in enumerate(chosen):
        assert_array_equal(
            some.further.time_s[some.further_of == place],
            table.further.time_s[table.further_of == i],
        )
    first = table.row == table.row[0]
    assert len(table.take(first)) == first.sum()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"end": START}, "must last more than"),
        ({"end": START - timedelta(hours=1)}, "must last more than"),
        ({"end": START + timedelta(days=500)}, "at most 400 days"),
        ({"start": datetime(2025, 9, 13)}, "no zone"),
        ({"end": datetime(2025, 9, 14)}, "no zone"),
        ({"min_altitude_deg": 90.0}, "impossible"),
        ({"min_altitude_deg": float("nan")}, "impossible"),
        ({"min_altitude_deg": -31.0}, "impossible"),
        ({"processes": 0}, "at least one"),
    ],
)
def test_what_makes_no_sense_is_refused(change, words):
    asked = {"start": START, "end": START + timedelta(hours=1), **change}
    start, end = asked.pop("start"), asked.pop("end")
    with pytest.raises(InputError, match=words):
        search_passes(made_catalogue(1), SIERRA, start, end, **asked)
