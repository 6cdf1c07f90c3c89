"""Speeds of angles, against a published frame example and a reference library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passes import motion

erfa = pytest.importorskip("erfa", reason="needs the reference library pyerfa")

#: The published example prints positions to 1e-8 and 1e-7 km, speeds to 1e-9 km/s; its
#: sidereal angle is printed to 1e-7 degrees, 1.4e-5 km at this distance.
PRINTED_KM, PRINTED_KM_S = 1.5e-5, 3e-8

components = st.floats(-5e4, 5e4).filter(lambda x: abs(x) > 1.0)
speeds = st.floats(-10.0, 10.0).filter(lambda v: v == 0.0 or abs(v) > 1e-6)
vectors3 = st.tuples(components, components, components).map(np.array)
velocities3 = st.tuples(speeds, speeds, speeds).map(np.array)
angles = st.floats(-np.pi, np.pi)
latitudes = st.floats(-1.5, 1.5)


def test_turning_axes_reproduce_the_published_example():
    """Vallado, example 3-15: TEME to pseudo-Earth-fixed, 2004-04-06 (also AAS 06-134).

    The rotation rate is the one of that example, 7.292115146706979e-5 (1 - LOD/86400)
    with LOD 0.0015563 s (formula from memory).
    """
    rate = 7.292115146706979e-5 * (1 - 0.0015563 / 86400)
    position, velocity, _ = motion.seen_turning(
        np.array([5094.18016210, 6127.64465950, 6380.34453270]),
        np.array([-4.746131487, 0.785818041, 5.531931288]),
        np.zeros(3),
        np.radians(312.8098943),
        rate,
    )
    expected_km = [-1033.4750313, 7901.3055856, 6380.3445327]
    expected_km_s = [-3.225632747, -2.872442511, 5.531931288]
    assert_allclose(position, expected_km, rtol=0, atol=PRINTED_KM)
    assert_allclose(velocity, expected_km_s, rtol=0, atol=PRINTED_KM_S)


def test_turning_axes_give_speeds_and_accelerations_of_what_they_show():
    """Against differences of positions seen from turning axes, on a circle."""
    rate, radius, step = 7.292115e-5, 7000.0, 4.0
    time = 100.0 + step * np.array(motion.STENCIL)
    position, velocity, acceleration = _circle(time, radius)
    seen, seen_velocity, seen_acceleration = motion.seen_turning(
        position, velocity, acceleration, rate * time, rate
    )
    by_differences = motion.differentiate(seen, step)
    assert_allclose(seen_velocity[2], by_differences[0], rtol=0, atol=1e-9)
    assert_allclose(seen_acceleration[2], by_differences[1], rtol=0, atol=1e-10)


def _circle(time, radius, speed=1.1e-3, tilt=0.9):
    """A circular path around a tilted axis: position, velocity, acceleration."""
    east = np.array([1.0, 0.0, 0.0])
    north = np.array([0.0, np.cos(tilt), np.sin(tilt)])
    phase = speed * np.asarray(time)[..., None]
    position = radius * (np.cos(phase) * east + np.sin(phase) * north)
    velocity = radius * speed * (np.cos(phase) * north - np.sin(phase) * east)
    return position, velocity, -(speed**2) * position


def test_differences_have_the_stated_error():
    """r w⁵ h⁴ / 30 and r w⁶ h⁴ / 90, from the source named at the function."""
    radius, speed, step = 7000.0, 1.1e-3, 60.0
    nodes = step * np.array(motion.STENCIL)
    _, velocity, acceleration = _circle(0.0, radius)
    got = motion.differentiate(_circle(nodes, radius)[0], step)
    error = np.linalg.norm(got[0] - velocity), np.linalg.norm(got[1] - acceleration)
    assert_allclose(error[0], radius * speed**5 * step**4 / 30, rtol=0.02)
    assert_allclose(error[1], radius * speed**6 * step**4 / 90, rtol=0.02)


@given(vectors3, velocities3)
def test_speeds_equal_the_reference_library(position, velocity):
    """ERFA's routine pv2s (IAU SOFA), position and velocity to spherical."""
    pv = np.zeros((), erfa.dt_pv)
    pv["p"], pv["v"] = position, velocity
    longitude, latitude, _, lon_rate, lat_rate, _ = erfa.pv2s(pv)
    got = motion.sweep(position, velocity, np.zeros(3))
    assert_allclose(got.longitude, longitude, rtol=1e-12, atol=1e-12)
    assert_allclose(got.latitude, latitude, rtol=1e-12, atol=1e-12)
    scale = np.linalg.norm(velocity) / np.hypot(*position[:2])
    assert_allclose(got.longitude_rate, lon_rate, rtol=1e-12, atol=1e-13 * scale)
    assert_allclose(got.latitude_rate, lat_rate, rtol=1e-12, atol=1e-13 * scale)


