"""Transits against published cases, the formulas of the trade, and skyfield alone.

Published (typed in): two spacecraft together in front of the Sun on 2009-05-13, south
of Cape Canaveral, 600 km away: 0.8 s, from a band 5.6 km wide (T. Legault's account,
and NASA's picture of the day).  A station in front of the Sun on 2010-05-16 at Madrid
from 354 km up: 0.54 s (the same).  Formulas: t = D / ω with ω = v/d,
width across the line of sight 2 d tan(D/2) (common practice; worked for three
heights).

``tests/benchmarks/compare_transits.py`` holds fourteen days at two sites against
skyfield; here are days in which something crosses.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import asin, cos, degrees, radians, sin, sqrt, tan

import numpy as np
import pytest
from brute_crossings import Sky, angle_deg
from one_satellite import moments, planets, timescale
from skyfield.api import EarthSatellite
from transit_brute import passings

pytest.importorskip("passes_plugins.transits")

from passes import sky, strip, vectors
from passes.config import Config
from passes.constants import (
    EARTH_MU_KM3_S2,
    EARTH_RADIUS_KM,
    MOON_RADIUS_KM,
    SUN_RADIUS_KM,
)
from passes.crossings import search_crossings
from passes.elements import Catalogue, make_satrec
from passes.forecast import Request, build
from passes.model import LineOfSight, Site
from passes.registry import Registry
from passes_plugins.transits.finding import find
from passes_plugins.transits.line import Line
from passes_plugins.transits.nearest import nearest
from passes_plugins.transits.seen import see
from passes_plugins.transits.strips import site_at
from passes_plugins.transits.wanted import Wanted

RADII = {"moon": MOON_RADIUS_KM, "sun": SUN_RADIUS_KM}
ARCSEC_DEG = 1.0 / 3600.0
#: What is promised: edges to a millisecond, places to an arcsecond.
EDGE_S, PLACE_DEG = 1e-3, ARCSEC_DEG
#: A closest approach is flat: what a thousandth of an arcsecond is worth of time.
CLOSEST_S = 2e-3


@pytest.fixture(scope="module")
def services():
    request = Request(demo=True)
    made = build(request, Registry.from_entry_points(), Config())
    return made.for_plugin("transits")


@pytest.fixture(scope="module")
def found(services):
    """Every transit of the demo's station within a day's drive, thirteen days."""
    until = datetime(2029, 3, 30, tzinfo=UTC)
    return find(services, Wanted(reach_km=100.0, until=until)).events


# --- the formulas ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("height_km", "printed_s", "printed_km"),
    [(400.0, 0.485, 3.72), (420.0, 0.510, 3.91), (550.0, 0.673, 5.12)],
)
def test_worked_durations_and_widths(height_km, printed_s, printed_km):
    """Overhead, over an Earth that does not turn, D = 0.5331° (worked values)."""
    half = radians(0.5331 / 2.0)
    speed = sqrt(EARTH_MU_KM3_S2 / (EARTH_RADIUS_KM + height_km))
    # the third was worked with a rounded speed
    assert 2 * half * height_km / speed == pytest.approx(printed_s, rel=3e-3)
    object_km = np.array([EARTH_RADIUS_KM + height_km, 0.0, 0.0])
    body_km = np.array([1.496e8, 0.0, 0.0])
    radius_km = body_km[0] * sin(half)
    ground = strip.ground_km(object_km, body_km)
    side = strip.across(body_km - ground, np.array([0.0, 0.0, 1.0]))
    edges = [
        strip.ground_km(
            object_km, strip.limb_km(body_km, radius_km, ground, sign * side)
        )
        for sign in (1.0, -1.0)
    ]
    width = float(vectors.norm(edges[0] - edges[1]))
    assert width == pytest.approx(printed_km, abs=0.01)


def test_strips_of_the_demo_keep_the_formulas(found):
    """t = D/ω; the width is 2 d tan(D/2) where it crosses the line of sight."""
    assert len(found) >= 6
    for event in found:
        details, lines = event.details, event.details["strip"]
        disc = radians(details["disc_diameter_arcsec"] / 3600.0)
        rate = radians(details["angular_rate_deg_s"])
        central = lines["nearest"]["duration_s"]
        assert central == pytest.approx(disc / rate, rel=6e-3)
        across = 2.0 * details["range_km"] * tan(disc / 2.0)
        slant = across / sin(radians(details["altitude_deg"]))
        assert across * 0.99 <= lines["width_km"] <= slant * 1.01


# --- published cases ---------------------------------------------------------------


def circular(height_km, inclination_deg, count, start):
    """Invented objects in circular orbits, evenly round the pole and along it."""
    axis = EARTH_RADIUS_KM + height_km
    motion = sqrt(EARTH_MU_KM3_S2 / axis**3) * 60.0
    step = 2.0 * np.pi * np.arange(count) / count
    julian = 2440587.5 + start.timestamp() / 86_400.0
    none = np.zeros(count)
    return Catalogue(
        catalog_number=80501 + np.arange(count),
        name=tuple(f"INVENTED {i}" for i in range(count)),
        designator=("",) * count,
        epoch_jd=np.full(count, np.floor(julian) + 0.5),
        epoch_fraction=np.full(count, julian - np.floor(julian) - 0.5),
        inclination_rad=np.full(count, radians(inclination_deg)),
        raan_rad=step,
        eccentricity=np.full(count, 1e-4),
        argument_rad=none,
        mean_anomaly_rad=7.0 * step,
        mean_motion_rad_min=np.full(count, motion),
        bstar=none,
        ndot=none,
        nddot=none,
    )


def central_transits(catalogue, site, start, days):
    """Duration, range, width across the line of sight, Sun's altitude, by our lines."""
    end = start + timedelta(days=days)
    near = search_crossings(
        catalogue, site, LineOfSight.of_body("sun", radius_deg=60.0), start, end
    )
    line = Line(catalogue, "sun", site, start)
    place = np.broadcast_to(sky.site_km(site), (len(near), 3))
    points = nearest(line, near.row, near.entry.time_s, near.exit.time_s, place, 0.0)
    there = np.flatnonzero(points.distance_km < 400.0)
    rows, when = near.row[there], points.time_s[there]
    ground = points.place_km[there]
    sight = see(line, rows, when, ground)
    left, right = line.edges(rows, when[:, None], ground[:, None], 0.0)
    seen, _, _ = line.look(rows, when[:, None], ground[:, None])
    aim = vectors.unit(seen)
    apart = left - right
    across = vectors.norm(apart - aim * vectors.dot(apart, aim)[..., None])[:, 0]
    return sight, across


