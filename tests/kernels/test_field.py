"""The tangent plane, the frame in it, and paths through a rectangle."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from passes import field

ANGLES = st.floats(-3.1, 3.1)
NEAR = st.floats(-0.05, 0.05)


@given(st.floats(0.0, 6.28), st.floats(-1.55, 1.55), NEAR, NEAR)
def test_the_plane_undoes_itself(
    ra: float, dec: float, east: float, north: float
) -> None:
    back = field.standard(*field.sky_of(east, north, ra, dec), ra, dec)
    assert np.allclose(back, (east, north), atol=1e-12)


def test_a_degree_north_is_a_tangent_up() -> None:
    east, north = field.standard(0.3, np.radians(41.0), 0.3, np.radians(40.0))
    assert east == pytest.approx(0.0)
    assert north == pytest.approx(np.tan(np.radians(1.0)))


def test_the_far_half_of_the_sky_has_no_place() -> None:
    assert np.isnan(field.standard(np.pi, 0.0, 0.0, 0.0)).all()


@given(NEAR, NEAR, ANGLES, st.booleans())
def test_the_frame_undoes_itself(
    east: float, north: float, angle: float, mirrored: bool
) -> None:
    right, up = field.in_frame(east, north, angle, mirrored)
    back = field.from_frame(right, up, angle, mirrored)
    assert np.allclose(back, (east, north), atol=1e-15)


def test_with_north_up_east_is_to_the_left() -> None:
    right, up = field.in_frame(1.0, 0.0, 0.0)
    assert (right, up) == pytest.approx((-1.0, 0.0))
    right, up = field.in_frame(1.0, 0.0, 0.0, True)
    assert (right, up) == pytest.approx((1.0, 0.0))


def test_a_position_angle_of_ninety_puts_east_up() -> None:
    right, up = field.in_frame(1.0, 0.0, np.pi / 2)
    assert (right, up) == pytest.approx((0.0, 1.0), abs=1e-15)


def test_a_flip_turns_pixels_about_the_middle() -> None:
    size = (600.0, 400.0)
    before = field.pixels(*field.in_frame(1e-3, 2e-3, 0.3), 2.0, size)
    after = field.pixels(*field.in_frame(1e-3, 2e-3, 0.3 + np.pi), 2.0, size)
    assert before[0] + after[0] == pytest.approx(601.0)
    assert before[1] + after[1] == pytest.approx(401.0)


@given(st.floats(-900.0, 900.0), st.floats(-900.0, 900.0))
def test_pixels_undo_themselves(x: float, y: float) -> None:
    right, up = field.from_pixels(x, y, 1.93, (600.0, 400.0))
    assert np.allclose(field.pixels(right, up, 1.93, (600.0, 400.0)), (x, y))


def test_what_a_rectangle_spans_across_a_motion() -> None:
    assert field.reach(3.0, 2.0, 0.0) == pytest.approx(3.0)
    assert field.reach(3.0, 2.0, np.pi / 2) == pytest.approx(2.0)
    assert field.reach(3.0, 2.0, np.pi / 4) == pytest.approx(5.0 / np.sqrt(2.0))


def test_a_straight_run_through_the_middle() -> None:
    _, _, right, up = field.parabolas(
        [[0.0, 5.0, 10.0]], [[-5.0, 0.0, 5.0]], [[0.0, 0.0, 0.0]]
    )
    first, last = field.stay_in(right, up, [1.0], [1.0])
    assert first == pytest.approx([-0.2])
    assert last == pytest.approx([0.2])


def test_a_run_that_passes_by_stays_outside() -> None:
    _, _, right, up = field.parabolas(
        [[0.0, 5.0, 10.0]], [[-5.0, 0.0, 5.0]], [[2.0, 2.0, 2.0]]
    )
    first, last = field.stay_in(right, up, [1.0], [1.0])
    assert np.isnan(first).all()
    assert np.isnan(last).all()


def test_a_run_that_begins_inside_begins_at_its_start() -> None:
    _, _, right, up = field.parabolas([[0.0, 0.0, 4.0]], [[0.0, 0.0, 2.0]], [[0.0] * 3])
    first, last = field.stay_in(right, up, [1.0], [1.0])
    assert first == pytest.approx([-1.0])
    assert last == pytest.approx([0.0])


@given(
    st.lists(st.floats(-3.0, 3.0), min_size=6, max_size=6),
    st.floats(-0.9, 0.9),
)
@example([0.0, 0.0, 0.0, 0.0, 0.0, 2.2250738585e-313], 0.0)  # a root beyond all floats
def test_the_stay_is_where_a_fine_search_has_it(
    places: list[float], middle: float
) -> None:
    right_at, up_at = places[:3], places[3:]
    times = [-1.0, middle, 1.0]
    _, _, right, up = field.parabolas([times], [right_at], [up_at])
    first, last = field.stay_in(right, up, [1.0], [0.7])
    u = np.linspace(-1.0, 1.0, 20_001)
    across = np.abs(field.at(right, u[:, None])[:, 0])
    along = np.abs(field.at(up, u[:, None])[:, 0])
    # a path that only touches an edge for an instant may be in or out
    inside = (across < 1.0 - 1e-9) & (along < 0.7 - 1e-9)
    touching = u[(across <= 1.0 + 1e-9) & (along <= 0.7 + 1e-9)]
    if inside.any():
        assert first[0] <= u[inside][0] + 1e-9
        assert last[0] >= u[inside][-1] - 1e-9
        assert first[0] >= touching[0] - 2e-4
        assert last[0] <= touching[-1] + 2e-4
    elif np.isfinite(first[0]):  # shorter than the search's step, or along an edge
        assert last[0] - first[0] < 2e-4 or touching.size
