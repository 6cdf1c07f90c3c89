"""The traps of a search for passes, one by one, each with an object that falls in.

Those that concern fields rather than a horizon have their counterpart here: the lowest
limits (a field's lowest ray), and passes shorter than a second.
"""

from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, catalogue_of, made_catalogue
from numpy.testing import assert_allclose
from one_satellite import moments, seen_by_skyfield
from properties.brute_force import (
    columns,
    heights,
    same_bits,
    search,
    second_by_second,
    tidy,
)
from properties.test_finder import low_orbits
from sgp4.api import WGS72, Satrec

from passes import sky
from passes.elements import Catalogue
from passes.finder import block, screen
from passes.finder.frame import Frame
from passes.finder.screen import Zones
from passes.model import Flags, Site
from passes.orbits import Propagator
from passes.vectors import rotate_z

SIERRA = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
EPOCH_1949 = 2460932.25 - 2433281.5


def invented(
    revs_a_day: float,
    eccentricity: float = 0.0003,
    inclination_deg: float = 55.0,
    node_deg: float = 0.0,
    argument_deg: float = 0.0,
    anomaly_deg: float = 0.0,
    drag: float = 0.0,
) -> Satrec:
    """An invented object with its epoch at the start of the window."""
    satrec = Satrec()
    satrec.sgp4init(
        WGS72,
        "i",
        80001,
        EPOCH_1949,
        drag,
        0.0,
        0.0,
        eccentricity,
        np.radians(argument_deg),
        np.radians(inclination_deg),
        np.radians(anomaly_deg),
        revs_a_day * 2 * np.pi / 1440.0,
        np.radians(node_deg),
    )
    return satrec


def geostationary(longitude_deg: float, inclination_deg: float, **more) -> Satrec:
    """An object that keeps its longitude; at the start it crosses the equator."""
    node_deg = np.degrees(sky.gmst_rad(START, [0.0])[0]) + longitude_deg
    return invented(1.0027, 1e-5, inclination_deg, node_deg, **more)


# 1 -- a zone that begins inside the visible part


def test_a_zone_that_begins_or_ends_up_is_not_believed(monkeypatch):
    catalogue = made_catalogue(150, seed=21)
    right = search(catalogue, SIERRA, START)
    true_zones = screen.zones

    def cut(orbits, frame):
        zones = true_zones(orbits, frame)
        last = zones.last - 3
        return Zones(zones.of, np.minimum(zones.first + 3, last), last)

    monkeypatch.setattr(block, "zones", cut)
    found = search(catalogue, SIERRA, START)
    assert len(found) > 0.9 * len(right)  # a pass cut away entirely cannot be noticed
    for row, begin, finish in zip(
        found.row, found.begin_s, found.finish_s, strict=True
    ):
        mine = right.row == row
        assert np.abs(right.begin_s[mine] - begin).min() < 1e-3
        assert np.abs(right.finish_s[mine] - finish).min() < 1e-3


def test_zones_of_the_screen_begin_and_end_below(monkeypatch):
    # with the screen as it is, nothing ever needs that second look
    catalogue = made_catalogue(1500, seed=22)
    odd = []
    true_paired = block.paired

    def spied(*args):
        found, lost = true_paired(*args)
        odd.append(lost.size)
        return found, lost

    monkeypatch.setattr(block, "paired", spied)
    for limit_deg in (-5.0, 0.0, 10.0, 60.0):
        search(catalogue, SIERRA, START, limit_deg=limit_deg)
    assert sum(odd) == 0
    assert len(odd) >= 4


# 2 -- the lowest directions


@pytest.mark.parametrize("limit_deg", [-5.0, -1.0, 0.0, 0.5, 85.0])
@pytest.mark.parametrize("height_m", [-400.0, 0.0, 5000.0])
def test_lowest_and_highest_limits(limit_deg, height_m):
    site = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=height_m)
    catalogue = made_catalogue(60, seed=23)
    table = search(catalogue, site, START, 3.0, limit_deg)
    tidy(table)
    second_by_second(table, range(60), step_s=5.0)