def test_two_spacecraft_in_front_of_the_sun_in_2009():
    """0.8 s and 5.6 km at 600 km, in an orbit like theirs over the same place."""
    cape = Site(latitude_deg=27.7, longitude_deg=-80.6)
    start = datetime(2009, 5, 12, tzinfo=UTC)
    catalogue = circular(560.0, 28.5, 40, start)
    sight, across = central_transits(catalogue, cape, start, 3.0)
    alike = (np.abs(sight.range_km - 600.0) < 12.0) & (sight.altitude_rad > 0.5)
    assert alike.sum() >= 5
    # printed to one digit; over the Earth's turning, so their speed is not all alike
    assert np.abs(np.median(sight.duration_s[alike]) - 0.8) < 0.05
    assert np.abs(across[alike] - 5.6).max() < 0.2


def test_a_station_in_front_of_the_sun_at_madrid_in_2010():
    """0.54 s from 354 km up, and not the 7.6 s that the Earth's centre would see."""
    madrid = Site(latitude_deg=40.4, longitude_deg=-3.7, height_m=650.0)
    start = datetime(2010, 5, 15, tzinfo=UTC)
    catalogue = circular(354.0, 51.6, 60, start)
    sight, _ = central_transits(catalogue, madrid, start, 3.0)
    # at 13:29 UT the Sun stood at 66° over Madrid
    alike = np.abs(np.degrees(sight.altitude_rad) - 66.0) < 4.0
    assert alike.sum() >= 3
    # the fastest and the slowest by how the orbit lies to the line of sight
    assert sight.duration_s[alike].min() < 0.54 < sight.duration_s[alike].max()
    assert np.abs(sight.duration_s[alike] - 0.54).max() < 0.1


