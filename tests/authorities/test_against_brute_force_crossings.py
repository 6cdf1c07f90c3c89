"""Crossings against looking everywhere with skyfield, and each edge against its root.

Authority: skyfield's ``(earth + site).at(t).observe(earth + satellite)``, an
independent implementation of light time, frames and the Earth's motion.
``tests/benchmarks/compare_crossings.py`` does the same at length for 500 objects.
"""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue, real_catalogue
from brute_crossings import EarthSatellite, Sky, stays, timescale
from one_satellite import planets
from tolerances import CROSSING_S

from passes.constants import MOON_RADIUS_KM, SUN_RADIUS_KM
from passes.crossings import search_crossings
from passes.model import Flags, LineOfSight, Site

HIGH = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
NORTH = Site(latitude_deg=68.4, longitude_deg=22.0, height_m=300.0)
CUT = int(Flags.IN_FIELD_AT_START | Flags.IN_FIELD_AT_END)

#: Site, RA, Dec and size (radius, or width, height, angle) of fields among the stars.
FIELDS = {
    "high": (HIGH, 300.0, 40.0, 6.0),
    "at the horizon": (HIGH, 275.0, -52.0, 4.0),
    "a frame at the horizon": (HIGH, 275.0, -50.0, (6.0, 4.0, 20.0)),
    "near the pole": (NORTH, 37.0, 89.3, 5.0),
    "the geostationary belt": (HIGH, 300.0, -6.0, 3.0),
    "a turned frame": (HIGH, 310.0, 20.0, (3.0, 2.0, 25.0)),
}


def line_of(ra_deg, dec_deg, size):
    if isinstance(size, float):
        return LineOfSight.of_field(ra_deg, dec_deg, radius_deg=size)
    names = ("width_deg", "height_deg", "position_angle_deg")
    return LineOfSight.of_field(ra_deg, dec_deg, **dict(zip(names, size, strict=True)))


def satellite(catalogue, row):
    return EarthSatellite.from_satrec(catalogue.satrec(row), timescale())


@pytest.mark.parametrize("name", FIELDS)
def test_nothing_is_missed_and_nothing_invented(name, real_data):
    site, ra_deg, dec_deg, size = FIELDS[name]
    whole = real_catalogue()
    some = np.random.default_rng(4).choice(len(whole), 30, replace=False)
    catalogue = whole.take(np.sort(some))
    hours = 1.0
    end = START + timedelta(hours=hours)
    table = search_crossings(
        catalogue, site, line_of(ra_deg, dec_deg, size), START, end
    )
    sky = Sky(site, START, ra_deg=ra_deg, dec_deg=dec_deg, size=size)
    for row in range(len(catalogue)):
        true = stays(sky, satellite(catalogue, row), hours * 3600.0)
        mine = np.flatnonzero(table.row == row)
        assert len(true) == mine.size, catalogue.name[row]
        for stay, i in zip(true, mine, strict=True):
            assert stay.begin_s == pytest.approx(table.entry.time_s[i], abs=CROSSING_S)
            assert stay.end_s == pytest.approx(table.exit.time_s[i], abs=CROSSING_S)


def edges_agree(table, sky, most=40):
    """Entries and exits change sign within a millisecond; how many were looked at."""
    order = np.random.default_rng(1).permutation(len(table))[:most]
    for i in order:
        one = satellite(table.catalogue, table.row[i])
        ends = [(table.entry.time_s[i], 1), (table.exit.time_s[i], -1)]
        flags = Flags(int(table.flags[i]))
        keep = [
            Flags.IN_FIELD_AT_START not in flags,
            Flags.IN_FIELD_AT_END not in flags,
        ]
        for (time_s, way), wanted in zip(ends, keep, strict=True):
            if wanted:
                before, after = sky.inside(one, time_s + np.array([-1, 1]) * CROSSING_S)
                assert before * way > 0.0 > after * way
    return order.size


@pytest.mark.parametrize("name", FIELDS)
def test_entry_and_exit_are_roots_to_a_millisecond(name):
    site, ra_deg, dec_deg, size = FIELDS[name]
    catalogue = made_catalogue(3000, seed=11)
    end = START + timedelta(hours=3)
    table = search_crossings(
        catalogue, site, line_of(ra_deg, dec_deg, size), START, end
    )
    stays_s = table.exit.time_s - table.entry.time_s
    table = table.take(np.flatnonzero(stays_s > 4 * CROSSING_S))
    sky = Sky(site, START, ra_deg=ra_deg, dec_deg=dec_deg, size=size)
    assert edges_agree(table, sky) >= 10


