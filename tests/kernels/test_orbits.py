"""The door to propagation: one row or many, late, refused, fast, or by an ephemeris."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from importlib.util import find_spec

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from one_satellite import EPOCH_JD, INVENTED, catalogue
from sgp4.api import Satrec

from passes.elements import Catalogue
from passes.errors import InputError
from passes.orbits import ERROR_WORDS, NO_EPHEMERIS, NO_NUMBER, Propagator, sgp4_calls
from passes.orbits import fast as fast_door

#: What heyoka and the sgp4 package may differ by; seen: 1.1e-8 km far out.
FAST_KM = 2e-8
EPOCH = datetime(2024, 3, 20, tzinfo=UTC)

has_heyoka = pytest.mark.skipif(
    find_spec("heyoka") is None, reason="heyoka is not installed"
)


def test_states_are_those_of_the_package():
    objects = catalogue()
    time_s = np.linspace(-4000.0, 90_000.0, 37)
    for row in range(len(objects)):
        position, velocity, error = Propagator(objects, EPOCH).states(row, time_s)
        jd, fraction = np.full(37, EPOCH_JD), time_s / 86400.0
        codes, theirs_km, theirs_km_s = objects.satrec(row).sgp4_array(jd, fraction)
        assert_allclose(position, theirs_km, rtol=0, atol=1e-9)
        assert_allclose(velocity, theirs_km_s, rtol=0, atol=1e-12)
        assert_array_equal(error, codes)
        assert position.shape == velocity.shape == (37, 3)


def test_one_time_will_do():
    position, error = Propagator(catalogue(), EPOCH).positions(0, 12.0)
    assert position.shape == (1, 3)
    assert error.tolist() == [0]


@given(st.integers(0, len(INVENTED) - 1), st.floats(-1e6, 1e6), st.floats(0, 1e6))
def test_only_the_sum_of_start_and_seconds_counts(row, shift_s, time_s):
    # to a microsecond, the resolution of a datetime: 11 mm at 11 km/s
    objects = catalogue()
    moved = EPOCH + timedelta(seconds=shift_s)
    there = Propagator(objects, EPOCH).positions(row, time_s + shift_s)[0]
    here = Propagator(objects, moved).positions(row, time_s)[0]
    assert_allclose(here, there, rtol=0, atol=1.2e-5)


def test_the_zone_of_the_start_does_not_matter_but_must_be_known():
    objects = catalogue()
    east = EPOCH.astimezone(timezone(timedelta(hours=5)))
    assert_array_equal(
        Propagator(objects, east).positions(0, 3.0)[0],
        Propagator(objects, EPOCH).positions(0, 3.0)[0],
    )
    with pytest.raises(InputError, match="zone"):
        Propagator(objects, datetime(2024, 3, 20))


@given(st.floats(-600.0, 600.0), st.floats(0.0, 40_000.0))
def test_a_late_object_is_where_it_would_have_been(late_s, time_s):
    punctual, late = catalogue(), catalogue(late_s=late_s)
    for row in range(len(punctual)):
        there, code = Propagator(punctual, EPOCH).positions(row, time_s - late_s)
        here, same = Propagator(late, EPOCH).positions(row, time_s)
        assert_array_equal(here, there)
        assert_array_equal(code, same)
    rows = np.arange(len(late))
    many = Propagator(late, EPOCH).many(rows, [time_s])[0]
    one = [Propagator(late, EPOCH).positions(row, time_s)[0] for row in rows]
    assert_array_equal(many, np.array(one))
    mean = Propagator(late, EPOCH).mean(rows, time_s)
    there = Propagator(punctual, EPOCH).mean(rows, time_s - late_s)
    assert_array_equal(mean.anomaly_rad, there.anomaly_rad)


@pytest.mark.parametrize("fast", [False, pytest.param(True, marks=has_heyoka)])
def test_many_rows_are_one_row_many_times(fast):
    objects = made_catalogue(300, seed=4)
    rng = np.random.default_rng(1)
    counts = rng.integers(0, 40, 300)
    offsets = np.concatenate([[0], np.cumsum(counts)])
    time_s = rng.uniform(0.0, 43_200.0, offsets[-1])
    rows = rng.permutation(300)
    position, velocity, error = Propagator(objects, START, fast=fast).along(
        rows, offsets, time_s
    )
    single = Propagator(objects, START, fast=False)
    for row, low, high in zip(rows, offsets[:-1], offsets[1:], strict=True):
        there, speed, code = single.states(row, time_s[low:high])
        atol = FAST_KM if fast else 0.0
        assert_allclose(position[low:high], there, rtol=0, atol=atol)
        assert_allclose(velocity[low:high], speed, rtol=0, atol=1e-10 * fast)
        assert_array_equal(error[low:high], code)


def test_common_times_and_own_times():
    propagator = Propagator(catalogue(), EPOCH, fast=False)
    rows, time_s = [3, 0, 3], np.array([0.0, 60.0])
    common = propagator.many(rows, time_s)
    own = propagator.many(rows, np.tile(time_s, (3, 1)))
    for a, b in zip(common, own, strict=True):
        assert_array_equal(a, b)
    assert common[0].shape == common[1].shape == (3, 2, 3)
    assert common[2].shape == (3, 2)
    assert propagator.many([], time_s)[0].shape == (0, 2, 3)


@has_heyoka
def test_the_fast_way_agrees_on_a_whole_catalogue():
    objects = made_catalogue(3000, seed=8)
    rows, time_s = np.arange(3000), np.linspace(0.0, 86_400.0, 7)
    quick = Propagator(objects, START, fast=True).many(rows, time_s)
    plain = Propagator(objects, START, fast=False).many(rows, time_s)
    assert_array_equal(quick[2], plain[2])
    assert_allclose(quick[0], plain[0], rtol=0, atol=FAST_KM)
    near_km = np.linalg.norm(plain[0], axis=2) < 8500.0
    assert np.abs(quick[0] - plain[0])[near_km].max() < 1e-8


@has_heyoka
def test_the_fast_way_passes_on_what_it_cannot_place():
    objects = made_catalogue(40, seed=8)
    drag = objects.bstar.copy()
    drag[:20] = 0.5
    sinking = replace(objects, bstar=drag, satrecs=[])
    rows, time_s = np.arange(40), np.linspace(0.0, 3 * 86_400.0, 60)
    quick = Propagator(sinking, START, fast=True).many(rows, time_s)
    plain = Propagator(sinking, START, fast=False).many(rows, time_s)
    assert plain[2].any()
    assert_array_equal(quick[2], plain[2])


def test_who_chooses_the_fast_way(monkeypatch):
    few, lots = 10, 10_000_000
    monkeypatch.setattr(fast_door, "find_spec", lambda name: None)
    monkeypatch.delitem(fast_door.sys.modules, "heyoka", raising=False)
    monkeypatch.delenv(fast_door.VARIABLE, raising=False)
    assert not fast_door.wanted(None, lots)
    with pytest.raises(InputError, match=r"passes\[fast\]"):
        fast_door.wanted(True, few)
    monkeypatch.setattr(fast_door, "find_spec", lambda name: object())
    assert fast_door.wanted(None, lots)
    assert not fast_door.wanted(None, few)
    assert fast_door.wanted(True, few)
    assert not fast_door.wanted(False, lots)
    monkeypatch.setenv(fast_door.VARIABLE, "0")
    assert not fast_door.wanted(None, lots)
    assert fast_door.wanted(True, few)
    monkeypatch.setenv(fast_door.VARIABLE, "1")
    assert fast_door.wanted(None, few)


def test_the_inner_call_is_used_only_if_it_gives_the_public_answer():
    def shifted(satrec, days, fraction, error, position, velocity):
        sgp4_calls.public(satrec, days, fraction, error, position, velocity)
        position += 1e-6

    def changed(satrec, days):
        raise AssertionError("called with other arguments")

    assert sgp4_calls.fill() is Satrec._sgp4
    assert sgp4_calls.trusted(Satrec._sgp4) is Satrec._sgp4
    for other in (shifted, changed, None):
        assert sgp4_calls.trusted(other) is sgp4_calls.public


def test_the_public_call_gives_the_same(monkeypatch):
    time_s = np.linspace(0.0, 6000.0, 7)
    inner = Propagator(catalogue(), EPOCH).states(2, time_s)
    monkeypatch.setattr(sgp4_calls, "fill", lambda: sgp4_calls.public)
    for a, b in zip(
        inner, Propagator(catalogue(), EPOCH).states(2, time_s), strict=True
    ):
        assert_array_equal(a, b)


def test_a_silent_nan_is_an_error():
    broken = replace(catalogue(), bstar=np.full(5, np.inf), satrecs=[])
    _, error = Propagator(broken, EPOCH).positions(0, [100.0])
    assert error.tolist() == [NO_NUMBER]
    assert "number" in ERROR_WORDS[NO_NUMBER]


def test_mean_elements_drift_as_the_theory_has_them():
    objects = catalogue()
    propagator = Propagator(objects, EPOCH)
    begin = propagator.mean(np.arange(5), 0.0)
    end = propagator.mean(np.arange(5), 86_400.0)
    assert not begin.error.any()
    for name, ours in (
        ("inclination_rad", begin.inclination_rad),
        ("raan_rad", begin.node_rad),
        ("argument_rad", begin.argument_rad),
        ("mean_anomaly_rad", begin.anomaly_rad),
    ):
        there = getattr(objects, name)
        assert_allclose(np.sin(ours - there), 0.0, atol=2e-3)
    # Kepler's third law, to what J2 does to SGP4's mean motion
    mu = begin.motion_rad_s**2 * begin.axis_km**3
    assert_allclose(mu, 398600.8, rtol=1e-6)
    # the node of the Sun-synchronous one advances by nearly a degree a day
    drift = np.degrees(end.node_rad - begin.node_rad)[1]
    assert drift == pytest.approx(0.98, abs=0.03)


# --- objects with an ephemeris of their own --------------------------------------


@dataclass
class Borrowed:
    """An ephemeris that has SGP4's places of a row, for a while."""

    objects: Catalogue
    row: int
    known_s: float = np.inf
    asked: int = 0

    def positions(self, start, time_s):
        self.asked += 1
        position, _ = Propagator(self.objects, start).positions(self.row, time_s)
        return np.where(time_s[:, np.newaxis] <= self.known_s, position, np.nan)


