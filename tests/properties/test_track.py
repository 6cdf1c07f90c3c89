"""What must hold of any track, whatever the object, the site and the sampling."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from one_satellite import START, catalogue

from passes.errors import InputError
from passes.model import TRACK_ARRAYS, Growth, Site
from passes.orbits import Propagator
from passes.track import sample_track
from passes.track.geometry import SIDEREAL_RAD_S, trace

SITE = Site(name="invented", latitude_deg=47.3, longitude_deg=8.1, height_m=650.0)
LIGHT = ("magnitude", "magnitude_above_atmosphere", "magnitude_sigma")
FILLED = tuple(name for name in TRACK_ARRAYS if name not in LIGHT)

rows = st.integers(0, 4)
begins = st.floats(-2e5, 2e5)
sites = st.builds(
    Site,
    latitude_deg=st.floats(-89.0, 89.0),
    longitude_deg=st.floats(-180.0, 180.0),
    height_m=st.floats(0.0, 4000.0),
)


def turned(one, other):
    """Difference of angles in degrees, -180 to 180."""
    return (one - other + 180.0) % 360.0 - 180.0


def same(name, one, other, tolerance):
    """Two columns alike: angles around the circle, the rest as numbers."""
    gap = np.abs(one - other)
    if name.startswith(("azimuth_deg", "ra_", "hour_angle_deg")):
        gap = np.abs(turned(one, other))
    scale = np.maximum(1.0, np.abs(other))
    assert (gap <= tolerance * scale).all(), name


@given(rows, begins, sites)
def test_the_speed_over_the_ground_is_the_same_in_both_mounts(row, begin, site):
    track = sample_track(catalogue(), row, site, START, begin + np.arange(3.0))
    level = np.hypot(
        track.altitude_rate_deg_s,
        track.azimuth_rate_deg_s * np.cos(np.radians(track.altitude_deg)),
    )
    cosine = np.cos(np.radians(_geometric_dec_deg(track, site)))
    equatorial = np.hypot(track.dec_rate_deg_s, track.hour_angle_rate_deg_s * cosine)
    # Declination comes back through an arc sine: poor towards the poles.
    rtol = 1e-7 + 1e-13 / np.min(cosine) ** 2
    assert_allclose(equatorial, level, rtol=rtol, atol=1e-11)


@given(rows, begins, sites)
def test_among_the_stars_the_earths_turning_comes_off_the_hour_angle(row, begin, site):
    track = sample_track(catalogue(), row, site, START, begin + np.arange(3.0))
    cosine = np.cos(np.radians(_geometric_dec_deg(track, site)))
    among = track.hour_angle_rate_deg_s - np.degrees(SIDEREAL_RAD_S)
    speed = np.hypot(track.dec_rate_deg_s, among * cosine)
    rtol = 1e-7 + 1e-13 / np.min(cosine) ** 2
    assert_allclose(track.angular_rate_deg_s, speed, rtol=rtol, atol=1e-11)


def _geometric_dec_deg(track, site):
    """Declination of the geometric direction, by the spherical law of sines."""
    latitude = np.radians(site.latitude_deg)
    altitude, azimuth = np.radians([track.altitude_deg, track.azimuth_deg])
    sine = np.sin(latitude) * np.sin(altitude)
    sine = sine + np.cos(latitude) * np.cos(altitude) * np.cos(azimuth)
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


@given(rows, begins, sites)
def test_speeds_and_accelerations_add_up_to_the_angles(row, begin, site):
    """Over a tenth of a second: h (v0 + v1) / 2 - h² (a1 - a0) / 12, in each axis."""
    step = 0.1
    track = sample_track(catalogue(), row, site, START, begin + np.array([0.0, step]))
    for angle, stem in (
        (track.azimuth_deg, "azimuth"),
        (track.altitude_deg, "altitude"),
        (track.hour_angle_deg, "hour_angle"),
    ):
        rate = getattr(track, f"{stem}_rate_deg_s")
        bend = getattr(track, f"{stem}_acceleration_deg_s2")
        sum_of_speeds = step * rate.mean() - step**2 * (bend[1] - bend[0]) / 12.0
        # The next term, h⁵ times the fifth derivative, by how fast the axis swings.
        swing = np.radians(np.abs(rate).max()) * step + step / 300.0
        allowed = 1e-8 + 60.0 * swing**5
        assert abs(turned(angle[1] - angle[0], sum_of_speeds)) < allowed


@settings(max_examples=30)
@given(rows, begins, st.sampled_from([0.05, 0.5, 7.0]), st.integers(2, 9))
def test_the_sampling_changes_no_value(row, begin, step, factor):
    fine = begin + step * np.arange(4 * factor)
    whole = sample_track(catalogue(), row, SITE, START, fine)
    coarse = sample_track(catalogue(), row, SITE, START, fine[::factor])
    backwards = sample_track(catalogue(), row, SITE, START, fine[::-1])
    for name in FILLED:
        column = getattr(whole, name)
        same(name, getattr(coarse, name), column[::factor], 1e-12)
        same(name, getattr(backwards, name)[::-1], column, 1e-12)


@settings(max_examples=30)
@given(rows, begins, st.integers(-200_000, 200_000))
def test_the_same_moment_counted_from_elsewhere_is_the_same(row, begin, ahead):
    time_s = begin + 30.0 * np.arange(5)
    one = sample_track(catalogue(), row, SITE, START, time_s)
    start = START + timedelta(seconds=ahead)
    other = sample_track(catalogue(), row, SITE, start, time_s - ahead)
    for name in FILLED:
        if name != "time_s" and "acceleration" not in name:
            same(name, getattr(other, name), getattr(one, name), 1e-7)
    assert other.element_age_days == pytest.approx(one.element_age_days, abs=1e-9)


@pytest.mark.parametrize("late_s", [2.5, -40.0])
def test_a_late_object_flies_the_same_path_in_space_later(late_s):
    time_s = 10.0 * np.arange(40)
    late = trace(Propagator(catalogue(late_s), START), 0, time_s)
    prompt = trace(Propagator(catalogue(), START), 0, time_s - late_s)
    assert_allclose(late.position_km, prompt.position_km, rtol=0, atol=1e-6)
    track = sample_track(catalogue(late_s), 0, SITE, START, time_s)
    assert "lateness_applied" in track.flags
    assert (
        "lateness_applied"
        not in sample_track(catalogue(0.0), 0, SITE, START, time_s).flags
    )


def test_magnitudes_are_left_unknown_and_everything_else_is_known():
    track = sample_track(catalogue(), 1, SITE, START, np.arange(0.0, 600.0, 20.0))
    for name in TRACK_ARRAYS:
        column = getattr(track, name)
        assert column.shape == (30,), name
        assert not column.flags.writeable, name
        assert np.isnan(column).all() if name in LIGHT else np.isfinite(column).all()
    assert track.catalog_number == 80002
    assert (track.name, track.site_name) == ("POLAR SURVEYOR", "invented")
    assert (track.azimuth_deg >= 0.0).all()
    assert (track.azimuth_deg < 360.0).all()
    assert (track.lit_fraction >= 0.0).all()
    assert (track.lit_fraction <= 1.0).all()


def test_air_lifts_and_thin_air_lifts_less():
    # An object that stands still, 36° up, so that both sites see it at one altitude.
    low, high = (
        Site(latitude_deg=47.3, longitude_deg=-60.0, height_m=height_m)
        for height_m in (0.0, 3000.0)
    )
    lift = []
    for site in (low, high):
        track = sample_track(catalogue(), 4, site, START, [0.0])
        lift.append(track.refracted_altitude_deg[0] - track.altitude_deg[0])
    assert lift[0] > 0.02
    # 701 hPa of 1013 (U.S. Standard Atmosphere 1976).
    assert lift[1] / lift[0] == pytest.approx(701.1 / 1013.25, rel=0.002)
    vacuum = sample_track(catalogue(), 4, high, START, [0.0], pressure_hpa=0.0)
    assert_allclose(vacuum.refracted_altitude_deg, vacuum.altitude_deg, atol=1e-12)


def test_age_is_positive_after_the_epoch_and_a_week_is_stale():
    fresh = sample_track(catalogue(), 0, SITE, START, [0.0, 600.0])
    assert fresh.element_age_days == pytest.approx(0.75 + 300.0 / 86400.0)
    assert "stale_elements" not in fresh.flags
    before = sample_track(catalogue(), 0, SITE, START, [-86400.0])
    assert before.element_age_days == pytest.approx(-0.25)
    for days in (-8.0, 7.0):
        track = sample_track(catalogue(), 0, SITE, START, [days * 86400.0])
        assert "stale_elements" in track.flags


def test_errors_follow_the_growth_record_in_hand():
    growth = Growth(
        basis="class_fitted",
        sigma0_s=0.3,
        sigma1_s=0.4,
        bound0_s=1.0,
        bound1_s=2.0,
        power=2.0,
        cross0_km=0.3,
        cross1_km=0.4,
        manoeuvres=True,
    )
    time_s = [0.25 * 86400.0]  # a day after the epoch
    own = sample_track(catalogue(), 0, SITE, START, time_s, growth=growth)
    assert own.timing_sigma_s == pytest.approx(0.5)
    assert own.timing_bound_s == pytest.approx(5.0**0.5)
    assert own.cross_track_sigma_km == pytest.approx(0.5)
    assert "class_sigma" not in own.flags
    assert "manoeuvres" in own.flags
    by_class = sample_track(catalogue(), 0, SITE, START, time_s)
    assert "class_sigma" not in by_class.flags
    assert by_class.timing_bound_s > by_class.timing_sigma_s > 0.0
    six = catalogue()
    spent = replace(six, name=("INVENTED R/B",) * len(six))
    borrowed = sample_track(spent, 0, SITE, START, time_s)
    assert "class_sigma" in borrowed.flags
    assert "manoeuvres" not in borrowed.flags
    assert borrowed.timing_bound_s > borrowed.timing_sigma_s > 0.0


class Sinking:
    """The catalogue's own places, with SGP4's code for decay after a while."""

    def __init__(self, until_s):
        self.until_s = until_s
        self.real = Propagator(catalogue(), START)

    def positions(self, row, time_s, /):
        """A place that looks well and a code that says it is not."""
        position, error = self.real.positions(row, time_s)
        return position, np.where(time_s > self.until_s, 6, error).astype(np.uint8)


def test_after_sgp4_refuses_nothing_is_known_though_its_places_look_well():
    time_s = np.arange(0.0, 200.0, 10.0)
    track = sample_track(
        catalogue(), 0, SITE, START, time_s, source=Sinking(until_s=105.0)
    )
    gone = time_s > 105.0
    for name in ("altitude_deg", "range_km", "ra_icrs_deg", "azimuth_rate_deg_s"):
        column = getattr(track, name)
        assert np.isnan(column[gone]).all(), name
    assert np.isfinite(track.altitude_deg[~gone]).all()
    assert np.isfinite(track.azimuth_rate_deg_s[time_s < 95.0]).all()
    assert np.isnan(track.lit_fraction[gone]).all()
    assert np.isfinite(track.sun_altitude_deg).all()
    assert "ends_in_failure" in track.flags


@pytest.mark.parametrize("time_s", [[], [[0.0]], [0.0, np.nan], 3.0])
def test_times_that_make_no_row_are_refused(time_s):
    with pytest.raises(InputError, match="finite times"):
        sample_track(catalogue(), 0, SITE, START, time_s)
