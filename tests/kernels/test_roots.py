"""Roots and peaks of many functions at once."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from passes import roots

Floats = NDArray[np.float64]
Finder = Callable[..., Floats]
FINDERS = [roots.bisect, roots.refine]


@pytest.mark.parametrize("find", FINDERS)
@given(
    shifts=st.lists(st.floats(-0.99, 0.99), min_size=1, max_size=8),
    tol=st.sampled_from([1e-2, 1e-5, 1e-9]),
)
def test_every_bracket_finds_its_own_root(
    find: Finder, shifts: list[float], tol: float
) -> None:
    where = np.array(shifts)
    found = find(
        lambda x: np.expm1(3.0 * (x - where)), -1.0 * np.ones_like(where), 1.0, tol
    )
    assert (np.abs(found - where) <= tol + 1e-15).all()


@pytest.mark.parametrize("find", FINDERS)
def test_awkward_functions_still_settle(find: Finder) -> None:
    def flat(x: Floats) -> Floats:  # a ninth-order touch, a step, and a steep wall
        return np.stack(
            [(x[0] - 0.2) ** 9, np.sign(x[1] - 0.7), np.tanh(1e6 * (x[2] - 0.4))]
        )

    found = find(flat, np.zeros(3), np.ones(3), 1e-9)
    np.testing.assert_allclose(found, [0.2, 0.7, 0.4], atol=1e-9)


@pytest.mark.parametrize("find", FINDERS)
def test_no_change_of_sign_is_unknown(find: Finder) -> None:
    found = find(
        lambda x: x**2 + np.array([1.0, -1.0]), np.zeros(2), 2.0 * np.ones(2), 1e-9
    )
    assert np.isnan(found[0])
    assert abs(found[1] - 1.0) < 1e-9


@pytest.mark.parametrize("find", FINDERS)
def test_an_end_that_is_zero_is_the_answer(find: Finder) -> None:
    assert find(lambda x: x - 2.0, [2.0], [3.0], 1e-6).tolist() == [2.0]
    assert find(lambda x: x - 3.0, [2.0], [3.0], 1e-6).tolist() == [3.0]


@pytest.mark.parametrize("find", FINDERS)
def test_nan_at_an_end_is_unknown_and_nothing_is_nothing(find: Finder) -> None:
    assert np.isnan(
        find(lambda x: np.where(x > 0.5, np.nan, x - 0.2), [0.0], [1.0], 1e-6)
    )
    assert find(lambda x: x, [], [], 1e-6).shape == (0,)


def test_refining_needs_far_fewer_calls() -> None:
    calls = {"bisect": 0, "refine": 0}

    def counted(name: str) -> Callable[[Floats], Floats]:
        def f(x: Floats) -> Floats:
            calls[name] += 1
            return np.cos(x) - x

        return f

    roots.bisect(counted("bisect"), [0.0], [1.0], 1e-12)
    roots.refine(counted("refine"), [0.0], [1.0], 1e-12)
    assert calls["refine"] <= calls["bisect"] // 3


def test_the_fixed_point_of_the_cosine() -> None:
    # 0.7390851332151607: the well-known value, from memory.
    found = roots.refine(lambda x: np.cos(x) - x, [0.0], [1.0], 1e-14)
    np.testing.assert_allclose(found, [0.7390851332151607], atol=1e-14)


@given(st.floats(-3.0, 3.0), st.floats(-5.0, -0.01), st.floats(-10.0, 10.0))
def test_a_parabola_is_recovered_from_uneven_points(
    peak: float, curve: float, level: float
) -> None:
    t = np.array([-1.0, 0.4, 2.5])
    where, value = roots.parabola(t, curve * (t - peak) ** 2 + level)
    np.testing.assert_allclose(where, peak, atol=1e-9)
    np.testing.assert_allclose(value, level, atol=1e-9)


def test_a_straight_line_has_no_vertex() -> None:
    where, _ = roots.parabola([0.0, 1.0, 2.0], [1.0, 2.0, 3.0])
    assert np.isnan(where)


@given(st.lists(st.floats(-0.9, 0.9), min_size=1, max_size=6))
def test_highest_points_are_found_together(peaks: list[float]) -> None:
    where = np.array(peaks)
    time, value = roots.highest(
        lambda x: np.cos(x - where), -1.0 * np.ones_like(where), 1.0, 1e-6
    )
    np.testing.assert_allclose(time, where, atol=2e-6)
    np.testing.assert_allclose(value, 1.0, atol=1e-11)


def test_a_function_that_only_rises_is_highest_at_the_end() -> None:
    time, _ = roots.highest(lambda x: x, [0.0], [1.0], 1e-6)
    np.testing.assert_allclose(time, [1.0], atol=2e-6)


def test_changes_of_sign_among_samples() -> None:
    index, rising = roots.changes([-1.0, -0.5, 2.0, 3.0, 0.0, np.nan, 1.0])
    assert index.tolist() == [1, 3, 5]
    assert rising.tolist() == [True, False, True]
