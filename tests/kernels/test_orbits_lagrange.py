"""Interpolation through six nodes: exact where it must be, close where it may."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passes.orbits.lagrange import (
    PLACES,
    POINTS,
    between,
    extrapolate,
    slopes,
    weights,
)

coefficients = st.lists(st.floats(-2.0, 2.0), min_size=6, max_size=6)


def circle(time_s, period_s=5400.0, radius_km=6728.0):
    """Places on a circle in low orbit."""
    angle = 2 * np.pi * np.asarray(time_s) / period_s
    return radius_km * np.stack([np.cos(angle), np.sin(angle), 0.3 * angle], axis=-1)


@given(coefficients, st.floats(-2.0, 3.0))
def test_a_polynomial_of_the_fifth_degree_comes_back(powers, offset):
    nodes = np.polyval(powers, PLACES)
    value = (weights(offset) * nodes).sum()
    assert_allclose(value, np.polyval(powers, offset), atol=1e-10)
    slope = (slopes(offset) * nodes).sum()
    assert_allclose(slope, np.polyval(np.polyder(powers), offset), atol=1e-9)


def test_weights_are_one_at_their_node():
    assert_allclose(weights(np.array(PLACES)), np.eye(POINTS), atol=1e-15)
    assert weights(np.zeros((3, 2))).shape == (6, 3, 2)


@given(coefficients)
def test_extrapolation_continues_a_polynomial(powers):
    ticks = np.arange(-8.0, 0.0)
    nodes = np.polyval(powers, ticks)[:, np.newaxis]
    assert_allclose(extrapolate(nodes), np.polyval(powers, 0.0), atol=1e-8)
    back = extrapolate(nodes, backwards=True)
    assert_allclose(back, np.polyval(powers, -9.0), atol=1e-8)


@pytest.mark.parametrize(("step_s", "metres"), [(60.0, 0.005), (120.0, 0.3)])
def test_error_in_low_orbit(step_s, metres):
    # Measured on SGP4 in a 350 km orbit: 0.0037 m at 60 s, 0.24 m at 120 s.
    node_s = np.arange(0.0, 6000.0, step_s)
    at_s = np.linspace(3 * step_s, node_s[-4], 1001)
    offsets = np.array([0, node_s.size])
    zeros = np.zeros(at_s.size, dtype=int)
    placed = between(node_s, circle(node_s), offsets, zeros, at_s)
    error_m = np.linalg.norm(placed - circle(at_s), axis=1).max() * 1e3
    assert metres / 10 < error_m < metres


def test_stretches_of_their_own_times():
    rng = np.random.default_rng(3)
    counts = np.array([6, 11, 200, 7])
    offsets = np.concatenate([[0], np.cumsum(counts)])
    node_s = np.concatenate(
        [np.sort(rng.uniform(0, 20.0 * n, n)) + 9e4 * i for i, n in enumerate(counts)]
    )
    which = rng.integers(0, 4, 500)
    low, high = node_s[offsets[which]], node_s[offsets[which + 1] - 1]
    at_s = low + rng.uniform(0, 1, 500) * (high - low)
    placed = between(node_s, circle(node_s), offsets, which, at_s)
    assert_allclose(placed, circle(at_s), rtol=0, atol=0.05)
    # at a node, the node
    at_node = between(node_s, circle(node_s), offsets, [2], node_s[[offsets[2] + 50]])
    assert_allclose(at_node[0], circle(node_s[offsets[2] + 50]), rtol=1e-13)


def test_ends_of_a_stretch_and_just_beyond():
    node_s = np.arange(0.0, 200.0, 20.0)
    at_s = np.array([-1.0, 0.0, 0.5, 179.5, 180.0, 181.0])
    offsets = np.array([0, node_s.size])
    placed = between(node_s, circle(node_s), offsets, np.zeros(6, int), at_s)
    assert_allclose(placed, circle(at_s), rtol=0, atol=1e-6)


def test_a_stretch_too_short_is_refused():
    node_s = np.arange(5.0)
    with pytest.raises(ValueError, match="at least 6"):
        between(node_s, circle(node_s), np.array([0, 5]), [0], [2.0])
    nothing = between(node_s, circle(node_s), np.array([0, 5]), [], [])
    assert nothing.shape == (0, 3)
