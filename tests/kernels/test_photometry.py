"""Magnitudes: shapes, limits and the three conventions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import photometry
from passes.errors import UnknownName

phases = st.floats(0.0, 3.1)
ranges = st.floats(150.0, 50_000.0)


def test_phase_is_the_angle_at_the_satellite() -> None:
    satellite, sun = [7000.0, 0.0, 0.0], [1.5e8, 0.0, 0.0]
    angle = photometry.phase_angle_rad(satellite, sun, [[8000.0, 0, 0], [6378.0, 0, 0]])
    np.testing.assert_allclose(angle, [0.0, np.pi], atol=1e-12)
    side = photometry.phase_angle_rad(satellite, sun, [7000.0, 500.0, 0.0])
    assert float(side) == pytest.approx(np.pi / 2)


def test_a_sphere_lit_from_behind_is_invisible() -> None:
    dark = photometry.apparent_magnitude(0.0, 1000.0, np.pi, "full")
    assert float(dark) > 40.0
    seen = photometry.apparent_magnitude(4.0, 1000.0, np.pi, "mean-no-phase")
    assert float(seen) == 4.0


def test_conventions_may_differ_from_object_to_object() -> None:
    words = ["lambert90", "full", "mean-no-phase"]
    together = photometry.apparent_magnitude(5.0, 2000.0, 0.7, words)
    alone = [float(photometry.apparent_magnitude(5.0, 2000.0, 0.7, w)) for w in words]
    assert together.tolist() == alone


def test_an_unknown_convention_lists_the_known_ones() -> None:
    with pytest.raises(UnknownName, match="lambert90, full, mean-no-phase"):
        photometry.apparent_magnitude(5.0, 1000.0, 0.0, "lambert45")


def test_a_mean_over_unknown_phases_is_not_converted() -> None:
    with pytest.raises(UnknownName, match="mean-no-phase"):
        photometry.converted(5.0, "mean-no-phase", "full")


@given(phases, ranges, st.floats(-3.0, 9.0))
def test_converting_the_convention_changes_nothing_seen(
    phase: float, distance: float, standard: float
) -> None:
    full = photometry.converted(standard, "lambert90", "full")
    a = float(photometry.apparent_magnitude(standard, distance, phase, "lambert90"))
    b = float(photometry.apparent_magnitude(full, distance, phase, "full"))
    assert a == pytest.approx(b, abs=1e-12)


@given(phases, phases, ranges, ranges)
def test_farther_or_less_lit_is_never_brighter(
    p: float, q: float, near: float, far: float
) -> None:
    (p, q), (near, far) = sorted((p, q)), sorted((near, far))
    bright = float(photometry.apparent_magnitude(3.0, near, p, "full"))
    faint = float(photometry.apparent_magnitude(3.0, far, q, "full"))
    assert faint >= bright - 1e-12


@given(st.floats(1e-6, 1.0))
def test_a_part_of_the_disc_dims_by_its_logarithm(part: float) -> None:
    dimmed = float(photometry.dim_by_fraction(2.0, part))
    assert 10 ** (-0.4 * (dimmed - 2.0)) == pytest.approx(part, rel=1e-12)


def test_no_light_is_infinitely_faint_and_unknown_stays_unknown() -> None:
    dimmed = photometry.dim_by_fraction(2.0, [0.0, np.nan])
    assert np.isposinf(dimmed[0])
    assert np.isnan(dimmed[1])
