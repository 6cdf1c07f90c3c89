"""Mounts: reach, blur, and the chance to catch a target while waiting."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passes import mount, vectors
from passes.constants import EARTH_ROTATION_RAD_S

rates = st.floats(1.0, 5000.0)
shakes = st.floats(0.0, 10.0)
frequencies = st.floats(0.5, 50.0)
allowances = st.floats(0.1, 30.0)


# --- axes --------------------------------------------------------------------


def test_limits_of_speed_and_acceleration_both_count():
    found = mount.within_limits([1, -3, 1, np.nan], [0, 0, 5, 0], 2.0, 4.0)
    assert found.tolist() == [True, False, False, False]
    assert mount.within_limits(1e9, np.nan, np.nan, np.nan)


def test_runs_are_found_at_both_ends():
    assert mount.runs([1, 1, 0, 1, 0, 0, 1]) == [(0, 1), (3, 3), (6, 6)]
    assert mount.longest_run([0, 1, 1, 0, 1]) == (1, 2)
    assert mount.longest_run([0, 0]) is None
    assert mount.longest_run([]) is None


@given(st.lists(st.booleans(), max_size=40))
def test_runs_are_the_mask_again(mask):
    again = np.zeros(len(mask), dtype=bool)
    for first, last in mount.runs(mask):
        assert not again[first : last + 1].any()
        again[first : last + 1] = True
    assert again.tolist() == mask


# --- blur --------------------------------------------------------------------


def test_a_short_exposure_sees_the_swing_as_a_speed():
    # 2π f A t: 8 Hz, 1″, 1 ms: 0.0503″ (common practice).
    found = float(mount.shake_travel_arcsec(1e-3, 1.0, 8.0))
    assert found == pytest.approx(2 * np.pi * 8.0 * 1e-3, rel=2e-4)


@given(shakes, frequencies, st.floats(1e-6, 10.0))
def test_a_swing_moves_no_more_than_a_swinging_point_can(amplitude, hz, exposure_s):
    """Against the largest difference of A sin within any exposure, found by trying."""
    begin = np.linspace(0.0, 1.0 / hz, 721)
    inside = np.linspace(0.0, min(exposure_s, 1.0 / hz), 61)
    place = amplitude * np.sin(2 * np.pi * hz * (begin[:, None] + inside))
    travelled = np.ptp(place, axis=1).max()
    found = float(mount.shake_travel_arcsec(exposure_s, amplitude, hz))
    assert found == pytest.approx(travelled, rel=2e-2, abs=1e-9)


@given(allowances, rates, shakes, frequencies)
def test_the_longest_exposure_blurs_by_what_is_allowed(allowed, rate, shake, hz):
    exposure = mount.blur_exposure_s(allowed, rate, shake, hz)
    assert float(mount.blur_arcsec(exposure, rate, shake, hz)) == pytest.approx(allowed)


@given(allowances, rates)
def test_without_shake_it_is_a_division(allowed, rate):
    assert float(mount.blur_exposure_s(allowed, rate)) == pytest.approx(allowed / rate)


def test_a_steady_target_may_be_exposed_for_an_hour_at_most():
    assert float(mount.blur_exposure_s(1.0, 0.0)) == 3600.0
    assert np.isnan(mount.blur_exposure_s(1.0, np.nan))


@given(allowances, rates, shakes, frequencies, st.floats(0.1, 1e4))
def test_a_following_mount_never_does_worse_than_a_fixed_one(
    allowed, rate, shake, hz, error
):
    left = mount.residual_rate_arcsec_s(rate, error, 1.0)
    fixed = mount.blur_exposure_s(allowed, rate, shake, hz)
    assert mount.blur_exposure_s(allowed, left, shake, hz) >= fixed * (1 - 1e-9)


@given(st.floats(0.05, 5.0), rates)
def test_twice_the_focal_length_is_half_the_exposure(scale, rate):
    """While pixels, not diffraction, set what is allowed."""
    once = mount.blur_exposure_s(mount.allowed_blur_arcsec(scale, np.nan), rate)
    half = mount.blur_exposure_s(mount.allowed_blur_arcsec(scale / 2, np.nan), rate)
    assert float(half) == pytest.approx(float(once) / 2)


def test_the_larger_of_two_pixels_and_diffraction_is_halved():
    assert float(mount.allowed_blur_arcsec(0.2, 0.5)) == 0.25
    assert float(mount.allowed_blur_arcsec(0.4, 0.5)) == 0.4
    assert float(mount.allowed_blur_arcsec(0.4, np.nan)) == 0.4


# --- waiting -----------------------------------------------------------------


@given(st.floats(0.01, 100.0), st.floats(1.2, 8.0))
def test_errors_keep_their_sigma_and_their_bound(sigma, wide):
    normal = np.random.default_rng(5).standard_normal(40_000)
    sizes = np.abs(mount.stretched(normal, sigma, wide * sigma))
    assert (sizes <= sigma * (1 + 1e-9)).mean() == pytest.approx(0.683, abs=0.01)
    assert (sizes <= wide * sigma).mean() == pytest.approx(0.95, abs=0.005)


def test_draws_are_the_same_every_time_and_unknown_is_none():
    known = {
        "timing_sigma_s": 0.5,
        "timing_bound_s": 1.2,
        "cross_sigma_km": np.nan,
        "pointing_rms_rad": 1e-3,
        "turn_sigma_rad": 0.0,
    }
    one, other = mount.drawn(**known), mount.drawn(**known)
    assert_allclose(one.late_s, other.late_s, rtol=0)
    assert not one.aside_km.any()
    # A distance of r.m.s. r has a part r/√2 across.
    assert one.across_rad.std() == pytest.approx(1e-3 / np.sqrt(2), rel=0.05)


def test_a_chord_along_across_and_through_the_corners():
    assert float(mount.chord_rad(3.0, 2.0, 0.0, 0.9)) == 3.0
    assert float(mount.chord_rad(3.0, 2.0, 0.0, 1.1)) == 0.0
    assert float(mount.chord_rad(3.0, 2.0, np.pi / 2, 1.4)) == pytest.approx(2.0)
    corner = np.arctan2(2.0, 3.0)
    assert float(mount.chord_rad(3.0, 2.0, corner, 0.0)) == pytest.approx(
        np.hypot(3, 2)
    )


@given(
    st.floats(0.1, 5.0), st.floats(0.1, 5.0), st.floats(0.0, np.pi), st.floats(-4, 4)
)
def test_a_chord_is_the_part_of_the_line_that_lies_inside(width, height, tilt, off):
    along = np.linspace(-8.0, 8.0, 16_001)
    x = along * np.cos(tilt) - off * np.sin(tilt)
    y = along * np.sin(tilt) + off * np.cos(tilt)
    inside = (np.abs(x) <= width / 2) & (np.abs(y) <= height / 2)
    found = float(mount.chord_rad(width, height, tilt, off))
    # On the edge itself rounding decides which of the two it is.
    edge = min(abs(abs(off) - width / 2), abs(abs(off) - height / 2)) < 1e-6
    if not edge:
        assert found == pytest.approx(inside.sum() * 1e-3, abs=3e-3)


@given(st.floats(0.0, np.pi))
def test_all_chords_of_one_direction_make_the_area(tilt):
    off = np.linspace(-3.0, 3.0, 6001)
    area = np.trapezoid(mount.chord_rad(3.0, 2.0, tilt, off), off)
    assert area == pytest.approx(6.0, rel=1e-3)


def test_the_chance_across_a_strip_is_the_normal_integral():
    """A strip far longer than high, errors across alone: erf(h / (2 √2 σ))."""
    from math import erf, sqrt

    rng = np.random.default_rng(2)
    sigma = 0.7
    off = rng.standard_normal(200_000) * sigma
    chord = mount.chord_rad(1e3, 2.0, 0.0, off)
    found = float(mount.catch_chance(chord, 1.0, 1.0, 5))
    assert found == pytest.approx(erf(1.0 / (sqrt(2) * sigma)), abs=4e-3)


def test_part_of_a_frame_is_part_of_a_chance():
    assert float(mount.catch_chance(np.array([3.4]), 1.0, 1.0, 4)) == pytest.approx(0.4)
    assert float(mount.catch_chance(np.array([3.4]), 1.0, 1.0, 3)) == 1.0


@given(st.integers(1, 40), st.floats(1.0, 300.0))
def test_more_frames_are_never_likelier(least, hz):
    chord = np.linspace(0.0, 2.0, 50)
    one = mount.catch_chance(chord, 1.5, hz, least)
    assert mount.catch_chance(chord, 1.5, hz, least + 1) <= one


@given(st.floats(0, 2 * np.pi), st.floats(0, 2 * np.pi))
def test_a_path_along_up_stands_upright_in_the_frame(motion, up):
    assert float(mount.path_tilt_rad(up, up)) == pytest.approx(np.pi / 2)
    across = float(mount.path_tilt_rad(up + np.pi / 2, up))
    assert min(across, np.pi - across) == pytest.approx(0.0, abs=1e-9)
    # Turning frame and path together changes nothing.
    once = mount.chord_rad(3.0, 2.0, mount.path_tilt_rad(motion, up), 0.0)
    then = mount.chord_rad(3.0, 2.0, mount.path_tilt_rad(motion + 1, up + 1), 0.0)
    assert float(once) == pytest.approx(float(then))


# A circular orbit over a site on a sphere; ground axes at the expected moment.
SITE = np.array([6378.0 * np.cos(0.7), 0.0, 6378.0 * np.sin(0.7)])


def orbit(time_s, tilt=0.9, radius=6798.0):
    """Places among the stars of an object that passes near the zenith, ``(..., 3)``."""
    up = vectors.unit(SITE)
    east = np.array([0.0, 1.0, 0.0])
    north = vectors.cross(up, east)
    along = np.cos(tilt) * east + np.sin(tilt) * north
    start = vectors.unit(up + 0.04 * vectors.cross(along, up))
    along = vectors.unit(along - vectors.dot(along, start) * start)
    angle = np.asarray(time_s)[..., None] * np.sqrt(398600.4418 / radius**3)
    return radius * (np.cos(angle) * start + np.sin(angle) * along)


def seen_from_turning_ground(late_s, time_s):
    """Line of sight to an object that is late, in ground axes, the long way round."""
    ground = vectors.rotate_z(orbit(time_s - late_s), -EARTH_ROTATION_RAD_S * time_s)
    return ground - SITE


@pytest.mark.parametrize("stars", [False, True])
@pytest.mark.parametrize("late_s", [-40.0, -3.0, 0.0, 2.0, 30.0])
def test_a_late_object_misses_by_what_brute_force_says(late_s, stars):
    """Against the smallest distance of the late object from the pointing, by trying."""
    velocity = (orbit(np.array(0.01)) - orbit(np.array(-0.01))) / 0.02
    found = float(
        mount.across_rad(
            orbit(np.array(0.0)), velocity, SITE, late_s, 0.0, among_stars=stars
        )
    )
    time = late_s + np.linspace(-2.0, 2.0, 40_001)
    line = seen_from_turning_ground(late_s, time)
    pointing = orbit(np.array(0.0)) - SITE
    if stars:
        pointing = vectors.rotate_z(pointing, -EARTH_ROTATION_RAD_S * time)
    nearest = vectors.separation_rad(line, pointing).min()
    # The path is taken as straight across so small an angle: 1 % and an arcsecond.
    assert abs(found) == pytest.approx(nearest, rel=1e-2, abs=5e-6)


def test_an_offset_along_the_normal_is_seen_at_its_range():
    velocity = (orbit(np.array(0.01)) - orbit(np.array(-0.01))) / 0.02
    place = orbit(np.array(0.0))
    found = mount.across_rad(place, velocity, SITE, 0.0, np.array([-1.0, 1.0]))
    range_km = float(vectors.norm(place - SITE))
    assert_allclose(np.abs(found), 1.0 / range_km, rtol=0.15)
    assert found[0] * found[1] < 0


def test_a_late_path_is_farther_off_when_the_orbit_runs_over_the_pole():
    """The ground's own motion lies across such a path, not along it."""
    over = (orbit(np.array(0.01), np.pi / 2) - orbit(np.array(-0.01), np.pi / 2)) / 0.02
    flat = (orbit(np.array(0.01), 0.0) - orbit(np.array(-0.01), 0.0)) / 0.02
    steep = mount.across_rad(orbit(np.array(0.0), np.pi / 2), over, SITE, 5.0, 0.0)
    level = mount.across_rad(orbit(np.array(0.0), 0.0), flat, SITE, 5.0, 0.0)
    assert abs(float(steep)) > 3 * abs(float(level))
