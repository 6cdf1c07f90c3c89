"""Sidereal angle, frames and sites against worked examples and skyfield."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from tolerances import FRAME_RAD, SIDEREAL_RAD

from passes import sky
from passes.model import Site
from passes.sky._door import timescale
from passes.vectors import apply, norm, rotate_z, separation_rad

Published = Callable[[str], list[dict[str, str]]]

WHEN = datetime(2004, 4, 6, 7, 51, 28, 386009, tzinfo=UTC)
SPAN_S = np.random.default_rng(4).uniform(0.0, 16 * 86400.0, 400)
STARTS = [
    datetime(1975, 3, 1, 22, 10, 5, tzinfo=UTC),
    datetime(2016, 12, 24, 3, 0, 0, tzinfo=UTC),  # a leap second lies within
    datetime(2025, 9, 14, 17, 3, 5, 123456, tzinfo=UTC),
    datetime(2045, 6, 30, 12, 0, 0, tzinfo=UTC),
]


@pytest.fixture
def frames(published: Published) -> dict[str, np.ndarray]:
    """One published state in several frames, km."""
    return {
        row["frame"]: np.array([float(row[axis]) for axis in "xyz"])
        for row in published("teme_frames.csv")
    }


def example_ut1_s() -> float:
    """When the clock's UT1 is that of the example (it states UT1 − UTC −0.4399619 s).

    Skyfield's table says 0.5 ms less for that day.
    """
    return -0.4399619 - float(timescale().from_datetime(WHEN).dut1)


def test_vallados_state_turns_from_teme_to_earth_fixed(
    frames: dict[str, np.ndarray],
) -> None:
    found = rotate_z(frames["TEME"], -sky.gmst_rad(WHEN, example_ut1_s()))
    np.testing.assert_allclose(found, frames["PEF"], atol=1e-7)


def test_leaving_out_polar_motion_costs_ten_metres(
    frames: dict[str, np.ndarray],
) -> None:
    apart = norm(frames["PEF"] - frames["ITRF"])
    assert 0.010 < float(apart) < 0.020


def test_vallados_state_turns_from_teme_to_gcrf(frames: dict[str, np.ndarray]) -> None:
    # A newer nutation (IAU 2000A, without its corrections) stands behind ours.
    found = apply(sky.teme_to_icrs(WHEN, 0.0), frames["TEME"])
    assert float(separation_rad(found, frames["GCRF"])) < np.radians(0.01 / 3600.0)
    assert float(norm(found - frames["GCRF"])) < 4e-4


def test_vallados_state_turns_to_true_of_date(frames: dict[str, np.ndarray]) -> None:
    # The published row without corrections holds nutation 0.05″ from today's.
    found = apply(sky.true_of_date_from_icrs(WHEN, 0.0), frames["GCRF"])
    assert float(separation_rad(found, frames["TOD"])) < np.radians(0.1 / 3600.0)


def test_the_sidereal_angle_of_the_example() -> None:
    # Vallado: 312.8098943° (from memory); erfa.gmst82 gives 312.8098942.
    found = float(np.degrees(sky.gmst_rad(WHEN, example_ut1_s())))
    assert found == pytest.approx(312.8098943, abs=2e-7)


@pytest.mark.parametrize(
    ("hour_ut", "days"), [(0.0, 0.549147764), (19.35, 0.357605204)]
)
def test_meeus_examples_12a_and_12b(hour_ut: float, days: float) -> None:
    # Astronomical Algorithms, 1987-04-10 0h and 19h21m of UT1 (as typed in PyMeeus).
    start = datetime(1987, 4, 10, tzinfo=UTC)
    seconds = hour_ut * 3600.0
    dut1 = float(timescale().from_datetime(start + timedelta(seconds=seconds)).dut1)
    found = sky.gmst_rad(start, seconds - dut1) / (2 * np.pi)
    assert float(found) == pytest.approx(days, abs=1e-9)


@pytest.mark.parametrize("start", STARTS, ids=lambda start: f"{start:%Y}")
def test_the_sidereal_angle_is_skyfields(start: datetime) -> None:
    from skyfield.sgp4lib import theta_GMST1982

    time = skyfield_times(start, SPAN_S)
    theirs, _ = theta_GMST1982(time.whole, time.ut1_fraction)
    ours = sky.gmst_rad(start, SPAN_S)
    assert ((ours >= 0.0) & (ours < 2 * np.pi)).all()
    difference = (ours - theirs + np.pi) % (2 * np.pi) - np.pi
    np.testing.assert_allclose(difference, 0.0, atol=SIDEREAL_RAD)


@pytest.mark.parametrize("start", STARTS, ids=lambda start: f"{start:%Y}")
def test_the_frames_are_skyfields(start: datetime) -> None:
    from skyfield.sgp4lib import TEME

    time = skyfield_times(start, SPAN_S)
    to_icrs = np.moveaxis(TEME.rotation_at(time), -1, 0).swapaxes(1, 2)
    of_date = np.moveaxis(time.M, -1, 0)
    np.testing.assert_allclose(sky.teme_to_icrs(start, SPAN_S), to_icrs, atol=FRAME_RAD)
    np.testing.assert_allclose(
        sky.true_of_date_from_icrs(start, SPAN_S), of_date, atol=FRAME_RAD
    )


def skyfield_times(start: datetime, time_s: np.ndarray) -> object:
    """Skyfield's times at what a UTC clock shows after so many seconds.

    As everywhere in Python and in SGP4, a clock's day has 86,400 of them.
    """
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    seconds = time_s + (start - midnight).total_seconds()
    day, second = np.divmod(seconds, 86400.0)
    return timescale().utc(start.year, start.month, start.day + day, 0, 0, second)


@pytest.mark.parametrize(
    ("latitude", "longitude", "height"),
    [
        (40.8939, -83.8917, 0.0),
        (-33.9, 151.2, 60.0),
        (90.0, 0.0, 10.0),
        (0.0, 200.0, 4e3),
    ],
)
def test_sites_and_axes_are_skyfields(
    latitude: float, longitude: float, height: float
) -> None:
    from skyfield.api import wgs84

    theirs = wgs84.latlon(latitude, longitude, height)
    site = Site(latitude_deg=latitude, longitude_deg=longitude, height_m=height)
    np.testing.assert_allclose(sky.site_km(site), theirs.itrs_xyz.km, atol=1e-9)
    # skyfield's rows are north, east, up
    np.testing.assert_allclose(
        sky.site_axes(site)[[1, 0, 2]], theirs._R_latlon, atol=1e-15
    )


def test_altitudes_of_a_satellite_are_those_of_skyfield() -> None:
    # Site and satellite of skyfield's documentation; any error of the sidereal angle
    # or the axes would show as altitude: 1 ms of a low orbit is 1e-3 degrees at most.
    from skyfield.api import EarthSatellite, wgs84

    lines = (
        "1 25544U 98067A   14020.93268519  .00009878  00000-0  18200-3 0  5082",
        "2 25544  51.6498 109.4756 0003572  55.9686 274.8005 15.49815350868473",
    )
    satellite = EarthSatellite(*lines, "docs", timescale())
    place = wgs84.latlon(40.8939, -83.8917)
    site = Site(latitude_deg=40.8939, longitude_deg=-83.8917)
    start = datetime(2014, 1, 23, 11, 18, 7, tzinfo=UTC)
    time_s = np.linspace(0.0, 86400.0, 500)
    time = skyfield_times(start, time_s)
    position, _, _ = satellite._position_and_velocity_TEME_km(time)
    fixed = rotate_z(position.T, -sky.gmst_rad(start, time_s)) - sky.site_km(site)
    local = apply(sky.site_axes(site), fixed)
    altitude = np.degrees(np.arcsin(local[:, 2] / norm(local)))
    theirs = (satellite - place).at(time).altaz()[0].degrees
    np.testing.assert_allclose(altitude, theirs, atol=1e-9)
    # the documentation prints 16°16'32.6" at the first moment
    assert altitude[0] == pytest.approx(16 + 16 / 60 + 32.6 / 3600, abs=2e-5)


def test_one_moment_has_one_answer_whatever_the_window() -> None:
    start = datetime(2025, 9, 14, 17, 3, 5, tzinfo=UTC)
    early = start - timedelta(days=9)
    for function in (sky.gmst_rad, sky.teme_to_icrs, sky.sun_teme_km):
        np.testing.assert_allclose(
            function(early, 9 * 86400.0 + 12.5), function(start, 12.5), rtol=1e-12
        )


def test_scalars_arrays_shapes_and_unknown_times() -> None:
    start = datetime(2025, 9, 14, 17, 3, 5, tzinfo=UTC)
    time_s = np.array([0.0, 5e4, np.nan, 9e5])
    together = sky.gmst_rad(start, time_s)
    alone = [float(sky.gmst_rad(start, t)) for t in time_s]
    np.testing.assert_array_equal(together, alone)
    assert np.isnan(together[2])
    assert sky.gmst_rad(start, np.zeros((2, 5))).shape == (2, 5)
    assert sky.teme_to_icrs(start, np.zeros((2, 5))).shape == (2, 5, 3, 3)
    assert sky.sun_teme_km(start, []).shape == (0, 3)
    assert np.isnan(sky.sun_teme_km(start, [np.nan, np.nan])).all()
