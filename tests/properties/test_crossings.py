"""What must hold of crossings whatever the objects and the field."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from hypothesis import given, settings
from hypothesis import strategies as st

from passes import sky, vectors
from passes.crossings import choose, search, search_crossings, shift
from passes.elements import Catalogue
from passes.model import Crossing, FieldPoint, Flags, LineOfSight, Site
from passes.orbits import Propagator

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
#: A field that many objects cross within two hours.
FIELD = LineOfSight.of_field(300.0, 20.0, radius_deg=15.0)
HOURS_2 = START + timedelta(hours=2)
COLUMNS = ("closest_deg", "angular_rate_deg_s", "position_angle_deg", "altitude_deg")


@pytest.fixture(scope="module")
def catalogue():
    return made_catalogue(1500, seed=3)


def found(catalogue, line, end=HOURS_2, site=SITE):
    return search_crossings(catalogue, site, line, START, end)


def as_rows(table, number=lambda table: table.catalogue.catalog_number[table.row]):
    """Everything of a table, as comparable rows in an order of their own."""
    columns = [number(table), table.flags]
    for point in (table.entry, table.exit, table.closest):
        columns += [point.time_s, point.ra_deg, point.dec_deg]
    columns += [getattr(table, name) for name in COLUMNS]
    rows = np.column_stack(columns)
    return rows[np.lexsort((rows[:, 2], rows[:, 0]))]


fields = st.tuples(
    st.floats(0.0, 360.0), st.floats(-40.0, 89.9), st.floats(0.2, 6.0)
).map(lambda f: LineOfSight.of_field(f[0], f[1], radius_deg=f[2]))


@settings(max_examples=15)
@given(fields)
def test_a_crossing_is_in_order_in_the_field_and_above_the_horizon(catalogue, line):
    table = found(catalogue, line)
    begin, middle, end = (p.time_s for p in (table.entry, table.closest, table.exit))
    assert (begin < end).all()
    assert (np.diff(begin) >= 0.0).all()
    assert ((begin - 1e-5 <= middle) & (middle <= end + 1e-5)).all()
    assert ((begin >= 0.0) & (end <= 7200.0)).all()
    assert (table.closest_deg <= line.radius_deg + 1e-9).all()
    assert (table.altitude_deg > -1e-6).all()
    assert (table.angular_rate_deg_s > 0.0).all()
    odd = Flags.IN_FIELD_AT_START | Flags.RISES_IN_FIELD
    at_edge = separation_deg(line, table.entry) - line.radius_deg
    assert np.abs(at_edge[(table.flags & int(odd)) == 0]).max(initial=0.0) < 1e-6


def separation_deg(line, points):
    a, b = np.radians(points.dec_deg), np.radians(line.dec_deg[0])
    turn = np.radians(points.ra_deg - line.ra_deg[0])
    half = np.sin((a - b) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(turn / 2) ** 2
    return np.degrees(2 * np.arcsin(np.sqrt(half)))


@settings(max_examples=10)
@given(fields, st.floats(1.05, 3.0))
def test_a_bigger_field_holds_the_crossings_of_the_smaller(catalogue, line, factor):
    small = found(catalogue, line)
    large = found(catalogue, replace(line, radius_deg=line.radius_deg * factor))
    holds(large, small)


@settings(max_examples=10)
@given(fields, st.floats(-180.0, 180.0), st.floats(0.3, 1.0))
def test_a_disc_holds_the_crossings_of_a_frame_inside_it(catalogue, line, turn, share):
    half = np.tan(np.radians(line.radius_deg)) * 0.999
    width, height = half * share, half * np.sqrt(1.0 - share**2)
    frame = replace(
        line,
        radius_deg=np.nan,
        width_deg=float(np.degrees(2 * np.arctan(width))),
        height_deg=float(np.degrees(2 * np.arctan(height))) + 1e-3,
        position_angle_deg=turn,
    )
    holds(
        found(catalogue, replace(line, radius_deg=line.radius_deg * 1.01)),
        found(catalogue, frame),
    )


def holds(large, small):
    """Every crossing of one table lies within one of the other."""
    for i in range(len(small)):
        same = np.flatnonzero(large.row == small.row[i])
        inside = (large.entry.time_s[same] <= small.entry.time_s[i] + 2e-6) & (
            large.exit.time_s[same] >= small.exit.time_s[i] - 2e-6
        )
        assert inside.sum() == 1


@settings(max_examples=6)
@given(fields, st.integers(0, 10**6))
def test_the_order_of_objects_changes_nothing(catalogue, line, seed):
    order = np.random.default_rng(seed).permutation(len(catalogue))
    one, other = found(catalogue, line), found(catalogue.take(order), line)
    np.testing.assert_array_equal(as_rows(one), as_rows(other))


def test_the_size_of_blocks_changes_nothing(catalogue, monkeypatch):
    line = FIELD
    whole = as_rows(found(catalogue, line))
    monkeypatch.setattr(search, "_TOGETHER", 700)
    monkeypatch.setattr(search, "_ROWS", 97)
    monkeypatch.setattr(choose, "_PLACES", 500)
    monkeypatch.setattr(choose, "PART", 60)
    assert len(whole) > 50
    parts = as_rows(found(catalogue, line))
    np.testing.assert_array_equal(parts, whole)


def test_turning_the_whole_sky_about_the_pole_changes_nothing(monkeypatch):
    # the star field's own axes and the Earth's way round the Sun do not turn with it
    def still(start, time_s):
        return np.broadcast_to(np.eye(3), (*np.shape(time_s), 3, 3))

    def at_rest(start, time_s):
        return np.zeros((*np.shape(time_s), 3))

    monkeypatch.setattr(sky, "teme_to_icrs", still)
    monkeypatch.setattr(sky, "earth_velocity_km_s", at_rest)
    catalogue = made_catalogue(1500, seed=3)
    near = catalogue.take(catalogue.mean_motion_rad_min > 0.035)  # Sun, Moon turn not
    line = FIELD
    one = found(near, line)
    angle_deg = 77.0
    turned = replace(near, raan_rad=near.raan_rad + np.radians(angle_deg), satrecs=[])
    site = replace(SITE, longitude_deg=SITE.longitude_deg + angle_deg)
    other = found(turned, replace(line, ra_deg=[300.0 + angle_deg]), site=site)
    assert len(one) > 40
    a, b = as_rows(one), as_rows(other)
    for column in (3, 6, 9):  # right ascensions
        b[:, column] = (b[:, column] - angle_deg) % 360.0
    np.testing.assert_allclose(b, a, atol=2e-5)


sites = st.builds(
    Site,
    latitude_deg=st.floats(-90.0, 90.0),
    longitude_deg=st.floats(-180.0, 180.0),
    height_m=st.floats(-400.0, 5000.0),
)
#: Geometric places differ by the Earth's motion during light time, and more.
UNDECIDED_DEG = 0.03


@settings(max_examples=8)
@given(
    sites,
    st.floats(0.0, 360.0),
    st.floats(-90.0, 90.0),
    st.floats(0.5, 40.0),
    st.integers(-10, 10),
)
def test_second_by_second_inside_is_inside(site, ra_deg, dec_deg, radius_deg, days):
    objects = made_catalogue(150, seed=abs(days) + 20)
    start, span_s = START + timedelta(days=days), 1500.0
    line = LineOfSight.of_field(ra_deg, dec_deg, radius_deg=radius_deg)
    table = search_crossings(
        objects, site, line, start, start + timedelta(seconds=span_s)
    )
    time_s = np.arange(0.5, span_s)
    place, _, _ = Propagator(objects, start, fast=False).many(np.arange(150), time_s)
    away = place - sky.site_teme_km(site, start, time_s)
    turned = vectors.rotate_z(away, -sky.gmst_rad(start, time_s))
    altitude = np.degrees(np.arcsin(vectors.unit(turned) @ sky.site_axes(site)[2]))
    icrs = vectors.apply(sky.teme_to_icrs(start, time_s), away)
    toward = vectors.direction(np.radians(ra_deg), np.radians(dec_deg))
    separation = np.degrees(vectors.separation_rad(icrs, toward))
    told = np.zeros(separation.shape, dtype=bool)
    begins, ends = table.entry.time_s, table.exit.time_s
    for row, begin, end in zip(table.row, begins, ends, strict=True):
        told[row] |= (time_s >= begin) & (time_s <= end)
    room = UNDECIDED_DEG
    inside = (separation < radius_deg - room) & (altitude > room)
    outside = (separation > radius_deg + room) | (altitude < -room)
    assert not (inside & ~told).any()
    assert not (outside & told).any()


def path_of(vectors_icrs, time_s, radius_deg):
    """A path through directions at times from the start."""
    ra, dec, _ = vectors.spherical(vectors_icrs)
    return LineOfSight.of_path(
        START, time_s, np.degrees(ra), np.degrees(dec), radius_deg=radius_deg
    )


def test_a_path_along_the_moons_places_is_the_moon(catalogue):
    time_s = np.arange(0.0, 12 * 3600.0 + 1.0, 60.0)
    places, _, _ = sky.body_icrs("moon", SITE, START, time_s)
    end = START + timedelta(hours=12)
    moon = found(catalogue, LineOfSight.of_body("moon", radius_deg=2.0), end)
    path = found(catalogue, path_of(places, time_s, 2.0), end)
    assert len(moon) > 40
    # straight between two minutes, the Moon is 0.01″ off: a microsecond or so
    np.testing.assert_allclose(as_rows(path), as_rows(moon), atol=3e-3, rtol=1e-5)


def test_a_path_that_follows_an_object_keeps_it(catalogue):
    time_s = np.arange(0.0, 7201.0, 2.0)
    place, _ = Propagator(catalogue, START, fast=False).positions(3, time_s)
    away = place - sky.site_teme_km(SITE, START, time_s)
    away = vectors.apply(sky.teme_to_icrs(START, time_s), away)
    table = found(catalogue, path_of(away, time_s, 0.5))
    mine = np.flatnonzero(table.row == 3)
    turned = vectors.rotate_z(
        place - sky.site_teme_km(SITE, START, time_s), -sky.gmst_rad(START, time_s)
    )
    high = time_s[(turned @ sky.site_axes(SITE)[2]) > 5.0]
    told = np.zeros(high.shape, dtype=bool)
    for begin, end in zip(
        table.entry.time_s[mine], table.exit.time_s[mine], strict=True
    ):
        told |= (high >= begin) & (high <= end)
    assert high.size > 100
    assert told.all()


# --- objects that need care ------------------------------------------------------


def test_objects_that_fail_part_way_are_cut_there_and_reported():
    # drag that SGP4 gives up on within the window; the field is the whole sky above 20°
    catalogue = made_catalogue(120, seed=5)
    sinking = replace(catalogue, bstar=np.full(120, 0.3), satrecs=[])
    zenith = LineOfSight.of_field(330.0, 37.0, radius_deg=80.0)
    table = found(sinking, zenith, START + timedelta(hours=12))
    assert table.skipped
    propagator = Propagator(sinking, START, fast=False)
    for when in (table.entry.time_s, table.exit.time_s, table.closest.time_s):
        for row, time_s in zip(table.row.tolist(), when.tolist(), strict=True):
            error = propagator.positions(row, np.array([time_s - 1e-3, time_s + 1e-3]))[
                1
            ]
            assert not error.all()
    cut = (table.flags & int(Flags.ENDS_IN_FAILURE)) != 0
    named = {one.catalog_number for one in table.skipped}
    assert set(table.catalogue.catalog_number[table.row[cut]].tolist()) <= named


class Published:
    """An ephemeris that says what the elements say, within some hours."""

    def __init__(self, catalogue, row, hours):
        self.one, self.hours = catalogue.take([row]), hours

    def positions(self, start, time_s):
        place, _ = Propagator(self.one, start, fast=False).positions(0, time_s)
        since = time_s + (start - START).total_seconds()
        known = (since >= 0.0) & (since <= self.hours * 3600.0)
        return np.where(known[:, None], place, np.nan)


def test_places_of_ones_own_are_searched_without_elements(catalogue):
    line = FIELD
    by_elements = found(catalogue, line)
    rows = np.unique(by_elements.row)[:6]
    given = {int(row): Published(catalogue, row, 5.0) for row in rows}
    # wrong elements, so that any use of them shows
    wrong = replace(
        catalogue,
        raan_rad=np.where(
            np.isin(np.arange(len(catalogue)), rows), 0.1, catalogue.raan_rad
        ),
        satrecs=[],
        ephemerides=given,
    )
    by_places = found(wrong, line)
    a, b = as_rows(by_elements), as_rows(by_places)
    np.testing.assert_allclose(b, a, atol=2e-5)
    assert not by_places.skipped


def test_an_ephemeris_that_ends_cuts_what_it_carries(catalogue):
    line = LineOfSight.of_field(300.0, 20.0, radius_deg=60.0)
    row = int(found(catalogue, line).row[0])
    one = catalogue.take([row])
    table = found(replace(one, ephemerides={0: Published(one, 0, 1.0)}), line)
    assert table.exit.time_s.max(initial=0.0) <= 3600.0 + 2e-3
    assert "ephemeris" in table.skipped[0].reason


@pytest.mark.parametrize("late_s", [-40.0, 0.7, 25.0])
def test_lateness_is_a_later_epoch(catalogue, late_s):
    line = FIELD
    late = replace(catalogue, late_s=np.full(len(catalogue), late_s))
    moved = replace(
        catalogue,
        epoch_fraction=catalogue.epoch_fraction + late_s / 86_400.0,
        satrecs=[],
    )
    a, b = as_rows(found(late, line)), as_rows(found(moved, line))
    assert len(a) > 40
    deep = catalogue.mean_motion_rad_min < 0.028  # resonance remembers its epoch
    numbers = catalogue.catalog_number[~deep]
    a, b = (x[np.isin(x[:, 0], numbers)] for x in (a, b))
    np.testing.assert_allclose(a, b, atol=3e-5)


def test_shift_recomputes_one_crossing(catalogue):
    line = FIELD
    table = found(catalogue, line)
    late_s = 12.0
    late: Catalogue = replace(catalogue, late_s=np.full(len(catalogue), late_s))
    expected = found(late, line)
    told = 0
    for i in np.flatnonzero((table.flags == 0) & (table.closest_deg < 12.0))[:20]:
        moved = shift(record(table, i), catalogue, SITE, line, late_s)
        same = np.flatnonzero(expected.row == table.row[i])
        assert len(moved) == 1
        since = (moved.start - START).total_seconds()
        off = np.abs(expected.entry.time_s[same] - moved.entry.time_s[0] - since)
        assert off.min() < 1e-5
        told += 1
    assert told > 5


def test_shift_tells_a_miss_within_a_wider_disc(catalogue):
    line = LineOfSight.of_field(300.0, 20.0, radius_deg=0.3)
    table = found(catalogue, FIELD)
    quick = np.flatnonzero(table.angular_rate_deg_s > 0.3)
    crossing = record(table, quick[table.closest_deg[quick].argmin()])
    assert len(shift(crossing, catalogue, SITE, line, 3600.0)) == 0
    missed = shift(crossing, catalogue, SITE, line, 60.0, within_deg=20.0)
    assert len(missed) == 1
    assert missed.closest_deg[0] > 0.3


def record(table, i):
    """A bare record of one crossing of a table."""
    points = [
        FieldPoint(
            time=table.start + timedelta(seconds=float(p.time_s[i])),
            ra_deg=float(p.ra_deg[i]),
            dec_deg=float(p.dec_deg[i]),
        )
        for p in (table.entry, table.exit, table.closest)
    ]
    return Crossing(
        catalog_number=int(table.catalogue.catalog_number[table.row[i]]),
        name="",
        entry=points[0],
        exit=points[1],
        closest=points[2],
        closest_deg=float(table.closest_deg[i]),
        angular_rate_deg_s=float(table.angular_rate_deg_s[i]),
        position_angle_deg=float(table.position_angle_deg[i]),
        range_km=float(table.range_km[i]),
    )
