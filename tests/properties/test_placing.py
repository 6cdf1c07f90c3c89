"""Placing held against trying everything, and what must hold of any placement."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passes.errors import InputError
from passes.placing import Chore, place


def tried(values, which, steps, chains, most_held, price):
    """The best value by trying every sequence of acts, apart from the kernel."""

    @cache
    def best(time, taken, done, held):
        found = 0.0
        if taken == len(which):
            return found
        pending = [
            (i, chain[n])
            for i, (chain, n) in enumerate(zip(chains, done, strict=True))
            if n < len(chain)
        ]
        for i, one in pending:
            if one.due is not None and taken > one.last:  # no longer needed
                skipped = tuple(n + (j == i) for j, n in enumerate(done))
                return best(time, taken, skipped, held)
        free = all(
            (time < one.due or taken < one.first)
            if one.due is not None
            else taken < one.last
            for _, one in pending
        )
        worth = values[which[taken], time] if time < values.shape[1] else -np.inf
        if free and np.isfinite(worth):
            found = max(found, worth + best(time + steps[taken], taken + 1, done, held))
        for i, one in pending:
            if taken >= one.first and time >= one.not_before:
                after = tuple(n + (j == i) for j, n in enumerate(done))
                found = max(found, best(time + one.steps, taken, after, held))
        if held < most_held:
            found = max(found, best(time + 1, taken, done, held + 1) - price)
        return found

    return best(0, 0, (0,) * len(chains), 0)


@st.composite
def chores(draw, n):
    """A chain of one or two chores with room, and perhaps one that is due by time."""
    first = draw(st.integers(0, n - 1))
    room = draw(st.integers(0, 2))
    chain = [Chore(steps=draw(st.integers(1, 3)), first=first, last=first + room)]
    if draw(st.booleans()):
        second = first + room + draw(st.integers(0, 2))
        chain.append(Chore(steps=draw(st.integers(1, 3)), first=second, last=second))
    chains = [chain]
    if draw(st.booleans()):
        when = draw(st.integers(0, 12))
        late = draw(st.integers(0, 3))
        begin = draw(st.integers(0, n - 1))
        last = draw(st.integers(begin, n))
        chore = Chore(steps=2, first=begin, last=last, not_before=when, due=when + late)
        chains.append([chore])
    return chains


@st.composite
def cases(draw):
    n = draw(st.integers(1, 5))
    steps = [draw(st.integers(1, 4)) for _ in range(n)]
    which = [draw(st.integers(0, 1)) for _ in range(n)]
    worth = st.sampled_from([0.0, 1.0, 2.5, 4.0, 7.0, float("-inf")])
    t = draw(st.integers(3, 24))
    values = np.array([[draw(worth) for _ in range(t)] for _ in range(2)])
    chains = draw(chores(n)) if draw(st.booleans()) else []
    return values, which, steps, chains, draw(st.integers(0, 5))


@settings(max_examples=300, deadline=None)
@given(cases(), st.sampled_from([0.25, 1.0, 2.0]))
def test_no_order_of_acts_is_better(case, price) -> None:
    values, which, steps, chains, most_held = case
    found = place(values, which, steps, chains=chains, most_held=most_held, price=price)
    wanted = tried(values, which, steps, chains, most_held, price)
    assert found.value == pytest.approx(wanted, abs=1e-9)
    taken = [t for t in found.starts if t >= 0]
    gained = sum(values[which[i], t] for i, t in enumerate(taken))
    assert gained - price * found.held == pytest.approx(found.value, abs=1e-9)
    ends = [t + s for t, s in zip(taken, steps, strict=False)]
    assert all(a <= b for a, b in zip(ends, taken[1:], strict=False))
    assert 0 <= found.held <= most_held


def test_a_bright_crossing_is_waited_out_where_that_pays() -> None:
    """Ten seconds of waiting save a sub of 100; two hundred would not be worth it."""
    worth = np.full((1, 400), 100.0)
    worth[0, :10] = 0.0
    found = place(worth, [0], [100], most_held=300)
    assert (found.starts, found.held, found.value) == ((10,), 10, 90.0)
    worth[0, :101] = 0.0
    found = place(worth, [0], [100], most_held=300)
    assert (found.starts, found.held) == ((0,), 0)


def test_a_hold_that_gains_only_its_own_length_is_not_made() -> None:
    worth = np.array([[90.0] * 10 + [100.0] * 10])
    assert place(worth, [0], [5], most_held=15).starts == (0,)
    worth[0, 0:10] = 89.0
    assert place(worth, [0], [5], most_held=15).starts == (10,)


def test_a_focus_run_is_put_onto_the_crossing() -> None:
    """Four subs of 10 and a run of 10, due after the third: done after the first."""
    worth = np.full((1, 60), 10.0)
    worth[0, 1:20] = 0.0  # whatever opens there is lost
    run = Chore(steps=10, first=1, last=3)
    found = place(worth, [0] * 4, [10] * 4, chains=[[run]], most_held=5)
    assert found.starts == (0, 20, 30, 40)
    assert found.chores == ((10,),)
    assert (found.held, found.value) == (0, 40.0)


def test_what_would_end_too_late_is_left_out() -> None:
    worth = np.full((1, 15), 10.0)
    found = place(worth, [0] * 3, [10] * 3, most_held=0)
    assert found.starts == (0, 10, -1)


def test_impossible_lengths_are_refused() -> None:
    with pytest.raises(InputError, match="a step or more"):
        place(np.ones((1, 5)), [0], [0], most_held=1)
    with pytest.raises(InputError, match="too much"):
        place(np.ones((1, 5)), [0] * 30_000, [1] * 30_000, most_held=30_000)


def test_without_a_reason_to_wait_a_flip_comes_soon_and_a_dither_late() -> None:
    worth = np.full((1, 200), 10.0)
    flip = Chore(steps=5, first=0, last=5, not_before=15, due=60)
    dither = Chore(steps=2, first=1, last=3)
    found = place(worth, [0] * 6, [10] * 6, chains=[[flip], [dither]], most_held=5)
    assert found.starts == (0, 10, 25, 37, 47, 57)
    assert found.chores == ((20,), (35,))