def test_a_station_in_front_of_the_sun_at_fredericksburg_in_2020():
    """About 0.54 s (NASA Earth Observatory 146906, caption): central at 0.971°/s."""
    town = Site(latitude_deg=38.3, longitude_deg=-77.46, height_m=20.0)
    start = datetime(2020, 6, 23, tzinfo=UTC)
    catalogue = circular(420.0, 51.6, 60, start)
    sight, _ = central_transits(catalogue, town, start, 3.0)
    high = np.degrees(sight.altitude_rad) > 60.0
    assert high.sum() >= 3
    assert (
        sight.duration_s[high].min() - 0.05 < 0.54 < sight.duration_s[high].max() + 0.05
    )


# --- skyfield alone -----------------------------------------------------------------


def hold(catalogue, row, site, body, start, days, within_deg=2.0):
    """The same approaches and transits as skyfield finds; how many of each."""
    end = start + timedelta(days=days)
    satellite = EarthSatellite.from_satrec(catalogue.satrec(row), timescale())
    true = passings(satellite, site, body, RADII[body], start, days, within_deg)
    one = catalogue.take(np.array([row]))
    near = search_crossings(
        one, site, LineOfSight.of_body(body, radius_deg=within_deg), start, end
    )
    disc = search_crossings(one, site, LineOfSight.of_body(body), start, end)
    hits = [passing for passing in true if passing.closest_deg < passing.radius_deg]
    assert (len(near), len(disc)) == (len(true), len(hits))
    for i, passing in enumerate(true):
        assert near.closest.time_s[i] == pytest.approx(passing.time_s, abs=CLOSEST_S)
        assert near.closest_deg[i] == pytest.approx(passing.closest_deg, abs=PLACE_DEG)
    if not hits:
        return len(true), 0
    line = Line(one, body, site, start)
    when = np.array([passing.time_s for passing in hits])
    place = np.broadcast_to(sky.site_km(site), (when.size, 3))
    sight = see(line, np.zeros(when.size, dtype=np.int64), when, place)
    for i, passing in enumerate(hits):
        for mine in (disc.entry.time_s[i], sight.entry_s[i]):
            assert mine == pytest.approx(passing.begin_s, abs=EDGE_S)
        for mine in (disc.exit.time_s[i], sight.exit_s[i]):
            assert mine == pytest.approx(passing.end_s, abs=EDGE_S)
        offset = sight.offset_radii[i] * degrees(sight.radius_rad[i])
        assert offset == pytest.approx(passing.closest_deg, abs=PLACE_DEG)
    return len(true), len(hits)


def test_the_demo_station_as_skyfield_has_it(services):
    start = datetime(2029, 3, 20, 12, tzinfo=UTC)
    catalogue = services.catalogue(objects=("80001",))
    seen = {
        body: hold(catalogue, 0, services.site, body, start, 1.0, 3.0)
        for body in ("moon", "sun")
    }
    assert seen == {"moon": (1, 1), "sun": (0, 0)}