# 3 -- the edges of the window


@pytest.fixture(scope="module")
def low() -> Catalogue:
    """One object that passes high over the site."""
    return catalogue_of([invented(15.2, inclination_deg=60.0, node_deg=180.0)])


def test_a_window_that_cuts_a_pass(low):
    whole = search(low, SIERRA, START, 24.0)
    tidy(whole)
    i = int(np.argmax(whole.culmination.altitude_deg))
    rise, top, fall = (
        points.time_s[i] for points in (whole.rise, whole.culmination, whole.set)
    )
    cases = [
        (rise - 60, rise + 0.5, "rise", Flags.UP_AT_END | Flags.CULMINATES_OUTSIDE),
        (rise - 60, top - 1, "rise", Flags.UP_AT_END | Flags.CULMINATES_OUTSIDE),
        (rise - 60, top + 1, "rise top", Flags.UP_AT_END),
        (rise + 0.5, fall - 0.5, "top", Flags.UP_AT_START | Flags.UP_AT_END),
        (top - 1, fall + 60, "top set", Flags.UP_AT_START),
        (top + 1, fall + 60, "set", Flags.UP_AT_START | Flags.CULMINATES_OUTSIDE),
        (fall - 0.5, fall + 60, "set", Flags.UP_AT_START | Flags.CULMINATES_OUTSIDE),
        (rise - 60, fall + 60, "rise top set", Flags.NONE),
    ]
    for begin, end, there, flags in cases:
        start = START + timedelta(seconds=begin)
        begin = (start - START).total_seconds()
        table = search(low, SIERRA, start, (end - begin) / 3600.0)
        tidy(table)
        assert len(table) == 1
        assert Flags(int(table.flags[0])) == flags
        for name, points, time_s in (
            ("rise", table.rise, rise),
            ("top", table.culmination, top),
            ("set", table.set, fall),
        ):
            seen = points.time_s[0] + begin
            if name in there:
                assert seen == pytest.approx(time_s, abs=1e-3)
            else:
                assert np.isnan(seen)
                assert np.isnan(points.azimuth_deg[0])


def test_just_outside_the_window_there_is_nothing(low):
    whole = search(low, SIERRA, START, 24.0)
    for begin_s, end_s in zip(
        whole.set.time_s[:-1], whole.rise.time_s[1:], strict=True
    ):
        start = START + timedelta(seconds=begin_s + 0.01)
        span_s = end_s - begin_s - 0.02
        assert len(search(low, SIERRA, start, span_s / 3600.0)) == 0


# 4 -- objects that SGP4 refuses


def sinking(drag: float, count: int = 40) -> Catalogue:
    """Invented objects on their last day, all the way round."""
    return catalogue_of(
        [
            invented(
                16.44,
                0.0008,
                52.0,
                node_deg=360.0 * i / count,
                anomaly_deg=77.0 * i,
                drag=drag,
            )
            for i in range(count)
        ]
    )


def test_objects_that_fail_part_way_are_cut_there_and_reported():
    cut = 0
    for drag in (1.0e-3, 1.5e-3, 3.0e-3, 4.0e-3):
        catalogue = sinking(drag, 120)
        table = search(catalogue, SIERRA, START, limit_deg=0.0)
        tidy(table)
        cut_rows = table.row[(table.flags & Flags.ENDS_IN_FAILURE) != 0]
        second_by_second(table, [*range(0, 120, 20), *cut_rows.tolist()])
        assert {entry.name for entry in table.skipped} == set(catalogue.name)
        for entry in table.skipped:
            assert "followed from" in entry.reason or "SGP4 cannot" in entry.reason
        propagator = Propagator(catalogue, START)
        for i in np.flatnonzero((table.flags & Flags.ENDS_IN_FAILURE) != 0):
            cut += 1
            assert table.flags[i] & Flags.DECAYING
            assert np.isnan(table.set.time_s[i])
            row, end_s = int(table.row[i]), table.finish_s[i]
            _, error = propagator.positions(row, [end_s, end_s + 0.002])
            assert error[0] == 0
            assert error[1] != 0
    assert cut >= 3


