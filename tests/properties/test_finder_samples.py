"""Samples along passes: both ends, close enough, true, and good to interpolate."""

from datetime import timedelta

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from properties.brute_force import search
from properties.test_finder_traps import geostationary, invented, sinking

from passes.errors import InputError
from passes.finder import sample
from passes.model import Site
from passes.orbits import Propagator

SIERRA = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
METRE_KM = 1e-3


@pytest.fixture(scope="module")
def table():
    """Passes of every kind of orbit."""
    return search(made_catalogue(700, seed=41), SIERRA, START)


@pytest.fixture(scope="module")
def samples(table):
    """Their samples."""
    return sample(table)


def is_deep(table):
    motion = table.catalogue.mean_motion_rad_min[table.row]
    return motion < 2 * np.pi / 225


def test_both_ends_and_the_least_number(table, samples):
    first, last = samples.offsets[:-1], samples.offsets[1:] - 1
    assert_array_equal(samples.time_s[first], table.begin_s)
    assert_array_equal(samples.time_s[last], table.finish_s)
    assert_array_equal(samples.passage[first], np.arange(len(table)))
    assert samples.offsets[-1] == samples.time_s.size == len(samples.passage)
    assert samples.position_km.shape == samples.velocity_km_s.shape
    counts = np.diff(samples.offsets)
    assert counts.min() >= 9
    rising = np.diff(samples.time_s)[np.diff(samples.passage) == 0]
    assert (rising > 0.0).all()


def test_steps(table, samples):
    same = np.diff(samples.passage) == 0
    step_s = np.diff(samples.time_s)[same]
    deep = is_deep(table)[samples.passage[1:][same]]
    assert step_s[~deep].max() <= 20.0 + 1e-9
    assert 100.0 < step_s[deep].max() <= 300.0 + 1e-6
    # a stay of twelve hours does not explode
    counts = np.diff(samples.offsets)
    longest = table.finish_s - table.begin_s > 11.9 * 3600
    assert (longest & is_deep(table)).sum() > 5
    assert counts[longest & is_deep(table)].max() < 500


def test_samples_are_the_propagators(table, samples):
    propagator = Propagator(table.catalogue, table.start, fast=False)
    for i in range(0, len(table), 37):
        part = slice(samples.offsets[i], samples.offsets[i + 1])
        row = int(table.row[i])
        position, velocity, error = propagator.states(row, samples.time_s[part])
        assert not error.any()
        assert_allclose(samples.position_km[part], position, rtol=0, atol=2e-8)
        assert_allclose(samples.velocity_km_s[part], velocity, rtol=0, atol=1e-10)


def test_between_samples_to_a_metre(table, samples):
    rng = np.random.default_rng(5)
    passage = rng.integers(0, len(table), 5000)
    share = np.append(rng.uniform(0.0, 1.0, 4000), rng.uniform(0.0, 0.02, 1000))
    length_s = (table.finish_s - table.begin_s)[passage]
    time_s = table.begin_s[passage] + share * length_s
    there, _, _ = Propagator(table.catalogue, table.start, fast=False).many(
        table.row[passage], time_s[:, np.newaxis]
    )
    apart = np.linalg.norm(samples.at(passage, time_s) - there[:, 0], axis=1)
    assert apart.max() < METRE_KM
    assert np.median(apart) < 1e-5
    # and a second beyond the ends, for rates
    beyond = samples.at(np.arange(len(table)), table.finish_s + 1.0)
    there, _, _ = Propagator(table.catalogue, table.start, fast=False).many(
        table.row, table.finish_s[:, np.newaxis] + 1.0
    )
    assert np.linalg.norm(beyond - there[:, 0], axis=1).max() < METRE_KM


@settings(max_examples=15, deadline=None)
@given(st.floats(5.0, 60.0), st.integers(6, 40))
def test_other_steps(table, step_s, least):
    some = table.take(np.arange(0, len(table), 20))
    samples = sample(some, step_s=step_s, least=least)
    counts = np.diff(samples.offsets)
    assert counts.min() >= least
    same = np.diff(samples.passage) == 0
    deep = is_deep(some)[samples.passage[1:][same]]
    assert np.diff(samples.time_s)[same][~deep].max(initial=0.0) <= step_s + 1e-9
    assert_array_equal(samples.time_s[samples.offsets[:-1]], some.begin_s)


def test_perigees_are_not_skipped():
    # up from perigee to apogee: samples crowd where the object is quick
    from benchmarks.made_catalogue import catalogue_of

    satrecs = [
        invented(2.27, 0.73, 30.0, node_deg=30.0 * i, argument_deg=200.0)
        for i in range(12)
    ]
    catalogue = catalogue_of([*satrecs, geostationary(-3.0, 1.0)])
    table = search(catalogue, SIERRA, START, 24.0, 0.0)
    samples = sample(table)
    same = np.diff(samples.passage) == 0
    moved = np.linalg.norm(np.diff(samples.position_km, axis=0), axis=1)[same]
    assert moved.max() < 1500.0
    step_s = np.diff(samples.time_s)[same]
    assert step_s.min() < 60.0
    assert step_s.max() <= 300.0 + 1e-6


def test_passes_that_end_in_failure_can_be_sampled():
    table = search(sinking(1e-3, 60), SIERRA, START, 12.0, -5.0)
    samples = sample(table)
    assert np.isfinite(samples.position_km).all()


def test_late_objects_are_sampled_late():
    from dataclasses import replace

    catalogue = made_catalogue(60, seed=41)
    late = replace(catalogue, late_s=np.full(60, 25.0))
    table = search(late, SIERRA, START, 6.0)
    samples = sample(table)
    row = table.row[samples.passage]
    there, _, _ = Propagator(catalogue, START, fast=False).many(
        row, samples.time_s[:, np.newaxis] - 25.0
    )
    assert_allclose(samples.position_km, there[:, 0], rtol=0, atol=1e-7)


def test_no_passes():
    nothing = search(made_catalogue(1), SIERRA, START + timedelta(hours=1), 1 / 3600)
    nothing = nothing.take(np.array([], dtype=int))
    samples = sample(nothing)
    assert samples.offsets.tolist() == [0]
    assert samples.position_km.shape == (0, 3)


@pytest.mark.parametrize("how", [{"step_s": 0.0}, {"step_s": np.nan}, {"least": 5}])
def test_what_makes_no_sense_is_refused(table, how):
    with pytest.raises(InputError, match="at least"):
        sample(table, **how)
