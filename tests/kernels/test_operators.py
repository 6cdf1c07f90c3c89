"""Ephemerides as a source: whose they are, where they serve, how they change over."""

from dataclasses import replace
from datetime import timedelta

import flights
import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from passes.api import find_passes, read_elements, with_ephemerides
from passes.elements import read
from passes.ephemeris import Flight, read_messages
from passes.errors import EphemerisError, NothingToSearch, UnknownName
from passes.forecast.changeover import FADE_S, BySgp4, Joined
from passes.forecast.operators import TO_TEME, designator_of
from passes.model import Growth, LineOfSight, Span
from passes.orbits import Propagator

HOUR = 3600.0
#: In these tests the operator has the object this much later than its elements.
LATE_S = 4.0


def text_of(begin_s, end_s, *, late_s=LATE_S, **more):
    """An ephemeris of the station over a stretch, late on its elements."""
    time_s = np.arange(begin_s, end_s + 1.0, 60.0)
    place, velocity = flights.states("TEME", time_s - late_s)
    return flights.message(time_s, place, velocity, **more)


@pytest.fixture(scope="module")
def half(tmp_path_factory):
    """A file that ends in the middle of the third pass, at 3.4 h."""
    folder = tmp_path_factory.mktemp("half")
    return flights.written(folder, text_of(-HOUR, 3.4 * HOUR))


def joined(*texts, elements=True):
    """The station's source: these messages over its elements."""
    catalogue = read([flights.ELEMENTS]).catalogue.take([0])
    source = BySgp4(catalogue) if elements else None
    for text in texts:
        (message,) = read_messages(text.encode(), "x")
        source = Joined(Flight(message.segments, TO_TEME, message.created), source)
    return source


def by_elements(time_s):
    catalogue = read([flights.ELEMENTS]).catalogue
    return Propagator(catalogue, flights.START).positions(0, time_s)[0]


# --- the change-over ---------------------------------------------------------


def test_inside_the_ephemeris_alone_and_far_outside_the_elements_alone():
    source = joined(text_of(HOUR, 2 * HOUR))
    inside = np.linspace(HOUR, 2 * HOUR, 50)
    flight = source.flight.positions(flights.START, inside)
    assert_array_equal(source.positions(flights.START, inside), flight)
    outside = np.array([0.0, HOUR - FADE_S, 2 * HOUR + FADE_S, 5 * HOUR])
    found = source.positions(flights.START, outside)
    assert_array_equal(found, by_elements(outside))


@pytest.mark.parametrize("late_s", [LATE_S, -30.0, 0.0])
def test_nothing_jumps_at_a_change_over(late_s):
    # 4 s are 30 km: a jump that differences over a second would show as 30 km/s
    source = joined(text_of(HOUR, 2 * HOUR, late_s=late_s))
    time_s = np.arange(HOUR - FADE_S - 60.0, 2 * HOUR + FADE_S + 60.0, 1.0)
    place = source.positions(flights.START, time_s)
    speed = np.diff(place, axis=0)
    gained = np.linalg.norm(np.diff(speed, axis=0), axis=1)
    # gravity alone bends a low orbit by 9 m/s a second, and changes its pace by 2 cm/s;
    # what fades along a polynomial of the fifth degree adds at most 5.8 times the
    # distance over the square of the time
    fading = 5.8 * 7.7 * abs(late_s) / FADE_S**2
    assert gained.max() < 0.0092 + fading
    assert gained.min() > 0.0085 - fading
    pace = np.linalg.norm(speed, axis=1)
    assert np.abs(np.diff(pace)).max() < 2e-5 + fading


def test_between_two_stretches_sources_change_over_twice():
    text = text_of(HOUR, 2 * HOUR)
    more = text_of(2.1 * HOUR, 3 * HOUR)
    source = joined(text + more[more.index("META_START") :])
    time_s = np.arange(2 * HOUR - 30.0, 2.1 * HOUR + 30.0, 1.0)
    place = source.positions(flights.START, time_s)
    gained = np.linalg.norm(np.diff(place, n=2, axis=0), axis=1)
    assert gained.max() < 0.0115
    begin = np.array([1.5, 1.9, 2.02, 2.5, 4.0]) * HOUR
    changed = source.changed(flights.START, begin, begin + 0.05 * HOUR)
    assert changed.tolist() == [False, False, True, False, False]