@pytest.mark.parametrize(
    ("number", "body", "site", "day"),
    [
        (25544, "moon", (37.1, -3.4, 1900.0), 6),
        (48274, "sun", (-30.5, 19.5, 900.0), 7),
    ],
)
def test_real_stations_as_skyfield_has_them(real_data, number, body, site, day):
    """A day of fourteen on which there is a transit (all are in the script)."""
    from benchmarks.made_catalogue import START, real_catalogue

    catalogue = real_catalogue()
    row = int(np.flatnonzero(catalogue.catalog_number == number)[0])
    latitude, longitude, height = site
    place = Site(latitude_deg=latitude, longitude_deg=longitude, height_m=height)
    start = START + timedelta(days=day)
    approaches, transits = hold(catalogue, row, place, body, start, 1.0)
    assert transits == 1
    assert approaches >= 1


def apart_deg(satellite, site, body, when):
    """Separation of a satellite from a body by skyfield, degrees, and the radius."""
    seen = Sky(site, when, size=RADII[body], body=body)
    vector, t = seen.seen(satellite, 0.0)
    toward, radius = seen.aim(t)
    return float(angle_deg(vector, toward)[0]), float(radius[0])


def closest_deg(satellite, site, body, when, around_s=0.5):
    """The least separation around a time, and the radius, by looking ever closer."""
    seen = Sky(site, when, size=RADII[body], body=body)
    middle = 0.0
    while around_s > 1e-5:
        time_s = np.linspace(middle - around_s, middle + around_s, 201)
        vector, t = seen.seen(satellite, time_s)
        toward, radius = seen.aim(t)
        away = angle_deg(vector, toward)
        middle = float(time_s[away.argmin()])
        around_s /= 50.0
    return float(away.min()), float(radius[100])


def place_of(point):
    return Site(
        latitude_deg=point["latitude_deg"],
        longitude_deg=point["longitude_deg"],
        height_m=point["height_m"],
    )


def test_sites_on_the_centre_line_see_a_central_transit(services, found):
    satellite = EarthSatellite.from_satrec(
        services.catalogue(objects=("80001",)).satrec(0), timescale()
    )
    for event in found:
        lines, body = event.details["strip"], event.details["body"]
        for point in [lines["nearest"], *lines["way_points"][::6]]:
            when = datetime.fromisoformat(point["time"])
            away, radius = closest_deg(satellite, place_of(point), body, when)
            assert away < PLACE_DEG
            printed, _ = apart_deg(satellite, place_of(point), body, when)
            # the printed time has milliseconds, in which it moves up to 4″
            assert printed < 4.0 * ARCSEC_DEG
            assert point["altitude_deg"] > 15.0
            assert radius == pytest.approx(0.26, abs=0.02)


