"""What the invented scenario promises, held against skyfield alone.

Nothing of the project's engine computes here: positions, shadow, Sun, Moon and the
ellipsoid are skyfield's.  The times of transits and crossings are the scenario's own.
"""

from importlib.resources import files

import numpy as np
import pytest
from demo_sky import DEMO, STEP_S, Minute, Place, records, table, utc
from sgp4.io import verify_checksum
from skyfield.api import EarthSatellite, Star, load
from skyfield.jpllib import SpiceKernel

from passes.config import read_rigs, read_sites
from passes.objects import object_class, read_sizes, read_standard_table, size_of

MOON_RADIUS_KM = 1737.4

#: Transits of 80001 promised to the north site: body, time to the minute, and how
#: near (km) the centre line runs to the site.
TRANSITS = (
    ("moon", "2029-03-20T18:22:00", 2.0),
    ("sun", "2029-03-21T12:43:00", 20.0),
    ("moon", "2029-03-21T12:45:00", 20.0),
    ("sun", "2029-03-27T09:49:00", 50.0),
    ("sun", "2029-03-28T15:33:00", 100.0),
    ("sun", "2029-03-29T14:48:00", 100.0),
)
#: Crossings of the deep-sky field: object, time (UTC), whether it is lit.
CROSSINGS = (
    (80031, "2029-03-17T20:03:14", True),
    (80120, "2029-03-17T20:12:37", True),
    (80011, "2029-03-17T20:21:05", True),
    (80012, "2029-03-17T20:37:40", True),
    (80021, "2029-03-17T20:52:30", True),
    (80013, "2029-03-17T21:30:20", False),
    (80108, "2029-03-17T22:25:42", False),
    (80022, "2029-03-17T23:10:00", False),
    (80124, "2029-03-18T00:19:35", False),
    (80044, "2029-03-18T00:46:00", True),
)


@pytest.fixture(scope="module")
def ts():
    return load.timescale(builtin=True)


@pytest.fixture(scope="module")
def ephemeris():
    kernel = SpiceKernel(str(files("skyfield_data") / "data" / "de421.bsp"))
    yield kernel
    kernel.close()


@pytest.fixture(scope="module")
def objects(ts):
    """Every object of the scenario by number, as skyfield reads it."""
    sets = records((DEMO / "elements.tle").read_text(encoding="ascii"))
    found = [EarthSatellite(one, two, name, ts) for name, one, two in sets]
    return {satellite.model.satnum: satellite for satellite in found}


@pytest.fixture(scope="module")
def plan():
    return table("session.toml")


@pytest.fixture(scope="module")
def north(ts, ephemeris):
    return Place("quillmoor", ts, ephemeris)


@pytest.fixture(scope="module")
def south(ts, ephemeris):
    return Place("emberpan", ts, ephemeris)


# --- the sets ------------------------------------------------------------------------


def check_invented(sets, first, prefix):
    numbers = [int(one[2:7]) for _, one, _ in sets]
    assert numbers == sorted(set(numbers))
    assert numbers[0] == first
    for name, one, two in sets:
        verify_checksum(one, two)
        assert len(one) == len(two) == 69
        assert one[2:7] == two[2:7]
        assert name.startswith(prefix)
        assert len(name) <= 24


def test_the_sets_are_whole_and_invented(objects):
    sets = records((DEMO / "elements.tle").read_text(encoding="ascii"))
    check_invented(sets, 80001, "DEMO ")
    kinds = object_class([name for name, _, _ in sets])
    assert kinds.count("station") == 2
    assert kinds.count("rocket body") == 8
    assert kinds.count("debris") == 4
    circular = [s for n, s in objects.items() if 80101 <= n <= 80160]
    assert len(circular) == 60
    assert len({round(s.model.nodeo, 3) for s in circular}) == 6
    revolutions = [s.model.no_kozai * 1440.0 / (2.0 * np.pi) for s in objects.values()]
    assert sum(r < 6.0 for r in revolutions) == 6


def test_the_sets_are_at_most_a_day_older_than_the_clock(objects):
    clock = table("scenario.toml")["clock"]
    ages = [clock - s.epoch.utc_datetime() for s in objects.values()]
    assert min(ages).total_seconds() > 0.0
    assert max(ages).total_seconds() < 86400.0


def test_the_script_still_makes_the_sets(root, monkeypatch, objects):
    monkeypatch.syspath_prepend(root / "fixtures" / "build")
    import make_demo

    made = {orbit.number: orbit for orbit in make_demo.objects()}
    assert made.keys() == objects.keys()
    for number, orbit in made.items():
        # The Earth's turn is predicted: a later table moves nodes by a few ″.
        turn = np.radians(orbit.raan) - objects[number].model.nodeo
        assert abs(np.sin(turn)) < 2e-4
        assert objects[number].name == orbit.name


