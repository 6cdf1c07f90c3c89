"""Arithmetic on vectors: identities that hold for every direction."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import vectors

angles = st.floats(-7.0, 7.0)
latitudes = st.floats(-1.57, 1.57)
parts = st.floats(-1e5, 1e5).map(lambda x: 0.0 if abs(x) < 1e-3 else x)
triples = st.tuples(parts, parts, parts)


def test_products_follow_their_definitions() -> None:
    a, b = [1.0, 2.0, 3.0], [-4.0, 5.0, 0.5]
    assert float(vectors.dot(a, b)) == 7.5
    assert vectors.cross(a, b).tolist() == [-14.0, -12.5, 13.0]
    assert float(vectors.norm([3.0, 4.0, 12.0])) == 13.0


def test_leading_axes_broadcast() -> None:
    many = np.ones((5, 7, 3))
    assert vectors.dot(many, [1.0, 0.0, 0.0]).shape == (5, 7)
    assert vectors.rotate_z([1.0, 0.0, 0.0], np.zeros(4)).shape == (4, 3)
    assert vectors.apply(np.eye(3), many).shape == (5, 7, 3)
    assert vectors.direction(np.zeros(4), 0.5).shape == (4, 3)


def test_a_vector_of_no_length_has_no_direction() -> None:
    assert np.isnan(vectors.unit([0.0, 0.0, 0.0])).all()


@pytest.mark.parametrize("angle", [1e-12, 1e-6, 0.5, np.pi / 2, np.pi - 1e-6])
def test_separation_is_well_conditioned_everywhere(angle: float) -> None:
    u = vectors.direction(0.3, 0.0)
    v = vectors.direction(0.3 + angle, 0.0)
    np.testing.assert_allclose(
        float(vectors.separation_rad(u, 5.0 * v)), angle, rtol=0, atol=3e-16
    )


def test_turning_about_z_goes_from_x_to_y() -> None:
    turned = vectors.rotate_z([1.0, 0.0, 4.0], np.pi / 2)
    np.testing.assert_allclose(turned, [0.0, 1.0, 4.0], atol=1e-15)


@given(triples, triples, angles)
def test_turning_preserves_lengths_and_products(
    a: tuple[float, ...], b: tuple[float, ...], angle: float
) -> None:
    u, v = vectors.rotate_z(a, angle), vectors.rotate_z(b, angle)
    scale = float(vectors.norm(a)) * float(vectors.norm(b)) + 1e-300
    np.testing.assert_allclose(vectors.norm(u), vectors.norm(a), rtol=1e-14, atol=1e-13)
    assert abs(float(vectors.dot(u, v)) - float(vectors.dot(a, b))) <= 1e-14 * scale
    np.testing.assert_allclose(vectors.rotate_z(u, -angle), a, rtol=0, atol=1e-10)


@given(st.floats(0.0, 6.28), latitudes)
def test_spherical_undoes_direction(lon: float, lat: float) -> None:
    back_lon, back_lat, length = vectors.spherical(3.0 * vectors.direction(lon, lat))
    np.testing.assert_allclose(length, 3.0, rtol=1e-15)
    np.testing.assert_allclose(back_lat, lat, atol=1e-12)
    np.testing.assert_allclose(
        np.cos(back_lon - lon), 1.0, atol=1e-14, err_msg="longitude"
    )
    assert 0.0 <= float(back_lon) < 2 * np.pi


def test_a_longitude_just_below_zero_stays_below_a_full_circle() -> None:
    longitude, _, _ = vectors.spherical([1.0, -1e-18, 0.0])
    assert 0.0 <= float(longitude) < 2 * np.pi


@given(st.lists(st.tuples(triples, triples), min_size=1, max_size=6))
def test_array_call_equals_scalar_calls(
    pairs: list[tuple[tuple[float, ...], ...]],
) -> None:
    a, b = np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])
    together = vectors.separation_rad(a, b)
    assert together.tolist() == [float(vectors.separation_rad(p, q)) for p, q in pairs]