def test_a_flight_of_a_second_fades_as_well():
    time_s = np.array([HOUR, HOUR + 1.0])
    place, velocity = flights.states("TEME", time_s - LATE_S)
    text = flights.message(time_s, place, velocity, degree=1, method="LINEAR")
    source = joined(text)
    at = HOUR + np.arange(-30.0, 30.0, 0.5)
    speed = np.linalg.norm(np.diff(source.positions(flights.START, at), axis=0), axis=1)
    assert np.abs(speed / 0.5 - 7.66).max() < 0.2


def test_without_elements_nothing_is_known_outside():
    source = joined(text_of(HOUR, 2 * HOUR), elements=False)
    at = np.array([HOUR - 1.0, HOUR, 2 * HOUR, 2 * HOUR + 1.0])
    known = np.isfinite(source.positions(flights.START, at)).all(axis=1)
    assert known.tolist() == [False, True, True, False]
    assert not source.changed(flights.START, at[:1], at[-1:]).any()


def test_of_two_messages_the_later_made_serves_first():
    old = text_of(HOUR, 3 * HOUR, made="2025-09-13T06:00:00", late_s=1.0)
    new = text_of(2 * HOUR, 4 * HOUR, made="2025-09-13T18:00:00", late_s=2.0)
    source = joined(old, new)
    at = np.array([1.2, 2.0, 3.9]) * HOUR
    found = source.positions(flights.START, at)
    want = by_elements(at - [1.0, 2.0, 2.0])
    assert_allclose(found, want, rtol=0, atol=1e-4)
    begin, end = (
        np.array([1.1, 1.9, 2.5, 0.5]) * HOUR,
        np.array([1.5, 2.2, 3.5, 0.6]) * HOUR,
    )
    covered, made_s = source.covered(flights.START, begin, end)
    assert covered.tolist() == [True, True, True, False]
    assert made_s[:3].tolist() == [-12 * HOUR, -12 * HOUR, 0.0]
    changed = source.changed(flights.START, begin, end)
    assert changed.tolist() == [False, True, False, False]


# --- passes, tracks and crossings --------------------------------------------


def test_passes_with_a_change_over_inside_are_flagged(half):
    plain = flights.services(objects=("80001",)).passes()
    found = flights.services(objects=("80001",), ephemeris_files=(half,)).passes()
    assert len(found) == len(plain) == 6
    late = [
        (one.culmination.time - other.culmination.time).total_seconds()
        for one, other in zip(found, plain, strict=True)
    ]
    # late while the ephemeris serves; by its elements afterwards
    assert_allclose(late[:2], LATE_S, atol=0.3)
    assert_allclose(late[3:], 0.0, atol=1e-3)
    flagged = ["change_over" in one.flags for one in found]
    assert flagged == [False, False, True, False, False, False]
    sigmas = [one.timing_sigma_s for one in found]
    assert max(sigmas[:2]) < 0.15
    by_age = [one.timing_sigma_s for one in plain[2:]]
    assert sigmas[2:] == pytest.approx(by_age, rel=1e-3)


def test_a_track_through_a_change_over_has_no_false_rates(half):
    services = flights.services(objects=("80001",), ephemeris_files=(half,))
    passage = services.passes()[2]
    assert "change_over" in passage.flags
    track = services.track(passage, 1.0)
    assert "change_over" in track.flags
    plain = flights.services(objects=("80001",)).track(passage, 1.0)
    # the same pass but up to 4 s late: speeds change by a few percent, not by jumps
    share = track.angular_rate_deg_s / plain.angular_rate_deg_s
    assert np.abs(share - 1.0).max() < 0.05
    step = np.abs(np.diff(track.angular_rate_deg_s))
    assert step.max() < 1.3 * np.abs(np.diff(plain.angular_rate_deg_s)).max()


def test_a_track_within_the_ephemeris_says_so(half):
    services = flights.services(objects=("80001",), ephemeris_files=(half,))
    track = services.track(services.passes()[0], 10.0)
    assert "class_sigma" not in track.flags
    assert track.timing_sigma_s == pytest.approx(0.105, abs=0.01)
    assert 0.2 < track.element_age_days < 0.4
    span = Span(start=flights.START, end=flights.START + timedelta(hours=3))
    short = flights.services(
        objects=("80001",), ephemeris_files=(half,), start=span.start, end=span.end
    )
    assert short.growth(80001).basis == "ephemeris"
    assert services.growth(80001).basis != "ephemeris"
    assert isinstance(services.growth(80001), Growth)


