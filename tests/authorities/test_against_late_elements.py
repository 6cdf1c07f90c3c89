"""A measured lateness against skyfield with the epoch shifted by it.

An object that is late is where its elements put it that much earlier: the same as
elements whose epoch is that much later (up to what Sun and Moon do in the meantime,
which SGP4 knows of deep-space objects alone).
"""

from dataclasses import replace

import flights
import numpy as np
import pytest
from one_satellite import seen_by_skyfield, timescale
from skyfield.searchlib import find_discrete

from passes.elements import read
from passes.model import LineOfSight

LATE_S = 75.0
LIMIT_DEG = 10.0


def shifted_satellite(late_s=LATE_S):
    """The station and the place for skyfield, its epoch shifted."""
    catalogue = read([flights.ELEMENTS]).catalogue.take([0])
    fraction = catalogue.epoch_fraction + late_s / 86400.0
    moved = replace(catalogue, epoch_fraction=fraction, satrecs=[])
    return seen_by_skyfield(moved, 0, flights.SITE)


def rises_and_sets():
    """Skyfield's, to a millisecond, seconds from the start."""
    satellite, place = shifted_satellite()

    def above(moment):
        return (satellite - place).at(moment).altaz()[0].degrees > LIMIT_DEG

    above.step_days = 1.0 / 1440.0
    window = [timescale().from_datetime(t) for t in (flights.START, flights.END)]
    times, _ = find_discrete(*window, above, epsilon=1e-4 / 86400.0)
    return np.array([(t.utc_datetime() - flights.START).total_seconds() for t in times])


@pytest.fixture(scope="module")
def late():
    return flights.services(objects=("80001",), late_by_s=LATE_S)


def test_passes(late):
    found = late.passes()
    ours = [
        (moment.time - flights.START).total_seconds()
        for one in found
        for moment in (one.rise, one.set)
    ]
    want = rises_and_sets()
    assert len(want) == len(ours) == 12
    np.testing.assert_allclose(ours, want, rtol=0, atol=1.5e-3)
    assert all("lateness_applied" in one.flags for one in found)
    # and they are not simply the other ones a little later: the Earth has turned
    plain = flights.services(objects=("80001",)).passes()
    apart = [
        (one.culmination.time - other.culmination.time).total_seconds() - LATE_S
        for one, other in zip(found, plain, strict=True)
    ]
    assert max(np.abs(apart)) > 0.5


def test_tracks(late):
    passage = late.passes()[1]
    track = late.track(passage, 5.0)
    assert "lateness_applied" in track.flags
    satellite, place = shifted_satellite()
    moments = timescale().utc(
        track.start.year,
        track.start.month,
        track.start.day,
        track.start.hour,
        track.start.minute,
        track.start.second + track.start.microsecond * 1e-6 + track.time_s,
    )
    altitude, azimuth, distance = (satellite - place).at(moments).altaz()
    np.testing.assert_allclose(track.altitude_deg, altitude.degrees, atol=1e-5)
    np.testing.assert_allclose(track.azimuth_deg, azimuth.degrees, atol=3e-5)
    np.testing.assert_allclose(track.range_km, distance.km, atol=1e-3)


def test_crossings(late):
    passage = late.passes()[1]
    track = late.track(passage, 1.0)
    middle = track.time_s.size // 2
    field = LineOfSight.of_field(
        float(track.ra_icrs_deg[middle]),
        float(track.dec_icrs_deg[middle]),
        radius_deg=0.5,
    )
    (crossing,) = late.crossings(field)
    since = (crossing.closest.time - track.start).total_seconds()
    assert since == pytest.approx(track.time_s[middle], abs=0.01)
    assert crossing.closest_deg < 1e-3
    assert "lateness_applied" in crossing.flags
    # without the lateness it goes by elsewhere, or at another time
    others = flights.services(objects=("80001",)).crossings(field)
    assert all(
        abs((o.closest.time - crossing.closest.time).total_seconds()) > 30
        for o in others
    )


def test_only_the_objects_named_are_late():
    both = flights.services(objects=("80001",), late_by_s=LATE_S)
    catalogue = both.catalogue(objects=("80001", "80003"))
    late = dict(zip(catalogue.catalog_number.tolist(), catalogue.late_s, strict=True))
    assert late == {80001: LATE_S, 80003: 0.0}


def test_an_ephemeris_is_late_too(tmp_path):
    time_s = np.arange(-3600.0, 12 * 3600.0, 60.0)
    place, velocity = flights.states("GCRF", time_s)
    path = flights.written(
        tmp_path, flights.message(time_s, place, velocity, frame="GCRF")
    )
    given = flights.services(
        objects=("80001",), late_by_s=LATE_S, ephemeris_files=(path,)
    )
    ours = [(p.rise.time - flights.START).total_seconds() for p in given.passes()]
    np.testing.assert_allclose(ours, rises_and_sets()[::2], rtol=0, atol=2e-3)


def test_sigma_is_smaller_and_its_basis_is_told(late):
    plain = flights.services(objects=("80001",))
    was, now = plain.growth(80001), late.growth(80001)
    assert now.basis == "measured"
    assert (now.sigma0_s, now.bound0_s) == (0.3, 0.6)
    assert now.sigma1_s == was.sigma1_s / 2
    assert now.bound1_s == was.bound1_s / 2
    assert (now.power, now.cross0_km) == (was.power, was.cross0_km)