def test_sites_on_the_edges_see_it_graze_the_limb(services, found):
    satellite = EarthSatellite.from_satrec(
        services.catalogue(objects=("80001",)).satrec(0), timescale()
    )
    event = found[0]
    lines, body = event.details["strip"], event.details["body"]
    for side in ("left", "right"):
        longitude, latitude = lines[side][len(lines[side]) // 2]
        site = Site(
            latitude_deg=latitude,
            longitude_deg=longitude,
            height_m=lines["height_m"],
        )
        away, radius = closest_deg(satellite, site, body, event.best, 20.0)
        assert abs(away - radius) < PLACE_DEG


def test_a_late_object_is_central_on_the_line_that_its_lateness_gives(services, found):
    """The epoch shifted in the elements themselves, propagated by skyfield."""
    catalogue = services.catalogue(objects=("80001",))
    event = next(one for one in found if one.details["body"] == "sun")
    late_s = 12.0
    start = event.best
    line = Line(catalogue, "sun", services.site, start)
    rows = np.zeros(1, dtype=np.int64)
    late = line.late(rows, np.array([late_s]))
    place = sky.site_km(place_of(event.details["strip"]["nearest"]))[None]
    moved = nearest(
        late, rows, np.array([late_s - 20.0]), np.array([late_s + 20.0]), place, 1.15
    )
    one = catalogue[0]
    one = replace(one, epoch_fraction=one.epoch_fraction + late_s / 86_400.0)
    satellite = EarthSatellite.from_satrec(make_satrec(one), timescale())
    site = site_at(moved.place_km[0], "UTC")
    when = start + timedelta(seconds=float(moved.time_s[0]))
    away, _ = closest_deg(satellite, site, "sun", when)
    assert away < PLACE_DEG
    # the ground turns by 351 m/s here; never more than that
    assert 0.3 < float(moved.distance_km[0]) < late_s * 0.351
    line_shift = event.details["strip"]["shift_by_time_km"] / event.timing_bound_s
    assert float(moved.distance_km[0]) / late_s == pytest.approx(line_shift, rel=0.05)


# --- Sun and Moon -------------------------------------------------------------------


def test_semi_diameters_of_the_handbook():
    """Meeus, Astronomical Algorithms, chapter 55: 959.63″ at 1 au; 358473400/Δ.

    The Moon's constant there belongs to a radius of 1737.9 km, ours is 1737.4: 0.3″.
    """
    start = datetime(1992, 4, 12, tzinfo=UTC)
    site = Site(latitude_deg=0.0, longitude_deg=0.0)
    for body, constant, unit_km in (
        ("sun", 959.63, 149_597_870.7),
        ("moon", 358_473_400.0, 1.0),
    ):
        _, far, radius = sky.body_icrs(body, site, start, np.zeros(1))
        handbook = constant * unit_km / far[0]
        assert 3600 * degrees(asin(radius / far[0])) == pytest.approx(handbook, abs=0.4)


def test_places_and_discs_as_astropy_has_them():
    """Topocentric Moon and Sun: astropy's own frames, JPL's ephemeris for both."""
    pytest.importorskip("astropy")
    from astropy import units as u
    from astropy.coordinates import EarthLocation, solar_system_ephemeris
    from astropy.coordinates import get_body_barycentric as barycentric
    from astropy.time import Time
    from astropy.utils import iers
    from skyfield_data import __file__ as package

    start = datetime(2024, 3, 20, 18, tzinfo=UTC)
    site = Site(latitude_deg=41.0, longitude_deg=-2.4, height_m=1150.0)
    where = EarthLocation.from_geodetic(-2.4 * u.deg, 41.0 * u.deg, 1150.0 * u.m)
    folder = package.rsplit("/", 1)[0]
    with (
        iers.conf.set_temp("auto_download", False),
        iers.earth_orientation_table.set(iers.IERS_B.open()),
        solar_system_ephemeris.set(f"{folder}/data/de421.bsp"),
    ):
        now = Time(start)
        here = (
            barycentric("earth", now)
            + where.get_gcrs(now).cartesian.without_differentials()
        )
        for body in ("moon", "sun"):
            light = 0.0 * u.s
            for _ in range(3):
                seen = barycentric(body, now - light) - here
                light = seen.norm() / (299792.458 * u.km / u.s)
            theirs = seen.xyz.to_value(u.km)
            mine, far, _ = sky.body_icrs(body, site, start, np.zeros(1))
            apart = vectors.separation_rad(mine[0], theirs)
            # astropy's Earth moves its pole by 10 m, ours does not
            assert degrees(float(apart)) < 0.05 * ARCSEC_DEG
            assert far[0] == pytest.approx(np.linalg.norm(theirs), abs=0.05)


def test_the_demo_moments_are_skyfields_too(found):
    """Phase angle of the Moon at a transit, by its own definition."""
    event = next(one for one in found if one.details["body"] == "moon")
    t = moments(event.best, 0.0)
    moon = planets()["earth"].at(t).observe(planets()["moon"])
    phase = moon.apparent().phase_angle(planets()["sun"]).degrees
    # from the Earth's centre: parallax changes it by up to a degree
    assert event.details["phase_angle_deg"] == pytest.approx(phase, abs=1.0)
    lit = (1.0 + cos(radians(event.details["phase_angle_deg"]))) / 2.0
    assert event.details["illuminated"] == pytest.approx(lit, abs=1e-3)
