"""Mean elements and courses against the sgp4 package; chords against many looks."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from hypothesis import given
from hypothesis import strategies as st

from passes.crossings.screen import near_chord
from passes.orbits import Propagator
from passes.orbits.courses import courses
from passes.orbits.secular import Secular, true_motion

DAY_S = 86_400.0


@pytest.fixture(scope="module")
def catalogue():
    """Low, eccentric, sinking and high orbits; epochs on both sides of the start."""
    return made_catalogue(500, seed=7)


def near(catalogue):
    rows = np.arange(len(catalogue))
    return rows[true_motion(catalogue, rows) > 2 * np.pi / 225.0]


@pytest.mark.parametrize("time_s", [-3 * DAY_S, 0.0, DAY_S, 14 * DAY_S])
def test_mean_elements_are_those_of_the_sgp4_package(catalogue, time_s):
    # authority: the sgp4 package, which is held to the published verification states
    rows = near(catalogue)
    propagator = Propagator(catalogue, START, fast=False)
    theirs = propagator.mean(rows, time_s)
    ours = Secular(catalogue, rows).at((propagator.age_s(rows) + time_s) / 60.0)
    good = theirs.error == 0
    assert good.sum() > 300
    for name in ("axis_km", "eccentricity"):
        np.testing.assert_allclose(
            getattr(ours, name)[good],
            getattr(theirs, name)[good],
            rtol=1e-13,
            atol=1e-14,
        )
    for name in ("node_rad", "argument_rad", "anomaly_rad"):
        apart = getattr(ours, name) - getattr(theirs, name)
        # a double holds some 1e-12 of the angle turned in two weeks
        assert np.abs(np.sin(apart[good] / 2)).max() < 5e-12


def odd_orbits(count=1500):
    """Near-Earth orbits of every inclination, up to very eccentric and much dragged."""
    rng = np.random.default_rng(9)
    plain = made_catalogue(count, seed=9)
    e = np.where(rng.random(count) < 0.3, 0.002, 0.47) * rng.random(count)
    axis_km = (6378.137 + rng.uniform(95.0, 1500.0, count)) / (1.0 - e)
    sign = rng.choice([1.0, 1.0, 1.0, -1.0], count)
    return replace(
        plain,
        mean_motion_rad_min=60.0 * np.sqrt(398_600.4418 / axis_km**3),
        eccentricity=e,
        inclination_rad=rng.uniform(0.0, np.pi, count),
        bstar=sign * 10.0 ** rng.uniform(-6.0, -2.0, count),
        satrecs=[],
    )


@pytest.mark.parametrize("days", [-20.0, 0.0, 10.0])
@pytest.mark.parametrize("make", [odd_orbits, lambda: made_catalogue(800, seed=8)])
def test_objects_stay_within_the_room_of_their_courses(make, days):
    objects = make()
    propagator = Propagator(objects, START, fast=False)
    rows = np.arange(len(objects))
    found = courses(propagator, rows, days * DAY_S, days * DAY_S + 43_200.0)
    steady = np.flatnonzero(found.steady)
    assert steady.size > 0.75 * rows.size
    time_s = np.linspace(0.0, 43_200.0, 61)
    true, _, error = propagator.many(rows[steady], time_s + days * DAY_S)
    assert not error.any()  # what SGP4 refuses is not steady
    told = found.places_km(np.repeat(steady, 61), np.tile(time_s, steady.size))
    away = np.linalg.norm(true.reshape(-1, 3) - told.T, axis=1).reshape(-1, 61)
    share = away / np.linalg.norm(true, axis=2) / found.room[steady, None]
    assert share.max() < 0.8  # there is room left


def test_what_cannot_be_relied_on_is_not_called_steady(catalogue):
    # drag that brings objects down within days, and orbits that Sun and Moon sway
    rows = np.arange(len(catalogue))
    sinking = replace(catalogue, bstar=np.full(rows.size, 0.5), satrecs=[])
    found = courses(Propagator(sinking, START, fast=False), rows, 0.0, 43_200.0)
    low = found.axis_km * (1.0 - found.eccentricity) < 6378.137 + 300.0
    assert low.any()
    assert not found.steady[low].any()
    swayed = (found.eccentricity > 0.2) & (found.axis_km > 20_000.0)
    assert swayed.any()
    assert not found.steady[swayed].any()


places = st.tuples(*[st.floats(-3000.0, 3000.0)] * 3)


@given(
    places, places, st.floats(0.001, 1.4), st.floats(0.0, 50.0), st.integers(0, 10**6)
)
def test_a_chord_that_passes_the_field_is_never_left_out(a, b, reach, slack, seed):
    rng = np.random.default_rng(seed)
    aim = rng.normal(size=3)
    aim /= np.linalg.norm(aim)
    begin, end = np.array(a)[:, None], np.array(b)[:, None]
    # places along the chord, each pushed off it by as much as is allowed
    share = rng.uniform(0.0, 1.0, 200)
    push = rng.normal(size=(3, 200))
    push *= slack / np.linalg.norm(push, axis=0)
    there = begin + (end - begin) * share + push
    if not np.linalg.norm(there, axis=0).all():
        return
    cosine = aim @ there / np.linalg.norm(there, axis=0)
    if not (cosine > np.cos(reach)).any():
        return
    up = np.zeros((3, 1))  # nothing is below a horizon that has no direction
    assert near_chord(begin, end, aim[:, None], up, reach, slack + 1e-6)[0]