def test_the_readmes_first_night_is_whole_and_invented(fixtures):
    text = (fixtures / "elements" / "first_night.tle").read_text(encoding="ascii")
    sets = records(text)
    check_invented(sets, 81001, "SAMPLE ")
    assert len(sets) > 60
    kinds = object_class([name for name, _, _ in sets])
    assert {"station", "rocket body", "payload", "debris"} == set(kinds)


# --- places, rigs, plan --------------------------------------------------------------


def test_places_rigs_and_plan_belong_together(plan):
    scenario = table("scenario.toml")
    sites = read_sites(table("sites.toml"), "sites.toml")
    rigs = read_rigs(table("rigs.toml"), "rigs.toml")
    assert scenario["site"] in sites
    assert sites["quillmoor"].latitude_deg > 0 > sites["emberpan"].latitude_deg
    assert [bool(s.horizon) for s in sites.values()] == [True, False]
    assert set(rigs) == {"long", "wide", "field"}
    assert rigs["long"].mount.follows_satellites
    assert rigs["wide"].mount.kind == "fixed"
    assert plan["session"]["rig"] in rigs
    assert plan["session"]["site"] in sites


def test_magnitudes_and_sizes_can_be_read():
    text = (DEMO / "magnitudes.csv").read_text(encoding="utf-8")
    rows = read_standard_table(text, "magnitudes.csv")
    assert not rows.problems
    assert {row.source for row in rows.rows} == {"invented"}
    sizes = read_sizes((DEMO / "sizes.csv").read_text(encoding="utf-8"))
    assert size_of(80001, "DEMO STATION", sizes).length_m > 100.0


@pytest.mark.parametrize("where", ["north", "south"])
def test_the_night_has_full_darkness(where, request):
    place = request.getfixturevalue(where)
    dark_h = np.count_nonzero(place.sun_deg < -18.0) * STEP_S / 3600.0
    assert dark_h > 8.0
    assert place.sun_deg[0] > -2.0
    assert place.sun_deg[-1] > -12.0


# --- passes --------------------------------------------------------------------------


def test_the_station_passes_high_over_the_north_until_the_ridge_hides_it(
    north, objects
):
    (altitude, _, lit, sun, _), seen = next(north.visible(objects[80001]))
    assert altitude[seen].max() > 65.0
    assert -12.0 < sun[altitude.argmax()] < -7.0
    hidden = np.flatnonzero(lit & ~seen)
    assert hidden.size * STEP_S >= 30.0
    assert hidden.min() > np.flatnonzero(seen).max()
    assert 15.0 < altitude[hidden[0]] < 25.0


def test_its_next_pass_ends_in_the_shadow_above_the_horizon(north, objects):
    first, ((altitude, _, lit, _, _), seen) = north.visible(objects[80001])
    assert first[0][-1][0] < 2.2 * 3600.0
    last = np.flatnonzero(seen)[-1]
    assert not lit[last + 1 :].any()
    assert 16.0 < altitude[last] < 30.0
    assert seen.sum() * STEP_S >= 80.0


def test_the_other_station_leaves_the_shadow_in_the_norths_morning(north, objects):
    (((altitude, _, lit, _, _), seen),) = north.visible(objects[80002])
    assert not lit[0]
    assert altitude[np.flatnonzero(seen)[0]] > 25.0


def test_the_south_has_a_high_pass_and_one_into_the_shadow(south, objects):
    high, shadow = south.visible(objects[80002])
    (altitude, _, lit, sun, _), seen = high
    assert altitude[seen].max() > 70.0
    assert lit.all()
    assert sun[altitude.argmax()] < -6.5
    (altitude, _, lit, _, _), seen = shadow
    last = np.flatnonzero(seen)[-1]
    assert not lit[last + 1 :].any()
    assert altitude[last] > 14.0


@pytest.mark.parametrize(
    ("where", "numbers", "least_deg"),
    [
        ("north", (80011, 80012, 80015, 80017, 80031), 60.0),
        ("south", (80013, 80014, 80016, 80031), 45.0),
    ],
)
def test_bright_objects_pass_well_over_both_sites(
    where, numbers, least_deg, request, objects
):
    place = request.getfixturevalue(where)
    for number in numbers:
        best = max(one[0][seen].max() for one, seen in place.visible(objects[number]))
        assert best > least_deg


@pytest.mark.parametrize("where", ["north", "south"])
@pytest.mark.parametrize("number", [80041, 80042])
def test_two_objects_never_set(where, number, request, objects):
    place = request.getfixturevalue(where)
    (one,) = place.passes(objects[number])
    assert len(one[0]) == place.sun_deg.size
    assert one[0].min() > 25.0


