"""Spans found as runs in samples, placed between them, and intersected."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from passes.forecast.ragged import Spans, intersect, spans_where


def sine_samples(periods, step_s):
    """Passages that each see ``sin(2πt/period)`` from 0 to 100 s."""
    time_s = np.arange(0.0, 100.0 + step_s / 2, step_s)
    passage = np.repeat(np.arange(len(periods)), time_s.size)
    return passage, np.tile(time_s, len(periods))


def test_edges_are_found_between_samples():
    periods = np.array([40.0, 64.0])
    passage, time_s = sine_samples(periods, 5.0)

    def above(of, at_s):
        return np.sin(2 * np.pi * at_s / periods[of]) > 0.5

    spans = spans_where(above(passage, time_s), passage, time_s, above)
    expected = [(0, p / 12 + k * p, 5 * p / 12 + k * p) for p in [40.0] for k in (0, 1)]
    expected += [(0, 40 / 12 + 80, 5 * 40 / 12 + 80)]
    expected += [(1, 64 / 12, 5 * 64 / 12), (1, 64 / 12 + 64, 5 * 64 / 12 + 64)]
    assert spans.of.tolist() == [one[0] for one in expected]
    np.testing.assert_allclose(spans.start_s, [one[1] for one in expected], atol=0.005)
    np.testing.assert_allclose(spans.end_s, [one[2] for one in expected], atol=0.005)


def test_a_run_does_not_spill_into_the_next_passage():
    passage = np.array([0, 0, 1, 1])
    time_s = np.array([0.0, 10.0, 0.0, 10.0])
    spans = spans_where(np.ones(4, dtype=bool), passage, time_s, lambda p, t: t < 1e9)
    assert spans.of.tolist() == [0, 1]
    assert spans.start_s.tolist() == [0.0, 0.0]
    assert spans.end_s.tolist() == [10.0, 10.0]


edges = st.lists(st.integers(0, 40), unique=True, max_size=8)


def of_edges(per_passage):
    """Disjoint spans of several passages from lists of edges."""
    of, start, end = [], [], []
    for passage, ends in enumerate(per_passage):
        ends = sorted(ends)[: len(ends) // 2 * 2]
        of += [passage] * (len(ends) // 2)
        start += ends[0::2]
        end += ends[1::2]
    return Spans(
        np.array(of, dtype=np.int64), np.array(start, float), np.array(end, float)
    )


@given(st.lists(edges, min_size=3, max_size=3), st.lists(edges, min_size=3, max_size=3))
def test_an_intersection_holds_exactly_where_both_hold(left, right):
    a, b = of_edges(left), of_edges(right)
    both = intersect(a, b)

    def inside(spans, passage, t):
        mine = spans.of == passage
        return bool(np.any(mine & (spans.start_s < t) & (t < spans.end_s)))

    for passage in range(3):
        for t in np.arange(0.5, 40.0):
            want = inside(a, passage, t) and inside(b, passage, t)
            assert inside(both, passage, t) == want


def test_durations_add_up_by_passage():
    spans = Spans(
        np.array([0, 0, 2]), np.array([0.0, 5.0, 1.0]), np.array([1.0, 9.0, 4.0])
    )
    assert spans.duration_s(3).tolist() == [5.0, 0.0, 3.0]
    assert spans.per(3).tolist() == [0, 2, 2, 3]