def test_crossings_are_those_of_the_ephemeris(tmp_path):
    whole = flights.written(tmp_path, text_of(-HOUR, 11 * HOUR, late_s=0.0))
    plain = flights.services(objects=("80001",))
    passage = plain.passes()[1]
    track = plain.track(passage, 1.0)
    middle = track.time_s.size // 2
    field = LineOfSight.of_field(
        float(track.ra_icrs_deg[middle]),
        float(track.dec_icrs_deg[middle]),
        radius_deg=1.0,
    )
    given = flights.services(objects=("80001",), ephemeris_files=(whole,))
    ours, theirs = given.crossings(field), plain.crossings(field)
    assert len(ours) == len(theirs) == 1
    for name in ("entry", "closest", "exit"):
        one, other = getattr(ours[0], name), getattr(theirs[0], name)
        assert abs((one.time - other.time).total_seconds()) < 1e-3
    assert ours[0].timing_sigma_s == pytest.approx(
        np.hypot(0.1, 0.15 * ours[0].element_age_days)
    )
    assert "change_over" not in ours[0].flags


def test_crossings_of_a_body_are_those_of_the_ephemeris(tmp_path):
    whole = flights.written(tmp_path, text_of(-HOUR, 11 * HOUR, late_s=0.0))
    wide = LineOfSight.of_body("moon", radius_deg=12.0)
    plain = flights.services(objects=("80001",)).crossings(wide)
    given = flights.services(objects=("80001",), ephemeris_files=(whole,))
    ours = given.crossings(wide)
    assert len(ours) == len(plain) >= 1
    for one, other in zip(ours, plain, strict=True):
        apart = one.closest.time - other.closest.time
        assert abs(apart.total_seconds()) < 1e-3
        assert one.closest_deg == pytest.approx(other.closest_deg, abs=1e-4)


def test_notebooks_attach_ephemerides_to_a_catalogue(half):
    catalogue = with_ephemerides(
        read_elements(flights.ELEMENTS), half, start=flights.START, end=flights.END
    )
    assert list(catalogue.ephemerides) == [0]
    found = find_passes(catalogue.take([0]), flights.SITE, flights.START, flights.END)
    want = flights.services(objects=("80001",), ephemeris_files=(half,)).passes()
    assert [one.id for one in found] == [one.id for one in want]
    assert [one.rise.time for one in found] == [one.rise.time for one in want]
    assert sum("change_over" in one.flags for one in found) == 1


# --- whose they are ----------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "long"),
    [
        ("1998-067A", "1998-067A"),
        ("1998-067-A", "1998-067A"),
        ("1998 067 AB", "1998-067AB"),
        ("2025901A", "2025-901A"),
        ("STATION", ""),
        ("", ""),
    ],
)
def test_designators_whatever_their_hyphens(said, long):
    assert designator_of(said) == long


@pytest.mark.parametrize(
    ("name", "object_id"),
    [
        ("INVENTED STATION", "UNKNOWN"),
        ("other", "2025-901-A"),
        ("Invented Station", "-"),
        ("other", "80001"),
    ],
)
def test_an_object_is_known_by_designator_or_name(tmp_path, name, object_id):
    text = text_of(-HOUR, 11 * HOUR, name=name, object_id=object_id)
    path = flights.written(tmp_path, text)
    catalogue = flights.services(ephemeris_files=(path,)).catalogue()
    assert len(catalogue) == 6
    assert catalogue.catalog_number[list(catalogue.ephemerides)].tolist() == [80001]


def test_two_names_of_one_object_are_one(tmp_path):
    first = text_of(-HOUR, 2 * HOUR, name="other")
    second = text_of(2 * HOUR, 11 * HOUR, object_id="UNKNOWN", late_s=2 * LATE_S)
    paths = (
        flights.written(tmp_path, first, "first.oem"),
        flights.written(tmp_path, second, "second.oem"),
    )
    services = flights.services(ephemeris_files=paths, objects=("80001",))
    plain = flights.services(objects=("80001",)).passes()
    late_s = [
        (one.culmination.time - other.culmination.time).total_seconds()
        for one, other in zip(services.passes(), plain, strict=True)
    ]
    want = [LATE_S, LATE_S] + [2 * LATE_S] * 4
    assert_allclose(late_s, want, atol=0.8)