def test_ten_fly_in_file(north, objects):
    tops = []
    for number in range(80201, 80211):
        (altitude, _, _, _, time_s), seen = next(north.visible(objects[number]))
        assert altitude[seen].max() > 60.0
        tops.append(time_s[altitude.argmax()])
    assert tops == sorted(tops)
    assert 40.0 <= tops[-1] - tops[0] <= 70.0


def test_one_object_is_lost_while_it_is_up(north, objects):
    position = objects[80051].at(north.times)
    refused = np.array([message is not None for message in position.message])
    last = np.flatnonzero(~refused)[-1]
    assert refused[last + 1 :].all()
    altitude = (objects[80051] - north.site).at(north.times[last]).altaz()[0].degrees
    assert altitude > 20.0
    assert north.sun_deg[last] < -6.0


# --- the deep-sky field --------------------------------------------------------------


def test_the_field_stands_well_all_session(ts, ephemeris, north, plan):
    session, target = plan["session"], plan["target"]
    length_s = session["subs"] * (session["exposure_s"] + session["gap_s"])
    start = ts.from_datetime(session["start"])
    times = start + np.linspace(0.0, length_s / 86400.0, 50)
    here = (ephemeris["earth"] + north.site).at(times)
    star = Star(ra_hours=target["ra_deg"] / 15.0, dec_degrees=target["dec_deg"])
    assert here.observe(star).apparent().altaz()[0].degrees.min() > 45.0
    sun = here.observe(ephemeris["sun"]).apparent().altaz()[0].degrees
    assert sun.max() < -18.0


@pytest.mark.parametrize(("number", "when", "lit"), CROSSINGS)
def test_objects_cross_the_field(
    number, when, lit, ts, ephemeris, north, plan, objects
):
    rig = read_rigs(table("rigs.toml"), "rigs.toml")[plan["session"]["rig"]]
    t = ts.from_datetime(utc(when))
    earth = ephemeris["earth"]
    sight = (earth + north.site).at(t).observe(earth + objects[number])
    ra, dec, _ = sight.radec()
    ra0, dec0 = (np.radians(plan["target"][k]) for k in ("ra_deg", "dec_deg"))
    turn = ra.radians - ra0
    # Tangent plane (gnomonic projection, textbook).
    depth = np.sin(dec0) * np.sin(dec.radians)
    depth += np.cos(dec0) * np.cos(dec.radians) * np.cos(turn)
    x = np.cos(dec.radians) * np.sin(turn) / depth
    y = np.cos(dec0) * np.sin(dec.radians)
    y = (y - np.sin(dec0) * np.cos(dec.radians) * np.cos(turn)) / depth
    half_deg = 0.5 * rig.scale_arcsec_px / 3600.0
    assert abs(np.degrees(x)) < half_deg * rig.width_px
    assert abs(np.degrees(y)) < half_deg * rig.height_px
    assert bool(objects[number].at(t).is_sunlit(ephemeris)) is lit
    since_s = (utc(when) - plan["session"]["start"]).total_seconds()
    session = plan["session"]
    assert 0 < since_s < session["subs"] * (session["exposure_s"] + session["gap_s"])


# --- transits ------------------------------------------------------------------------


@pytest.mark.parametrize(("body", "when", "near_km"), TRANSITS)
def test_the_station_crosses_sun_and_moon_near_the_north_site(
    body, when, near_km, ts, ephemeris, north, objects
):
    minute = Minute(body, when, ts, ephemeris, north.site, objects[80001])
    assert minute.altitude_deg.min() > 20.0
    assert minute.miss_km() < near_km
    days = (utc(when) - table("scenario.toml")["clock"]).total_seconds() / 86400.0
    assert 0.0 < days < 14.0


def test_one_transit_of_the_moon_is_seen_from_the_site_itself(
    ts, ephemeris, north, objects
):
    body, when, _ = TRANSITS[0]
    minute = Minute(body, when, ts, ephemeris, north.site, objects[80001])
    a, b = (p.xyz.km / p.distance().km for p in (minute.disc, minute.station))
    apart = np.linalg.norm(b - a, axis=0)
    i = int(apart.argmin())
    # A straight path between samples: nearest approach of the chord.
    before, after = (b - a)[:, i - 1], (b - a)[:, i + 1]
    run = after - before
    part = np.clip(-(before @ run) / (run @ run), 0.0, 1.0)
    radius = MOON_RADIUS_KM / minute.disc.distance().km[i]
    assert np.linalg.norm(before + part * run) < 0.5 * radius