@pytest.mark.parametrize(
    ("body", "radius_km"), [("moon", MOON_RADIUS_KM), ("sun", SUN_RADIUS_KM)]
)
def test_entry_and_exit_of_a_bodys_own_disc(body, radius_km):
    catalogue = made_catalogue(6000, seed=12)
    end = START + timedelta(hours=24)
    table = search_crossings(catalogue, HIGH, LineOfSight.of_body(body), START, end)
    sky = Sky(HIGH, START, size=radius_km, body=body)
    assert edges_agree(table, sky) >= 10
    t = sky.coarse(1.0)[1][0]
    seen = sky.here.at(t).observe(planets()[body])
    true_deg = np.degrees(np.arcsin(radius_km / seen.distance().km))
    assert table.radius_deg[0] == pytest.approx(true_deg, rel=0.03)  # within the day


def test_what_is_said_of_the_closest_approach():
    site, ra_deg, dec_deg, size = FIELDS["high"]
    catalogue = made_catalogue(3000, seed=11)
    end = START + timedelta(hours=3)
    table = search_crossings(
        catalogue, site, line_of(ra_deg, dec_deg, size), START, end
    )
    sky = Sky(site, START, ra_deg=ra_deg, dec_deg=dec_deg, size=size)
    free = np.flatnonzero(table.flags == 0)[:25]
    assert free.size > 15
    for i in free:
        one = satellite(catalogue, table.row[i])
        time_s = table.closest.time_s[i]
        # the separation is least there, to what a difference over 0.2 s can tell
        beside = sky.outside(one, time_s + np.array([-0.1, 0.0, 0.1])) + size
        assert beside[1] <= min(beside[0], beside[2])
        # frames agree to 1e-9 rad, curves to millimetres: 0.004″ in all
        assert table.closest_deg[i] == pytest.approx(beside[1], abs=1e-6)
        seen, t = sky.seen(one, time_s + np.array([-0.05, 0.0, 0.05]))
        away = seen / np.linalg.norm(seen, axis=0)
        ra = np.degrees(np.arctan2(away[1], away[0])) % 360.0
        dec = np.degrees(np.arcsin(away[2]))
        assert table.closest.ra_deg[i] == pytest.approx(ra[1], abs=1e-6)
        assert table.closest.dec_deg[i] == pytest.approx(dec[1], abs=1e-6)
        east = (ra[2] - ra[0]) * np.cos(np.radians(dec[1]))
        north = dec[2] - dec[0]
        rate = np.hypot(east, north) / 0.1
        assert table.angular_rate_deg_s[i] == pytest.approx(rate, rel=1e-3)
        angle = np.degrees(np.arctan2(east, north))
        turn = (table.position_angle_deg[i] - angle + 180.0) % 360.0 - 180.0
        assert abs(turn) < 0.1
        altitude, azimuth, distance = (one - sky.place).at(t[1]).altaz()
        assert table.altitude_deg[i] == pytest.approx(altitude.degrees, abs=1e-6)
        assert table.azimuth_deg[i] == pytest.approx(azimuth.degrees, abs=1e-5)
        assert table.range_km[i] == pytest.approx(distance.km, abs=1e-4)


def test_a_late_object_against_skyfield_with_a_later_epoch():
    # authority: the same elements with an epoch that much later, by the sgp4 package
    site, ra_deg, dec_deg, size = FIELDS["high"]
    plain = made_catalogue(2000, seed=13)
    plain = plain.take(plain.mean_motion_rad_min > 0.035)
    late_s = 20.0
    late = replace(plain, late_s=np.full(len(plain), late_s))
    end = START + timedelta(hours=2)
    table = search_crossings(late, site, line_of(ra_deg, dec_deg, size), START, end)
    later = replace(
        plain, epoch_fraction=plain.epoch_fraction + late_s / 86_400.0, satrecs=[]
    )
    sky = Sky(site, START, ra_deg=ra_deg, dec_deg=dec_deg, size=size)
    assert edges_agree(replace(table, catalogue=later), sky, 15) >= 10
