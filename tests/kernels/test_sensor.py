"""Light in pixels and frames a second: relations that hold for every camera."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import sensor

magnitudes = st.floats(-15.0, 15.0)
times = st.floats(1e-6, 10.0)


@given(magnitudes, st.floats(0.0, 5.0))
def test_a_magnitude_is_a_ratio_of_light(magnitude, fainter):
    once = float(sensor.photons_s_m2(magnitude))
    then = float(sensor.photons_s_m2(magnitude + fainter))
    assert then == pytest.approx(once * 10 ** (-0.4 * fainter))


@given(st.floats(100.0, 3000.0))
def test_surface_brightness_does_not_know_the_range(range_km):
    """Twice as far: a quarter of the light on a quarter of the pixels."""

    def each(range_km):
        size = 206264.806 * 0.06 / range_km
        light = sensor.electrons_s(5 * np.log10(range_km), 0.05, 300.0, 0.5)
        return float(light / (size * size * 0.4))

    assert each(2 * range_km) == pytest.approx(each(range_km))


@given(times, st.floats(0.1, 1e6), st.floats(0, 1e3), st.floats(0, 20))
def test_noise_only_takes_away(exposure_s, signal, background, read_noise):
    bare = sensor.signal_to_noise(signal, exposure_s)
    assert bare == pytest.approx(np.sqrt(signal * exposure_s))
    noisy = sensor.signal_to_noise(
        signal, exposure_s, 4, background, read_noise_e=read_noise
    )
    assert 0 < noisy <= bare * (1 + 1e-12)


def test_no_light_is_no_signal():
    assert sensor.signal_to_noise(0.0, 1.0) == 0.0
    assert np.isnan(sensor.signal_to_noise(np.nan, 1.0))


@given(st.floats(1.0, 1e5), st.floats(0.1, 1e6), st.floats(0.0, 1e5))
def test_the_level_is_reached_in_its_exposure(level, signal, background):
    exposure = float(sensor.exposure_for_level_s(level, signal, background))
    assert exposure * (signal + background) == pytest.approx(level)


@given(st.floats(0.0, 6.0), st.floats(100.0, 1e5))
def test_head_room_and_filling_undo_each_other(glint, well):
    level = float(sensor.fill_allowing_glints(glint)) * well
    assert float(sensor.headroom_mag(well, level)) == pytest.approx(glint, abs=1e-9)


def test_a_point_spreads_over_its_image_and_never_less_than_a_pixel():
    assert float(sensor.lit_pixels(0.0, 1.0)) == 1.0
    # The area of a Gaussian's light over its peak: 2π σ², FWHM = 2.3548 σ.
    sigma = 4.0 / 2.354820
    expected = 2 * np.pi * sigma**2
    area = float(sensor.spread_area_arcsec2(0.0, 4.0))
    assert area == pytest.approx(expected, rel=1e-4)
    assert float(sensor.lit_pixels(area, 0.5)) == pytest.approx(4.0 * area)


@pytest.mark.parametrize(("degrees", "part"), [(0, 1.0), (90, 0.5), (180, 0.0)])
def test_the_sun_lights_half_of_what_is_seen_at_right_angles(degrees, part):
    assert float(sensor.lit_part(np.radians(degrees))) == pytest.approx(part)


@given(st.floats(1.0, 200.0), st.floats(1.0, 1e6), st.floats(0, 1e6), st.floats(0, 20))
def test_the_exposure_for_a_ratio_gives_it(ratio, signal, background, noise):
    exposure = float(sensor.exposure_for_ratio_s(ratio, signal, background, noise))
    found = sensor.signal_to_noise(
        signal, exposure, background_e_s=background, read_noise_e=noise
    )
    assert float(found) == pytest.approx(ratio, rel=1e-9)


def test_no_exposure_gives_a_ratio_without_light():
    assert float(sensor.exposure_for_ratio_s(20.0, 0.0, 5.0, 2.0)) == np.inf
    assert np.isnan(sensor.exposure_for_ratio_s(20.0, np.nan))


def test_counting_in_steps_makes_the_noise_of_a_uniform_error():
    rng = np.random.default_rng(8)
    level = rng.uniform(100.0, 900.0, 400_000)
    step = 1000.0 / 2**6
    error = np.round(level / step) * step - level
    found = float(sensor.quantisation_noise_e(1000.0, 6))
    assert error.std() == pytest.approx(found, rel=5e-3)


def test_the_slowest_link_rules_and_the_unknown_says_so():
    limits = sensor.frame_rate_limits_hz(
        exposure_s=1e-3,
        read_out_hz=160.0,
        frame_mb=2.0,
        link_mb_s=380.0,
        write_mb_s=100.0,
        buffer_mb=np.nan,
        duration_s=60.0,
    )
    assert {k: float(v) for k, v in limits.items()} == pytest.approx(
        {"exposure": 1000.0, "read-out": 160.0, "link": 190.0, "disk and buffer": 50.0}
    )


@given(st.floats(1.0, 600.0), st.floats(0.0, 5000.0), st.floats(10.0, 1000.0))
def test_a_burst_at_the_disks_rate_fits_the_buffer(duration, buffer_mb, write_mb_s):
    rate = float(
        sensor.frame_rate_limits_hz(
            exposure_s=1e-4,
            read_out_hz=1e4,
            frame_mb=3.0,
            link_mb_s=1e5,
            write_mb_s=write_mb_s,
            buffer_mb=buffer_mb,
            duration_s=duration,
        )["disk and buffer"]
    )
    left_over = 3.0 * rate * duration - write_mb_s * duration
    assert left_over == pytest.approx(buffer_mb, abs=1e-6 * (1 + write_mb_s * duration))


def test_skew_is_speed_times_the_time_of_the_rows():
    # 100 rows of 5 µs at 10,000 px/s: half a millisecond, five pixels.
    assert float(sensor.skew_px(5.0, 100, 1e4)) == pytest.approx(5.0)


def test_an_aspect_turns_by_half_an_element():
    # 50″ across, 0.02 rad/s: ends shift by 0.5″/s; half of 0.5″ takes half a second.
    assert float(sensor.aspect_time_s(0.5, 50.0, 0.02)) == pytest.approx(0.5)
