"""Stays in fields on straight lines, whose times are known in closed form."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.crossings import search_crossings
from passes.crossings.aim import Aim
from passes.crossings.curves import PADS, Curves, astrometric_km
from passes.crossings.events import closest_s, stays
from passes.elements import as_catalogue
from passes.errors import InputError, UnknownName
from passes.model import Flags, LineOfSight, Site

START = datetime(2025, 9, 13, 18, 0, tzinfo=UTC)
SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
STEP_S, COUNT = 30.0, 4
SPAN_S = STEP_S * COUNT


def aim_of(line):
    return Aim(line, SITE, START, SPAN_S)


def straight(place, velocity, height=1000.0, climb=0.0):
    """Curves of one object on a straight line, at ``place`` (km) after a minute."""
    time_s = STEP_S * (np.arange(COUNT + PADS) - 2)
    seen = np.array(place)[:, None] + np.array(velocity)[:, None] * (time_s - 60.0)
    seen = np.concatenate([seen, [height + climb * (time_s - 60.0)]])
    one = np.ones(1)
    none = np.zeros(1, dtype=np.int64)
    return Curves(
        seen,
        np.zeros((3, time_s.size)),
        none,
        none,
        0.0 * one,
        STEP_S * one,
        none + COUNT,
        0.0 * one,
        SPAN_S * one,
        none + int(Flags.IN_FIELD_AT_START),
        none + int(Flags.IN_FIELD_AT_END),
    )


def only(curves, line):
    found, unsure = stays(curves, aim_of(line))
    assert not unsure.size
    return found


def test_a_disc_is_entered_and_left_where_geometry_says():
    # 1000 km away along x, 5 km beside the centre, 7.5 km/s across
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=1.0)
    found = only(straight((1000.0, 0.0, 5.0), (0.0, 7.5, 0.0)), line)
    half = np.sqrt((1000.0 * np.tan(np.radians(1.0))) ** 2 - 25.0) / 7.5
    np.testing.assert_allclose(found.begin_s, [60.0 - half], atol=2e-6)
    np.testing.assert_allclose(found.end_s, [60.0 + half], atol=2e-6)
    closest = closest_s(straight((1000.0, 0.0, 5.0), (0, 7.5, 0)), aim_of(line), found)
    np.testing.assert_allclose(closest, [60.0], atol=1e-5)


@given(st.floats(1e-4, 0.3), st.floats(-1.0, 1.0))
def test_a_graze_of_milliseconds_is_found_between_two_looks(half_s, shift_s):
    speed, radius = 7.5, np.radians(0.5)
    edge = 1000.0 * np.tan(radius)
    beside = np.sqrt(edge**2 - (speed * half_s) ** 2)
    begun = (1000.0, -speed * shift_s, beside)
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=0.5)
    found = only(straight(begun, (0.0, speed, 0.0)), line)
    assert found.begin_s.size == 1
    # double precision of the square of a thousand kilometres decides the shortest
    tolerance = 2e-6 + 1e-8 / half_s
    assert found.begin_s[0] == pytest.approx(60.0 + shift_s - half_s, abs=tolerance)
    assert found.end_s[0] == pytest.approx(60.0 + shift_s + half_s, abs=tolerance)


@given(st.floats(1e-4, 2.0))
def test_the_corner_of_a_rectangle_is_cut_for_as_short_as_you_like(half_s):
    # up is north: the corner (up, east) is cut on a line that falls at 45 degrees
    line = LineOfSight.of_field(0.0, 0.0, width_deg=3.0, height_deg=2.0)
    corner = 1000.0 * np.tan(np.radians([1.5, 1.0]))
    speed = 5.0
    inward = speed * half_s
    place = (1000.0, corner[0] - inward, corner[1] - inward)
    velocity = (0.0, speed, -speed)
    found = only(straight(place, velocity), line)
    assert found.begin_s.size == 1
    assert found.begin_s[0] == pytest.approx(60.0 - half_s, abs=3e-6)
    assert found.end_s[0] == pytest.approx(60.0 + half_s, abs=3e-6)


def test_a_frame_turned_by_its_position_angle_has_its_long_side_there():
    # width 3 along the horizontal; up at position angle 90 (east), so width is north
    line = LineOfSight.of_field(
        0.0, 0.0, width_deg=3.0, height_deg=1.0, position_angle_deg=90.0
    )
    north = only(straight((1000.0, 0.0, 0.0), (0.0, 0.0, 1.0)), line)
    east = only(straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0)), line)
    half = 1000.0 * np.tan(np.radians([1.5, 0.5]))
    np.testing.assert_allclose((north.end_s - north.begin_s) / 2, [half[0]], atol=1e-5)
    np.testing.assert_allclose((east.end_s - east.begin_s) / 2, [half[1]], atol=1e-5)


def test_what_rises_or_sets_inside_is_cut_there_and_says_so():
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=1.0)
    up = straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0), height=1.0, climb=0.2)
    found = only(up, line)
    np.testing.assert_allclose(found.begin_s, [55.0], atol=2e-6)
    assert Flags(int(found.flags[0])) == Flags.RISES_IN_FIELD
    down = straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0), height=1.0, climb=-0.2)
    found = only(down, line)
    np.testing.assert_allclose(found.end_s, [65.0], atol=2e-6)
    assert Flags(int(found.flags[0])) == Flags.SETS_IN_FIELD
    below = straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0), height=-1.0)
    assert not only(below, line).begin_s.size


def test_what_stays_all_the_time_is_clipped_to_the_window():
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=5.0)
    found = only(straight((1000.0, 0.0, 0.0), (0.0, 0.1, 0.0)), line)
    assert (found.begin_s[0], found.end_s[0]) == (0.0, SPAN_S)
    assert Flags(int(found.flags[0])) == Flags.IN_FIELD_AT_START | Flags.IN_FIELD_AT_END


def test_what_is_behind_is_not_in_the_field():
    line = LineOfSight.of_field(180.0, 0.0, radius_deg=3.0)
    assert not only(straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0)), line).begin_s.size
    frame = LineOfSight.of_field(180.0, 0.0, width_deg=3.0, height_deg=3.0)
    assert not only(straight((1000.0, 0.0, 0.0), (0.0, 1.0, 0.0)), frame).begin_s.size


def test_a_path_is_carried_along_great_circles_between_its_places():
    line = LineOfSight.of_path(
        START, np.array([0.0, 60.0, 120.0]), [0.0, 2.0, 2.0], [0.0] * 3, radius_deg=1.0
    )
    direction, radius = aim_of(line).look(np.array([0.0, 30.0, 90.0]))
    angle = np.degrees(np.arctan2(direction[:, 1], direction[:, 0]))
    np.testing.assert_allclose(angle, [0.0, 1.0, 2.0], atol=1e-4)
    np.testing.assert_allclose(radius, np.radians(1.0))
    assert aim_of(line).corners_s().tolist() == [60.0]


@pytest.mark.parametrize("slew_s", [0.3, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("start_s", [48.0, 60.0, 61.3])
def test_a_path_that_swings_past_an_object_crosses_it(slew_s, start_s):
    # from 20° on one side to 20° on the other between two looks, then away and back
    times = np.array([0.0, start_s, start_s + slew_s, 80.0, 80.0 + slew_s, 120.0])
    angle = np.array([-20.0, -20.0, 20.0, 20.0, -21.0, -21.0])
    line = LineOfSight.of_path(START, times, angle, np.full(6, 0.1), radius_deg=0.5)
    found = only(straight((1000.0, 0.0, 0.0), (0.0, 0.01, 0.0)), line)
    fine = np.concatenate([np.arange(t, t + slew_s, 1e-4) for t in (start_s, 80.0)])
    toward, radius = aim_of(line).look(fine)
    place = np.stack([0 * fine + 1000.0, 0.01 * (fine - 60.0), 0 * fine], axis=1)
    away = np.arccos((toward * place).sum(axis=1) / np.linalg.norm(place, axis=1))
    inside = fine[away < radius]
    cut = np.flatnonzero(np.diff(inside) > 1.0)
    assert cut.size == 1
    np.testing.assert_allclose(
        found.begin_s, [inside[0], inside[cut[0] + 1]], rtol=0, atol=2e-4
    )
    np.testing.assert_allclose(
        found.end_s, [inside[cut[0]], inside[-1]], rtol=0, atol=2e-4
    )


def test_a_path_bounds_the_window():
    line = LineOfSight.of_path(
        START + timedelta(seconds=20),
        np.array([0.0, 60.0]),
        [0, 1],
        [0, 0],
        radius_deg=1,
    )
    aim = aim_of(line)
    assert (aim.begin_s, aim.end_s) == (20.0, 80.0)
    late = LineOfSight.of_path(
        START + timedelta(days=1), np.array([0.0, 60.0]), [0, 1], [0, 0], radius_deg=1
    )
    with pytest.raises(InputError, match="outside the window"):
        aim_of(late)


def test_light_time_and_the_earths_motion_by_hand():
    # 3000 km along x: 10.007 ms; 7 km/s across: 70 m; 30 km/s of the Earth: 300 m
    seen = astrometric_km(
        np.array([[3000.0], [0.0], [0.0]]), np.array([[0.0], [7.0], [30.0]])
    )
    light_s = 3000.0 / 299_792.458
    np.testing.assert_allclose(
        seen[:, 0], [3000.0, -7 * light_s, -30 * light_s], rtol=1e-6
    )


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"radius_deg": 95.0}, "half the sky"),
        ({"radius_deg": 1.0, "dec_deg": [95.0]}, "declinations"),
        ({"radius_deg": 1.0, "ra_deg": None, "dec_deg": None}, "right ascension"),
        ({"radius_deg": 1.0, "time_s": [0.0, 0.0], "start": START}, "must rise"),
        ({"radius_deg": 1.0, "time_s": [0.0, 5.0]}, "from which"),
    ],
)
def test_fields_that_make_no_sense_are_refused(fields, words):
    some = {"ra_deg": [1.0], "dec_deg": [2.0]} | fields
    if "time_s" in fields:
        some |= {"ra_deg": [1.0, 2.0], "dec_deg": [1.0, 2.0]}
    with pytest.raises(InputError, match=words):
        aim_of(LineOfSight(**some))


def test_windows_and_bodies_that_make_no_sense_are_refused():
    none = as_catalogue([])
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=1.0)
    with pytest.raises(InputError, match="no zone"):
        search_crossings(none, SITE, line, START.replace(tzinfo=None), START)
    with pytest.raises(InputError, match="must last"):
        search_crossings(none, SITE, line, START, START)
    with pytest.raises(UnknownName, match="no body named 'pluto'"):
        aim_of(LineOfSight.of_body("pluto"))


def test_nothing_to_search_gives_an_empty_table():
    line = LineOfSight.of_field(0.0, 0.0, radius_deg=1.0)
    done = []
    table = search_crossings(
        as_catalogue([]),
        SITE,
        line,
        START,
        START + timedelta(hours=1),
        progress=lambda *step: done.append(step),
    )
    assert len(table) == 0
    assert len(table.take(np.empty(0, dtype=np.int64))) == 0
    assert done == [(0, 0)]
