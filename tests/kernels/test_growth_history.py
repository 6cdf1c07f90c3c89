"""Classes and objects re-scaled by what their own successive sets were off by."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.growth import drag_s_day2, history

ONE = np.ones(1)


def scale_of(off: list[float], sets: int, usual: float = 0.0) -> float:
    """The scale of one object whose class promised a second each time."""
    return float(
        history.own_scales(
            np.zeros(len(off), dtype=np.int64),
            np.array(off),
            np.ones(len(off)),
            np.array([usual]),
            np.array([sets]),
        )[0]
    )


def test_a_class_needs_thirty_pairs() -> None:
    late = np.full(29, 5.0)
    code = np.zeros(29, dtype=np.int64)
    sigma, bound, pairs = history.class_scales(code, late, late / 5, late / 5, 2)
    assert sigma.tolist() == bound.tolist() == [1.0, 1.0]
    assert pairs.tolist() == [29, 0]


def test_a_class_moves_towards_its_own_quantiles_but_not_all_the_way() -> None:
    rng = np.random.default_rng(4)
    n = 4000
    late = 3.0 * np.abs(rng.standard_normal(n))  # sigma 3 s, promised 1 s and 2 s
    code = np.zeros(n, dtype=np.int64)
    sigma, bound, _ = history.class_scales(code, late, np.ones(n), np.full(n, 2.0), 1)
    assert sigma[0] == pytest.approx(3.0**history.MOST_WEIGHT, rel=0.03)
    assert bound[0] == pytest.approx(
        (1.96 * 3.0 / 2.0) ** history.MOST_WEIGHT, rel=0.05
    )


def test_a_quiet_week_lowers_a_class_less_than_a_stormy_one_lifts_it() -> None:
    n = 1000
    code, ones = np.zeros(n, dtype=np.int64), np.ones(n)
    quiet = history.class_scales(code, ones / 4, ones, ones, 1)[0][0]
    storm = history.class_scales(code, ones * 4, ones, ones, 1)[0][0]
    assert 0.5 < quiet < 1.0 < 2.0 < storm
    assert np.log(storm) > 1.5 * -np.log(quiet)


def test_the_bound_of_a_class_does_not_come_within_its_sigma() -> None:
    # pairs all off alike: their 95 % quantile is no larger than their 68.3 %
    n = 100
    late, code = np.full(n, 10.0), np.zeros(n, dtype=np.int64)
    sigma, bound, _ = history.class_scales(code, late, np.ones(n), np.full(n, 9.0), 1)
    assert 9.0 * bound[0] > 1.4 * sigma[0]


def test_two_sets_are_no_history() -> None:
    assert scale_of([9.0], sets=2) == 1.0


def test_history_weighs_more_the_longer_it_is() -> None:
    scales = [scale_of([9.0] * (sets - 1), sets) for sets in (3, 5, 9, 40)]
    assert scales == sorted(scales)
    assert scales[0] == pytest.approx(9.0 ** (2 / (2 + history.CLASS_STRETCHES)))
    assert 1.0 < scales[0] < scales[-1] < 9.0


def test_an_object_like_its_class_stays_with_it() -> None:
    assert scale_of([0.5, 0.5, 0.5], sets=4, usual=np.log(0.5)) == pytest.approx(1.0)


@given(st.lists(st.floats(0.0, 1e5), min_size=1, max_size=30), st.integers(0, 60))
def test_history_never_moves_an_object_beyond_reason(off: list[float], n: int) -> None:
    scale = scale_of(off, n)
    assert np.exp(history.LEAST_SHIFT) <= scale <= np.exp(history.MOST_SHIFT)


def test_objects_do_not_share_their_history() -> None:
    owner = np.array([0, 0, 2, 2])
    off, sets = np.array([9.0, 9.0, 0.1, 0.1]), np.array([3, 0, 3])
    scales = history.own_scales(owner, off, np.ones(4), np.zeros(3), sets)
    assert scales[0] > 1.0
    assert scales[1] == 1.0
    assert scales[2] < 1.0


# --- steering ------------------------------------------------------------------------


def motion_after(motion: float, drag: float, days: float) -> float:
    """Revolutions a day after drag has worked for some days, to first order."""
    return motion + 2.0 * drag * motion / 86400.0 * days


@pytest.mark.parametrize("drag", [0.01, 0.5, 5.0])
@pytest.mark.parametrize("share", [0.2, 1.0, 1.9])
def test_air_alone_is_not_taken_for_steering(drag: float, share: float) -> None:
    # the air of the coming days may be anything from none to nearly twice the fitted
    later = motion_after(15.4, share * drag, 3.0)
    said = history.steered(15.4 * ONE, later * ONE, drag * ONE, drag * ONE, 3.0 * ONE)
    assert not said[0]


def test_a_lift_of_fifty_metres_is_seen() -> None:
    axis = 6778.0
    motion = 15.55
    later = motion * (1.0 - 1.5 * 0.050 / axis)
    drag = 0.05 * ONE
    assert history.steered(motion * ONE, later * ONE, drag, drag, ONE)[0]
    fallen = motion * (1.0 + 1.5 * 0.050 / axis)
    assert history.steered(motion * ONE, fallen * ONE, drag, drag, ONE)[0]


def test_far_out_sun_and_moon_are_not_taken_for_steering() -> None:
    none = np.zeros(1)
    assert not history.steered(1.0027 * ONE, 1.0030 * ONE, none, none, ONE)[0]


def test_drag_of_a_circular_orbit_by_hand() -> None:
    # B* 1e-4 at 400 km: 1.5 · C1 · t² with C1 = B* · C2 and C2 = q⁴ξ⁴ n a (1 + …),
    # q = 42 km, ξ = 1/(a − s): done with a pocket calculator
    got = float(drag_s_day2(0.0678, 1e-5, 0.0, 1e-4))
    assert got == pytest.approx(by_hand(0.0678, 1e-4), rel=0.01)


def by_hand(motion: float, bstar: float) -> float:
    """The same for an orbit that is a circle, written out on one line."""
    axis = (0.0743669161 / motion) ** (2 / 3)  # Kozai's, 0.1 % off Brouwer's
    axis *= 1.0 - 0.75 * 1.082616e-3 * 2.0 / axis**2 / 3.0
    c2 = (42 / 6378.135) ** 4 / (axis - 1 - 78 / 6378.135) ** 4 * motion * axis
    return 1.5 * bstar * c2 * 1440 * 86400