@given(vectors3, velocities3, velocities3)
def test_accelerations_are_the_slope_of_the_reference_speeds(position, velocity, push):
    """Central differences of ERFA's speeds along a parabola."""
    push = push * 1e-3
    across = np.hypot(*position[:2])
    speed = (1.0 + np.linalg.norm(velocity)) / across
    speed = np.hypot(speed, np.sqrt(np.linalg.norm(push) / across))
    step = 1e-3 / speed
    rates = []
    for time in (-2 * step, -step, step, 2 * step):
        pv = np.zeros((), erfa.dt_pv)
        pv["p"] = position + velocity * time + push * time**2 / 2
        pv["v"] = velocity + push * time
        rates.append(np.array(erfa.pv2s(pv)[3:5]))
    slope = (rates[0] - 8 * rates[1] + 8 * rates[2] - rates[3]) / (12 * step)
    got = motion.sweep(position, velocity, push)
    scale = speed**2
    assert_allclose(got.longitude_acceleration, slope[0], rtol=0, atol=1e-8 * scale)
    assert_allclose(got.latitude_acceleration, slope[1], rtol=0, atol=1e-8 * scale)


@given(vectors3, velocities3, velocities3, angles)
def test_turning_about_the_axis_changes_no_speed(position, velocity, push, angle):
    cosine, sine = np.cos(angle), np.sin(angle)
    turn = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1.0]])
    one = motion.sweep(position, velocity, push)
    other = motion.sweep(turn @ position, turn @ velocity, turn @ push)
    across = np.hypot(*position[:2])
    rate = np.linalg.norm(velocity) / across
    bend = rate**2 + np.linalg.norm(push) / across
    assert_allclose(one[2:4], other[2:4], rtol=0, atol=1e-10 * rate)
    assert_allclose(one[4:6], other[4:6], rtol=0, atol=1e-10 * bend)


@given(vectors3, velocities3, velocities3)
def test_backwards_in_time_speeds_change_sign_and_accelerations_do_not(
    position, velocity, push
):
    forwards = motion.sweep(position, velocity, push)
    backwards = motion.sweep(position, -velocity, push)
    assert_allclose(np.array(backwards[2:4]), -np.array(forwards[2:4]), rtol=1e-14)
    assert_allclose(backwards[4:6], forwards[4:6], rtol=1e-14)


@given(vectors3, velocities3)
def test_speed_of_the_direction_is_the_two_speeds_together(position, velocity):
    got = motion.sweep(position, velocity, np.zeros(3))
    along = got.longitude_rate * np.cos(got.latitude)
    together = np.hypot(along, got.latitude_rate)
    scale = np.linalg.norm(velocity) / np.linalg.norm(position)
    speed = motion.angular_speed(position, velocity)
    assert_allclose(speed, together, rtol=1e-9, atol=1e-9 * scale)


def test_on_the_pole_speeds_are_unknown_and_beside_it_they_are_huge_and_right():
    velocity = np.array([7.0, 0.0, 0.0])
    on = motion.sweep(np.array([0.0, 0.0, 400.0]), velocity, np.zeros(3))
    assert np.isnan(on.longitude_rate)
    assert np.isnan(on.latitude_acceleration)
    assert on.latitude == pytest.approx(np.pi / 2)
    beside = motion.sweep(np.array([0.0, 0.001, 400.0]), velocity, np.zeros(3))
    assert beside.longitude_rate == pytest.approx(-7000.0, rel=1e-12)
    # At the closest point latitude stops, and bends as a cone's edge does: -v²/(r d).
    assert beside.latitude_rate == 0.0
    assert beside.latitude_acceleration == pytest.approx(-122.5, rel=1e-9)


