"""Objects whose places come from an ephemeris of their own, found like any other."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.made_catalogue import START, made_catalogue
from kernels.test_orbits import Borrowed
from numpy.testing import assert_allclose, assert_array_equal
from properties.brute_force import search, tidy

from passes.elements import Catalogue
from passes.finder import parallel, sample, screen
from passes.model import Flags, Site
from passes.orbits import ERROR_WORDS, NO_EPHEMERIS

SIERRA = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
COUNT = 30


def with_ephemerides(plain: Catalogue, **known_s: float) -> Catalogue:
    """The first ten rows take SGP4's places from an ephemeris, up to a time."""
    sources = {row: Borrowed(plain, row, **known_s) for row in range(10)}
    return replace(plain, ephemerides=sources)


@pytest.fixture(scope="module")
def plain():
    """Thirty invented objects."""
    return made_catalogue(COUNT, seed=51)


@pytest.mark.parametrize("processes", [1, 2])
def test_the_same_passes_as_by_sgp4(monkeypatch, plain, processes):
    monkeypatch.setattr(parallel, "_may_fork", lambda: False)
    one = search(plain, SIERRA, START, fast=False)
    other = search(
        with_ephemerides(plain), SIERRA, START, processes=processes, fast=False
    )
    tidy(other)
    assert (other.row < 10).sum() > 10
    assert_array_equal(one.row, other.row)
    assert_array_equal(one.flags, other.flags)
    for name in ("rise", "set"):
        ours, theirs = getattr(one, name), getattr(other, name)
        assert_allclose(ours.time_s, theirs.time_s, rtol=0, atol=1e-3)
        assert_allclose(ours.azimuth_deg, theirs.azimuth_deg, rtol=0, atol=1e-3)
    top, there = one.culmination, other.culmination
    assert_allclose(top.altitude_deg, there.altitude_deg, rtol=0, atol=1e-4)


def test_the_screen_is_not_asked(monkeypatch, plain):
    seen = []
    true_zones = screen.zones

    def counted(orbits, frame):
        seen.append(orbits.axis_km.size)
        return true_zones(orbits, frame)

    monkeypatch.setattr("passes.finder.block.zones", counted)
    search(with_ephemerides(plain), SIERRA, START)
    assert sum(seen) == COUNT - 10


def test_an_ephemeris_that_ends(plain):
    known_s = 5 * 3600.0
    whole = search(plain, SIERRA, START)
    table = search(with_ephemerides(plain, known_s=known_s), SIERRA, START)
    tidy(table)
    early = (whole.row >= 10) | (whole.begin_s < known_s)
    assert_array_equal(table.row, whole.row[early])
    up = (table.flags & Flags.ENDS_IN_FAILURE) != 0
    assert_allclose(table.finish_s[up], known_s, rtol=0, atol=2e-3)
    assert len(table.skipped) == 10
    assert all(ERROR_WORDS[NO_EPHEMERIS] in entry.reason for entry in table.skipped)
    assert all("SGP4" not in entry.reason for entry in table.skipped)


def test_samples_come_from_the_ephemeris(plain):
    objects = with_ephemerides(plain)
    table = search(objects, SIERRA, START)
    for source in objects.ephemerides.values():
        source.asked = 0
    samples = sample(table)
    rows = np.unique(table.row[table.row < 10]).tolist()
    assert all(objects.ephemerides[row].asked for row in rows)
    assert np.isfinite(samples.velocity_km_s).all()