def test_what_has_come_down_does_not_fly_again():
    # SGP4 refuses these on their eighteenth day, for a while, and then gives places
    # again, of no meaning
    satrecs = [invented(15.65, 1e-4, 43.0, 60.0 * i, drag=0.01) for i in range(6)]
    catalogue = catalogue_of(satrecs)
    time_s = np.arange(0.0, 20 * 86_400.0, 60.0)
    for row in range(6):
        fails = Propagator(catalogue, START).positions(row, time_s)[1] != 0
        assert (fails[:-1] & ~fails[1:]).any()
    table = search(catalogue, SIERRA, START, 20 * 24.0)
    tidy(table)
    assert len(table.skipped) == 6
    second_by_second(table, range(6), step_s=20.0)


def test_objects_that_fail_at_once_are_reported():
    catalogue = sinking(5e-2)
    table = search(catalogue, SIERRA, START + timedelta(hours=12))
    assert len(table) == 0
    assert len(table.skipped) == len(catalogue)
    assert len({entry.reason for entry in table.skipped}) == 1
    assert "SGP4 cannot place it" in table.skipped[0].reason
    assert table.skipped[3].catalog_number == 80001


def test_a_decayed_place_is_no_pass():
    # code 6 goes with places that are plausible, inside the Earth
    satrec = invented(17.6, 0.0001)  # 30 km below the ground, or so
    position = np.array(satrec.sgp4(2460932.5, 0.25)[1])
    assert satrec.sgp4(2460932.5, 0.25)[0] == 6
    assert np.isfinite(position).all()
    table = search(catalogue_of([satrec]), SIERRA, START, limit_deg=-30.0)
    assert len(table) == 0
    assert "decayed" in table.skipped[0].reason


@pytest.mark.parametrize(
    ("change", "value"),
    [
        ("eccentricity", np.nan),
        ("mean_motion_rad_min", 0.0),
        ("mean_motion_rad_min", np.nan),
        ("bstar", np.inf),
        ("epoch_jd", np.nan),
        ("eccentricity", 1.2),
        ("inclination_rad", np.nan),
    ],
)
def test_elements_that_are_no_numbers_are_reported(change, value):
    from dataclasses import replace

    catalogue = made_catalogue(20, seed=3)
    column = getattr(catalogue, change).copy()
    column[4] = value
    broken = replace(catalogue, **{change: column}, satrecs=[])
    table = search(broken, SIERRA, START)
    assert [entry.catalog_number for entry in table.skipped] == [80005]
    rest = np.delete(np.arange(20), 4)
    others = search(catalogue.take(rest), SIERRA, START)
    np.testing.assert_array_equal(table.begin_s, others.begin_s)


def test_sinking_objects_are_flagged():
    table = search(sinking(2e-4), SIERRA, START)
    assert len(table)
    assert ((table.flags & Flags.DECAYING) != 0).all()
    calm = search(made_catalogue(100, seed=2), SIERRA, START)
    assert ((calm.flags & Flags.DECAYING) != 0).mean() < 0.05


# 5 -- passes without a rise, a set or a top, and with several tops


def test_up_all_night_with_and_without_a_top():
    both = Flags.UP_AT_START | Flags.UP_AT_END
    # an inclined one swings north and south: within six hours of the equator, going
    # north, it has its top; the first six hours after that it only sinks
    table = search(catalogue_of([geostationary(-3.0, 8.0)]), SIERRA, START, 10.0)
    tidy(table)
    assert table.flags.tolist() == [both]
    assert np.isfinite(table.culmination.time_s[0])
    start = START + timedelta(hours=7)
    table = search(catalogue_of([geostationary(-3.0, 8.0)]), SIERRA, start, 9.0)
    tidy(table)
    assert table.flags.tolist() == [both | Flags.CULMINATES_OUTSIDE]
    assert np.isnan(table.rise.time_s[0])
    assert np.isnan(table.culmination.time_s[0])
    assert np.isnan(table.set.time_s[0])
    assert (table.begin_s[0], table.finish_s[0]) == (0.0, 9 * 3600.0)