def with_ephemeris(row, source, late_s=None):
    return replace(catalogue(late_s), ephemerides={row: source})


def test_places_come_from_the_ephemeris():
    # row 0 flies as row 1 does
    source = Borrowed(catalogue(), 1, known_s=5000.0)
    objects = with_ephemeris(0, source)
    time_s = np.linspace(0.0, 6000.0, 13)
    propagator = Propagator(objects, EPOCH)
    position, velocity, error = propagator.states(0, time_s)
    there, speed, _ = Propagator(catalogue(), EPOCH).states(1, time_s)
    known = time_s <= 5000.0
    assert_array_equal(error, np.where(known, 0, NO_EPHEMERIS))
    assert_array_equal(position[known], there[known])
    inner = time_s < 4999.0
    # SGP4's velocity is not quite the change of its position
    assert_allclose(velocity[inner], speed[inner], rtol=0, atol=1e-4)
    assert source.asked
    many = propagator.many([1, 0], time_s)
    assert_array_equal(many[0][1][known], there[known])
    assert_array_equal(many[0][0], there)
    assert_array_equal(propagator.given(np.array([1, 0])), [False, True])


def test_an_ephemeris_is_late_too():
    objects = with_ephemeris(0, Borrowed(catalogue(), 1), late_s=30.0)
    here, _ = Propagator(objects, EPOCH).positions(0, [100.0])
    there, _ = Propagator(catalogue(), EPOCH).positions(1, [70.0])
    assert_array_equal(here, there)
