"""Operators' ephemerides: read in both forms, refused in one line, interpolated."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from passes.constants import EARTH_MU_KM3_S2
from passes.ephemeris import Flight, oem_text, read_messages
from passes.ephemeris.osculating import osculating
from passes.errors import EphemerisError

START = datetime(2025, 9, 13, 18, tzinfo=UTC)


def still(start, time_s):
    """TEME as it is."""
    return np.broadcast_to(np.eye(3), (time_s.size, 3, 3))


@pytest.fixture(scope="module")
def text(fixtures):
    return (fixtures / "ephemerides" / "station.oem").read_text()


def segments_of(text):
    (message,) = read_messages(text.encode(), "x.oem")
    return message.segments


def test_a_message_in_full(text):
    (message,) = read_messages(text.encode(), "x.oem")
    assert message.created == datetime(2025, 9, 13, 12, tzinfo=UTC)
    assert message.originator == "INVENTED"
    assert message.comments == ("invented, for tests",)
    assert message.notes == ()
    first, second = message.segments
    assert (first.object_name, first.object_id) == ("INVENTED STATION", "2025-901-A")
    assert (first.frame, first.method, first.nodes) == ("TEME", "LAGRANGE", 8)
    assert (first.start, first.stop) == (START, START + timedelta(hours=4))
    assert second.start == first.stop
    assert first.time_s.size == second.time_s.size == 241
    # the line of the file, digit by digit
    want = [-3027.4755108, -5244.1846056, -3096.6093253]
    assert first.position_km[-1].tolist() == want
    assert second.position_km[0].tolist() == want
    assert second.velocity_km_s[0, 0] == 5.8692218424


def test_xml_says_the_same(fixtures, text):
    data = (fixtures / "ephemerides" / "station.oem.xml").read_bytes()
    (message,) = read_messages(data, "x.xml")
    assert message.created == datetime(2025, 9, 13, 12, tzinfo=UTC)
    assert message.comments == ("invented, for tests",)
    for ours, theirs in zip(message.segments, segments_of(text), strict=True):
        assert_array_equal(ours.time_s, theirs.time_s)
        assert_array_equal(ours.position_km, theirs.position_km)
        assert_array_equal(ours.velocity_km_s, theirs.velocity_km_s)
        assert (ours.start, ours.stop) == (theirs.start, theirs.stop)
        assert ours.object_id == theirs.object_id


def test_several_messages_a_file(text):
    twice = text + text.replace("2025-901-A", "2025-902A")
    messages = read_messages(twice.encode(), "x.oem")
    assert [m.segments[0].object_id for m in messages] == ["2025-901-A", "2025-902A"]


@pytest.mark.parametrize(
    ("name", "line", "reason"),
    [
        ("clock", 6, "TIME_SYSTEM 'GPS' is not supported; give one in UTC"),
        ("centre", 6, "CENTER_NAME 'MARS' is not supported; give one about the Earth"),
        (
            "frame",
            6,
            "REF_FRAME 'TOD' is not supported (EME2000, GCRF, TEME, ITRF are)",
        ),
        ("nameless", 6, "OBJECT_ID is missing"),
        (
            "method",
            6,
            "INTERPOLATION 'SPLINE' is not supported (LAGRANGE, HERMITE, LINEAR)",
        ),
        ("degree", 6, "INTERPOLATION_DEGREE 90 is too high (up to 25)"),
        ("start", 6, "START_TIME '13/09/2025' is not a time (2025-09-13T12:00:00)"),
        ("useless", 6, "no state lies within the time that may be used"),
        (
            "metres",
            18,
            "a place 6,794,840 km from the Earth's centre: are these kilometres?",
        ),
        (
            "backwards",
            20,
            "epoch 2025-09-13T18:01:00.000000 is not after the one before",
        ),
        ("short-state", 19, "a state is an epoch and six numbers"),
        ("words", 19, "a state is an epoch and six numbers"),
        ("not-finite", 19, "a state with a number that is not finite"),
        ("lonely", 6, "a segment needs at least two states"),
        ("open-covariance", 29, "COVARIANCE_START without COVARIANCE_STOP"),
        ("astray", 6, "a state outside a segment"),
        ("empty", None, "the message holds no segment"),
    ],
)
def test_what_is_wrong_is_refused_in_one_line(fixtures, name, line, reason):
    path = fixtures / "broken" / f"{name}.oem"
    with pytest.raises(EphemerisError) as error:
        read_messages(path.read_bytes(), path.name)
    where = path.name if line is None else f"{path.name}:{line}"
    assert str(error.value) == f"{where}: {reason}"


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "holds no orbit ephemeris message"),
        (b"1 80001U\n", "holds no orbit ephemeris message"),
        (b"CCSDS_OMM_VERS = 2.0\nBSTAR = 1\n", "no orbit ephemeris is in it (OMM is"),
        (b"<ndm><omm><BSTAR>1</BSTAR></omm></ndm>", "no orbit ephemeris is in it (OMM"),
        (b"<oem><body>", "damaged XML"),
        (b"<!DOCTYPE a [<!ENTITY b 'c'>]><oem/>", "declares a document type"),
        (b"CCSDS_OEM_VERS = 2.0\n\xff\n", "not UTF-8 text"),
    ],
)
def test_what_is_no_ephemeris(data, reason):
    with pytest.raises(EphemerisError, match=re.escape(reason)):
        read_messages(data, "x")


def test_too_many_states(text):
    with pytest.raises(EphemerisError, match="more than 300 states"):
        read_messages(text.encode(), "x", max_states=300)
    assert read_messages(text.encode(), "x", max_states=482)


@pytest.mark.parametrize(
    ("said", "frame"),
    [
        ("EME2000", "EME2000"),
        ("GCRF", "GCRF"),
        ("ICRF", "GCRF"),
        ("TEME", "TEME"),
        ("ITRF", "ITRF"),
        ("ITRF-97", "ITRF"),
        ("ITRF2000", "ITRF"),
        ("ITRF-2014", "ITRF"),
    ],
)
def test_names_of_frames(text, said, frame):
    found = segments_of(text.replace("REF_FRAME = TEME", f"REF_FRAME = {said}"))
    assert {one.frame for one in found} == {frame}


def test_an_epoch_of_the_frame_is_refused(text):
    dated = "REF_FRAME = TEME\nREF_FRAME_EPOCH = 2025-09-13T00:00:00"
    with pytest.raises(EphemerisError, match="REF_FRAME 'TEME' of one epoch"):
        segments_of(text.replace("REF_FRAME = TEME", dated))


def test_interpolation_that_is_not_said_is_assumed_and_noted(text):
    bare = text.replace("INTERPOLATION = LAGRANGE\nINTERPOLATION_DEGREE = 7\n", "")
    (message,) = read_messages(bare.encode(), "x")
    assert {(one.method, one.nodes) for one in message.segments} == {("LAGRANGE", 8)}
    assert message.notes == (
        "x:6: says not how to interpolate; LAGRANGE of degree 7 is used",
        "x:266: says not how to interpolate; LAGRANGE of degree 7 is used",
    )


def test_only_what_is_useable_is_used(text):
    usable = (
        "USEABLE_START_TIME = 2025-09-13T18:05:00\n"
        "USEABLE_STOP_TIME = 2025-256T21:55:00Z\nMETA_STOP"
    )
    first = segments_of(text.replace("META_STOP", usable, 1))[0]
    assert first.start == START + timedelta(minutes=5)
    assert first.stop == START + timedelta(hours=3, minutes=55)
    flight = Flight([first], {"TEME": still})
    at = np.array([299.9, 300.0, 14100.0, 14100.1])
    known = np.isfinite(flight.positions(START, at)).all(axis=1)
    assert known.tolist() == [False, True, True, False]
    assert flight.covers(START, at).tolist() == known.tolist()


# --- interpolation -----------------------------------------------------------


def message_of(time_s, position, velocity, method, degree):
    """A message whose states lie on given curves about a place in the sky."""
    lines = oem_text(
        "INVENTED", "2025-901A", START, [(time_s, position, velocity)], created=START
    )
    lines = re.sub("INTERPOLATION = .*", f"INTERPOLATION = {method}", lines)
    return re.sub("_DEGREE = .*", f"_DEGREE = {degree}", lines)


def curve(powers, time_s):
    """A polynomial a coordinate, in units of 100 s, and its derivative."""
    u = time_s / 100.0
    place = np.stack([np.polyval(p, u) for p in powers], axis=1)
    speed = np.stack([np.polyval(np.polyder(p), u) for p in powers], axis=1) / 100.0
    return place + np.array([7000.0, 0.0, 0.0]), speed


@pytest.mark.parametrize(
    ("method", "degree"),
    [
        ("LINEAR", 1),
        *(("LAGRANGE", degree) for degree in (3, 4, 7)),
        *(("HERMITE", degree) for degree in (3, 5, 7)),
    ],
)
def test_polynomials_of_the_degree_are_exact(method, degree):
    # what defines the methods: a polynomial of that degree is met everywhere
    random = np.random.default_rng(degree)
    powers = random.uniform(-30.0, 30.0, (3, degree + 1))
    uneven = np.cumsum(random.uniform(20.0, 70.0, 14)) - 20.0
    time_s = np.round(uneven, 3)
    place, speed = curve(powers / 3.0 ** np.arange(degree, -1, -1), time_s)
    text = message_of(time_s, place, speed, method, degree)
    flight = Flight(segments_of(text), {"TEME": still, "GCRF": still})
    at = random.uniform(time_s[0], time_s[-1], 200)
    want, _ = curve(powers / 3.0 ** np.arange(degree, -1, -1), at)
    # states are written to a millimetre; high polynomials carry that on
    assert_allclose(flight.positions(START, at), want, rtol=0, atol=2e-5)


@pytest.mark.parametrize("method", ["LINEAR", "LAGRANGE", "HERMITE"])
def test_states_are_met_exactly(text, method):
    text = text.replace("INTERPOLATION = LAGRANGE", f"INTERPOLATION = {method}")
    segment = segments_of(text)[0]
    flight = Flight([segment], {"TEME": still})
    at = (segment.origin - START).total_seconds() + segment.time_s
    found = flight.positions(START, at)
    assert_allclose(found, segment.position_km, rtol=0, atol=1e-9)


def test_too_few_states_for_the_degree_are_all_used():
    time_s = np.array([0.0, 60.0, 120.0])
    place, speed = curve(np.array([[1.0, 2.0, 0.0]] * 3), time_s)
    text = message_of(time_s, place, speed, "LAGRANGE", 7)
    (message,) = read_messages(text.encode(), "x")
    assert message.notes == ("x:5: too few states for degree 7; all used",)
    flight = Flight(message.segments, {"GCRF": still})
    at = np.array([30.0, 100.0])
    want, _ = curve(np.array([[1.0, 2.0, 0.0]] * 3), at)
    assert_allclose(flight.positions(START, at), want, rtol=0, atol=2e-6)


def test_nothing_is_interpolated_across_a_manoeuvre(text):
    first, second = segments_of(text)
    whole = Flight([second, first], {"TEME": still})
    turn_s = 4 * 3600.0
    alone = Flight([first], {"TEME": still}), Flight([second], {"TEME": still})
    before, after = turn_s - np.arange(1.0, 600.0), turn_s + np.arange(0.0, 600.0)
    assert_array_equal(
        whole.positions(START, before), alone[0].positions(START, before)
    )
    assert_array_equal(whole.positions(START, after), alone[1].positions(START, after))
    # the speed changes by the 1.5 m/s of the manoeuvre, at once
    step = np.array([-1.0, 0.0, 1.0])
    around = whole.positions(START, turn_s + step)
    gained = np.linalg.norm(np.diff(around, axis=0), axis=1)
    assert gained[1] - gained[0] == pytest.approx(1.5e-3, abs=5e-5)
    assert whole.spans == [(START, START + timedelta(hours=8))]


def test_a_gap_is_a_gap(text):
    late = text.replace("T22:00:00.000000 -", "T22:00:30.000000 -")
    late = late.replace(
        "START_TIME = 2025-09-13T22:00:00", "START_TIME = 2025-09-13T22:00:30"
    )
    first, second = segments_of(text)[0], segments_of(late)[1]
    flight = Flight([first, second], {"TEME": still})
    at = 4 * 3600.0 + np.array([0.0, 0.01, 29.9, 30.0])
    known = np.isfinite(flight.positions(START, at)).all(axis=1)
    assert known.tolist() == [True, False, False, True]
    assert len(flight.spans) == 2


# --- rough elements ----------------------------------------------------------


@pytest.mark.parametrize("eccentricity", [0.0, 0.2, 0.74])
def test_a_two_body_orbit_gives_its_elements(eccentricity):
    # perigee on the node, flown northwards: speed by the vis-viva equation
    axis, tilt = 12_000.0, 1.1
    place = np.array([0.0, axis * (1 - eccentricity), 0.0])
    speed = np.sqrt(EARTH_MU_KM3_S2 * (1 + eccentricity) / place[1])
    velocity = speed * np.array([-np.cos(tilt), 0.0, np.sin(tilt)])
    found = osculating(place, velocity)
    assert found["inclination_rad"] == pytest.approx(tilt)
    assert found["raan_rad"] == pytest.approx(np.pi / 2)
    assert found["eccentricity"] == pytest.approx(eccentricity, abs=1e-12)
    period_min = 2 * np.pi * np.sqrt(axis**3 / EARTH_MU_KM3_S2) / 60.0
    assert 2 * np.pi / found["mean_motion_rad_min"] == pytest.approx(period_min)
    if eccentricity:
        assert np.sin(found["argument_rad"]) == pytest.approx(0.0, abs=1e-9)
        assert np.sin(found["mean_anomaly_rad"]) == pytest.approx(0.0, abs=1e-9)


def test_an_open_orbit_has_none():
    with pytest.raises(ValueError, match="does not close"):
        osculating(np.array([7000.0, 0.0, 0.0]), np.array([0.0, 11.0, 0.0]))