def test_several_tops_in_one_pass():
    # half-day orbits with the apogee over the north
    satrecs = [
        invented(2.006, 0.72, 63.4, node_deg=10.0 * i, argument_deg=270.0)
        for i in range(36)
    ]
    catalogue = catalogue_of(satrecs)
    table = search(catalogue, SIERRA, START, 24.0)
    tidy(table)
    assert table.further_of.size >= 3
    time_s = np.arange(0.0, 86_401.0, 10.0)
    for row in range(0, 36, 3):
        sine = heights(catalogue, [row], SIERRA, START, time_s, 10.0)[0]
        peak = (sine[1:-1] > sine[:-2]) & (sine[1:-1] >= sine[2:]) & (sine[1:-1] > 0)
        mine = np.flatnonzero(table.row == row)
        tops = np.concatenate(
            [
                table.culmination.time_s[mine],
                table.further.time_s[np.isin(table.further_of, mine)],
            ]
        )
        tops = np.sort(tops[np.isfinite(tops)])
        assert_allclose(tops, time_s[1:-1][peak], rtol=0, atol=10.0)


# 6 -- the cusp at the zenith, and very low objects


def test_through_the_zenith():
    # the site is put under the object's track
    catalogue = catalogue_of([invented(15.6, inclination_deg=70.0)])
    when_s = 900.0
    position, _ = Propagator(catalogue, START).positions(0, when_s)
    x, y, z = rotate_z(position, -sky.gmst_rad(START, [when_s]))[0]
    flat = np.degrees(np.arctan2(z, np.hypot(x, y)))
    site = Site(
        latitude_deg=flat + 0.19 * np.sin(2 * np.radians(flat)),
        longitude_deg=np.degrees(np.arctan2(y, x)),
    )
    table = search(catalogue, site, START, 1.0)
    assert len(table) == 1
    assert table.culmination.altitude_deg[0] > 89.5
    assert table.culmination.time_s[0] == pytest.approx(when_s, abs=1.0)
    around = table.culmination.time_s[0] + np.array([-0.02, 0.0, 0.02])
    low, top, high = heights(catalogue, [0], site, START, around, 10.0)[0]
    assert top > low
    assert top > high


def test_no_top_of_a_very_low_object_is_lost():
    catalogue = low_orbits(30)
    time_s = np.arange(0.0, 6 * 3600.0 + 1.0)
    table = search(catalogue, SIERRA, START, 6.0, 2.0)
    count = 0
    for row in range(30):
        sine = heights(catalogue, [row], SIERRA, START, time_s, 2.0)[0]
        peak = (sine[1:-1] > sine[:-2]) & (sine[1:-1] >= sine[2:]) & (sine[1:-1] > 0)
        tops = table.culmination.time_s[table.row == row]
        tops = tops[np.isfinite(tops)]
        assert_allclose(tops, time_s[1:-1][peak], rtol=0, atol=1.0)
        count += tops.size
    assert count > 15
    assert table.further_of.size == 0


# 7 -- flat tops


def test_flat_tops_are_as_high_as_anything_near_them():
    everything = made_catalogue(1500, seed=25)
    deep = everything.take(everything.mean_motion_rad_min < 2 * np.pi / 225)
    table = search(deep, SIERRA, START)
    topped = np.flatnonzero(np.isfinite(table.culmination.time_s))
    assert topped.size > 20
    for i in topped:
        top_s = table.culmination.time_s[i]
        # the height is a sine with 1e-15 of rounding in it, and flat
        for aside_s in (0.2, 2.0, 20.0):
            sides = top_s + np.array([-aside_s, 0.0, aside_s])
            row = int(table.row[i])
            low, top, high = heights(deep, [row], SIERRA, START, sides, 10.0)[0]
            assert top > max(low, high) - 1e-13


# 8 -- definitions