def test_a_number_that_no_catalogue_knows_is_kept(tmp_path):
    text = text_of(-HOUR, 11 * HOUR, name="GUEST", object_id="89999")
    path = flights.written(tmp_path, text)
    services = flights.services(ephemeris_files=(path,), objects=("89999",))
    assert services.catalogue().name == ("GUEST",)


def test_ephemerides_follow_their_rows(half):
    catalogue = flights.services(ephemeris_files=(half,)).catalogue()
    (row,) = catalogue.ephemerides
    source = catalogue.ephemerides[row]
    order = np.array([3, 5, row])
    assert catalogue.take(order).ephemerides == {2: source}
    assert catalogue.take(np.arange(6) == row).ephemerides == {0: source}
    assert catalogue[1:].ephemerides == {}


def stranger(tmp_path):
    text = text_of(-HOUR, 11 * HOUR, name="INVENTED GUEST", object_id="2025-999A")
    return flights.written(tmp_path, text, "guest.oem")


def test_an_object_that_nobody_knows_is_one_of_its_own(tmp_path):
    services = flights.services(ephemeris_files=(stranger(tmp_path),))
    catalogue = services.catalogue()
    assert catalogue.name[-1] == "INVENTED GUEST"
    number = int(catalogue.catalog_number[-1])
    assert number >= 900_000_000
    found = services.passes(objects=("INVENTED GUEST",))
    plain = flights.services(objects=("80001",)).passes()
    assert len(found) == 6
    for ours, theirs in zip(found, plain, strict=True):
        late_s = (ours.culmination.time - theirs.culmination.time).total_seconds()
        assert late_s == pytest.approx(LATE_S, abs=0.3)
        assert ours.catalog_number == number
    # its number is its own the next time too, and its track is found by it
    again = flights.services(
        ephemeris_files=(stranger(tmp_path),), objects=(str(number),)
    )
    track = again.track(again.passes()[0], 10.0)
    assert track.name == "INVENTED GUEST"
    assert np.isfinite(track.altitude_deg).all()


def test_outside_its_window_a_stranger_is_told_not_guessed(tmp_path):
    services = flights.services(
        ephemeris_files=(stranger(tmp_path),),
        start=flights.START + timedelta(days=3),
        end=flights.START + timedelta(days=3, hours=6),
    )
    catalogue = services.catalogue()
    assert "INVENTED GUEST" not in catalogue.name
    (told,) = (one for one in catalogue.skipped if one.name == "INVENTED GUEST")
    assert told.reason == (
        "its ephemeris serves 2025-09-13T17:00Z to 2025-09-14T05:00Z, not this window"
    )


def test_one_number_claims_what_belongs_to_nobody(tmp_path):
    path = stranger(tmp_path)
    services = flights.services(ephemeris_files=(path,), objects=("80003",))
    catalogue = services.catalogue()
    assert catalogue.catalog_number.tolist() == [80003]
    assert list(catalogue.ephemerides) == [0]
    # but not where other objects are asked for
    both = flights.services(ephemeris_files=(path,), objects=("80003", "80002"))
    assert not both.catalogue().ephemerides


def test_an_ephemeris_alone_serves(tmp_path):
    services = flights.services(
        ephemeris_files=(stranger(tmp_path),),
        element_files=(),
        archive=tmp_path / "none.db",
    )
    assert [one.name for one in services.passes()] == ["INVENTED GUEST"] * 6
    with pytest.raises(NothingToSearch):
        flights.services(element_files=(), archive=tmp_path / "none.db").passes()


def test_an_ephemeris_serves_where_elements_are_too_old(half):
    later = {"start": flights.START, "end": flights.START + timedelta(hours=3)}
    old = read([flights.ELEMENTS]).catalogue
    services = flights.services(ephemeris_files=(half,), objects=("80001",), **later)
    aged = replace(old, epoch_jd=old.epoch_jd - 60.0)
    services.supply._reading = replace(services.supply.reading(), catalogue=aged)
    found = services.passes()
    assert len(found) == 2
    assert "stale_elements" not in found[0].flags


def test_bad_files_are_refused_by_name(tmp_path, fixtures):
    path = str(fixtures / "broken" / "clock.oem")
    with pytest.raises(EphemerisError, match=r"clock\.oem:6: TIME_SYSTEM"):
        flights.services(ephemeris_files=(path,)).catalogue()
    with pytest.raises(UnknownName):
        flights.services(
            ephemeris_files=(stranger(tmp_path),), objects=("NOBODY",)
        ).catalogue()
