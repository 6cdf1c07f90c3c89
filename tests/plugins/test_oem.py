"""The exporter of ephemeris messages: read back by another reader and by our own."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import flights
import numpy as np
import pytest
from astropy.time import Time
from numpy.testing import assert_allclose
from oem import OrbitEphemerisMessage

from passes.contributions import Answer
from passes.ephemeris import Flight, read_messages
from passes.errors import InputError
from passes.forecast.operators import TO_TEME
from passes.orbits import Propagator
from passes.testing import check_plugin
from passes_plugins import oem


def answer(*tracks, demo=False):
    return Answer(kind="track", items=tracks, document={}, demo=demo)


@pytest.fixture(scope="module")
def track():
    services = flights.services(objects=("80001",))
    return services.track(services.passes()[1], 1.0)


def test_it_is_a_sound_plugin():
    assert check_plugin(oem).findings == ()


def test_another_reader_reads_it_back(track, tmp_path):
    # the oem package (PyPI, MIT), an implementation of CCSDS 502.0-B of its own
    path = tmp_path / "pass.oem"
    path.write_text(oem.export(answer(track)))
    theirs = OrbitEphemerisMessage.open(path)
    (segment,) = theirs.segments
    meta = segment.metadata
    assert meta["REF_FRAME"] == "GCRF"
    assert meta["TIME_SYSTEM"] == "UTC"
    assert meta["CENTER_NAME"] == "EARTH"
    assert meta["OBJECT_NAME"] == "INVENTED STATION"
    assert meta["OBJECT_ID"] == "2025-901A"
    states = list(segment.states)
    place = np.array([state.position for state in states])
    assert_allclose(place, track.position_icrs_km, rtol=0, atol=1e-6)
    # and between its states, where it interpolates as the message says
    at = track.time_s[20] + 0.43
    moment = track.start + timedelta(seconds=float(at))
    found = segment(Time(moment.replace(tzinfo=None), scale="utc")).position
    want, _ = flights.states("GCRF", np.array([at]), start=track.start)
    assert_allclose(found, want[0], rtol=0, atol=1e-5)


def test_states_are_skyfields(track):
    # (n, 3) about the Earth's centre, GCRS axes, by skyfield from the same elements
    place, velocity = flights.states("GCRF", track.time_s, start=track.start)
    assert_allclose(track.position_icrs_km, place, rtol=0, atol=1e-5)
    # SGP4's own velocity is 0.02 m/s from the motion of its places
    assert_allclose(track.velocity_icrs_km_s, velocity, rtol=0, atol=4e-5)


def test_our_own_reader_reads_it_back(track):
    text = oem.export(answer(track, demo=True))
    (message,) = read_messages(text.encode(), "x")
    assert message.notes == ()
    assert message.comments[0] == "Invented: a demonstration."
    flight = Flight(message.segments, TO_TEME)
    found = flight.positions(track.start, track.time_s)
    elements = flights.services(objects=("80001",)).catalogue()
    want = Propagator(elements, track.start).positions(0, track.time_s)[0]
    # microseconds of the epochs are 4 mm, millimetres of the places 1 mm
    assert_allclose(found, want, rtol=0, atol=1e-5)


def test_a_short_or_broken_track(track):
    place = track.position_icrs_km.copy()
    place[100:110] = np.nan
    place[-1] = np.nan
    text = oem.export(answer(replace(track, position_icrs_km=place)))
    (message,) = read_messages(text.encode(), "x")
    assert [one.time_s.size for one in message.segments] == [
        100,
        track.time_s.size - 111,
    ]
    with pytest.raises(InputError, match="no two places"):
        oem.export(answer(replace(track, position_icrs_km=place * np.nan)))
    with pytest.raises(InputError, match="choose one pass"):
        oem.export(answer(track, replace(track, catalog_number=80002)))


def test_several_tracks_of_one_object_never_overlap(track):
    later = replace(track, start=track.start + timedelta(hours=2))
    text = oem.export(answer(later, track, track))
    (message,) = read_messages(text.encode(), "x")
    starts = [one.start for one in message.segments]
    assert starts == [track.start, later.start]


def test_when_it_was_made(track):
    text = oem.export(answer(track))
    line = next(one for one in text.splitlines() if one.startswith("CREATION_DATE"))
    made = datetime.fromisoformat(line.split(" = ")[1])
    assert abs(datetime.now(UTC).replace(tzinfo=None) - made) < timedelta(minutes=5)