def test_neither_light_time_nor_refraction_is_in_it(low):
    table = search(low, SIERRA, START, 24.0)
    satellite, place = seen_by_skyfield(low, 0, SIERRA)
    risen = table.rise.time_s[np.isfinite(table.rise.time_s)]
    seen = (satellite - place).at(moments(START, risen))
    assert_allclose(seen.altaz()[0].degrees, 10.0, rtol=0, atol=1e-5)
    # with refraction it would stand a twelfth of a degree higher
    air = seen.altaz(temperature_C=10.0, pressure_mbar=1010.0)[0].degrees
    assert (air > 10.05).all()


# 9 -- the turning of the Earth, tabled


def test_the_tabled_turn_is_the_skys():
    end = START + timedelta(days=14)
    frame = Frame.of(SIERRA, START, end, 10.0)
    rng = np.random.default_rng(4)
    time_s = rng.uniform(-9000.0, 14 * 86400.0 + 9000.0, 4000)
    position_km = rng.normal(0.0, 20_000.0, (4000, 3))
    line = rotate_z(position_km, -sky.gmst_rad(START, time_s)) - sky.site_km(SIERRA)
    expected = line @ sky.site_axes(SIERRA).T
    assert_allclose(frame.look(position_km, time_s).T, expected, rtol=0, atol=1e-6)


# 10 is held in tests/authorities: times against roots, completeness against
# find_events.


# 11 -- shorter than a second


def test_passes_that_last_a_moment(low):
    table = search(low, SIERRA, START, 24.0)
    for i, top_deg in enumerate(table.culmination.altitude_deg):
        for below_deg, longest_s in ((1e-3, 12.0), (1e-5, 1.2), (2e-7, 0.2)):
            grazed = search(low, SIERRA, START, 24.0, top_deg - below_deg)
            tidy(grazed)
            near = np.abs(grazed.culmination.time_s - table.culmination.time_s[i]) < 1.0
            assert near.sum() == 1
            length_s = (grazed.finish_s - grazed.begin_s)[near][0]
            assert 0.0 < length_s < longest_s
            inside = grazed.begin_s[near][0] + length_s * np.array([-0.2, 0.5, 1.2])
            sine = heights(low, [0], SIERRA, START, inside, grazed.min_altitude_deg)[0]
            assert (sine > 0.0).tolist() == [False, True, False]
        missed = search(low, SIERRA, START, 24.0, top_deg + 2e-5)
        assert (
            np.abs(missed.culmination.time_s - table.culmination.time_s[i]) > 1
        ).all()


def test_a_dip_below_the_limit_that_lasts_a_moment():
    # a half-day orbit with two tops, and a limit just above the dip between them
    satrecs = [
        invented(2.006, 0.72, 63.4, node_deg=10.0 * i, argument_deg=270.0)
        for i in range(36)
    ]
    catalogue = catalogue_of(satrecs)
    table = search(catalogue, SIERRA, START, 24.0)
    i = int(table.further_of[0])
    row = int(table.row[i])
    tops = np.sort([table.culmination.time_s[i], table.further.time_s[0]])
    time_s = np.arange(tops[0], tops[1], 0.25)
    sine = heights(catalogue, [row], SIERRA, START, time_s, 0.0)[0]
    dip_deg = np.degrees(np.arcsin(sine.min()))
    one = catalogue.take([row])
    for above_deg, passes in ((-1e-6, 1), (1e-6, 2)):
        cut = search(one, SIERRA, START, 24.0, dip_deg + above_deg)
        tidy(cut)
        within = (cut.finish_s > tops[0]) & (cut.begin_s < tops[1])
        assert within.sum() == passes


def test_the_comparison_itself_can_fail():
    catalogue = made_catalogue(40, seed=1)
    table = search(catalogue, SIERRA, START)
    assert set(columns(table)) >= {"row", "rise.time_s", "further.range_km"}
    with pytest.raises(AssertionError):
        same_bits(table, table.take(np.arange(len(table))[::-1]))
    short = table.take(np.arange(1, len(table)))
    with pytest.raises(AssertionError, match="missed"):
        second_by_second(short, [int(table.row[0])])