@given(angles, latitudes, latitudes)
def test_parallactic_angle_is_the_direction_of_the_zenith(hour_angle, dec, latitude):
    """Against ERFA's pas: position angle of the zenith (hour angle 0, its latitude)."""
    got = motion.parallactic_angle_rad(hour_angle, dec, latitude)
    want = erfa.pas(-hour_angle, dec, 0.0, latitude)
    separation = erfa.seps(-hour_angle, dec, 0.0, latitude)
    difference = (got - want + np.pi) % (2 * np.pi) - np.pi
    assert abs(difference) * np.sin(separation) < 1e-14 + 1e-15


def test_parallactic_angle_is_zero_on_the_meridian():
    """Meeus, chapter 14: an object south of the zenith, hour angle 0."""
    assert motion.parallactic_angle_rad(0.0, 0.1, 0.7) == 0.0


@given(angles, st.floats(-1.2, 1.2), st.floats(-1.2, 1.2))
def test_a_star_turns_the_field_by_the_usual_formula(hour_angle, dec, latitude):
    """-ω cos(latitude) cos(azimuth) / cos(altitude): common practice, no source."""
    azimuth, altitude = erfa.hd2ae(hour_angle, dec, latitude)
    if np.cos(altitude) < 0.01:
        return
    azimuth_rate = np.sin(latitude) - np.cos(latitude) * np.cos(azimuth) * np.tan(
        altitude
    )
    got = motion.field_rotation_rate(azimuth_rate, altitude, 1.0, dec)
    usual = -np.cos(latitude) * np.cos(azimuth) / np.cos(altitude)
    assert_allclose(got, usual, rtol=0, atol=1e-9)


@given(vectors3, velocities3, st.floats(-1.4, 1.4))
def test_field_rotation_is_the_slope_of_the_parallactic_angle(
    position, velocity, latitude
):
    """For a target with any motion, by differences of the parallactic angle."""
    to_horizon = np.array(  # (meridian, west, pole) to (north, west, up)
        [
            [-np.sin(latitude), 0.0, np.cos(latitude)],
            [0.0, 1.0, 0.0],
            [np.cos(latitude), 0.0, np.sin(latitude)],
        ]
    )
    level, level_velocity = to_horizon @ position, to_horizon @ velocity
    near = min(np.hypot(*position[:2]), np.hypot(*level[:2]))
    if near < 100.0:
        return
    step = 1e-3 * near / (1.0 + np.linalg.norm(velocity))
    hour = motion.sweep(position, velocity, np.zeros(3))
    horizon = motion.sweep(level, level_velocity, np.zeros(3))
    angle = []
    for time in (-2 * step, -step, step, 2 * step):
        at = motion.sweep(position + velocity * time, velocity, np.zeros(3))
        angle.append(motion.parallactic_angle_rad(at.longitude, at.latitude, latitude))
    angle = np.unwrap(angle)
    slope = (angle[0] - 8 * angle[1] + 8 * angle[2] - angle[3]) / (12 * step)
    got = motion.field_rotation_rate(
        -horizon.longitude_rate, horizon.latitude, hour.longitude_rate, hour.latitude
    )
    speed = (1.0 + np.linalg.norm(velocity)) / near
    assert_allclose(got, slope, rtol=0, atol=1e-8 * speed)


@given(vectors3, velocities3)
def test_motion_points_along_the_great_circle(position, velocity):
    """Against ERFA's pas, the direction to a place a little further on."""
    here = motion.sweep(position, velocity, np.zeros(3))
    step = 1e-4 * np.hypot(*position[:2]) / (1e-3 + np.linalg.norm(velocity))
    there = position + velocity * step
    got = motion.position_angle_rad(
        here.longitude_rate, here.latitude, here.latitude_rate
    )
    towards = erfa.pas(here.longitude, here.latitude, *erfa.c2s(there))
    if motion.angular_speed(position, velocity) * step < 1e-7:
        return
    assert abs((got - towards + np.pi) % (2 * np.pi) - np.pi) < 1e-6
    assert 0.0 <= got < 2 * np.pi
