"""Shutter and gain of the imaging adviser by the light: level, glints, phase."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("passes_plugins.imaging")
from passes.model import Filter, Gain, Mount, VideoMode
from passes.testing import places, requests, sightings
from passes_plugins.imaging.advising import advise
from passes_plugins.imaging.bench import bench_of, binned
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.light import Light
from passes_plugins.imaging.shot import AMPLE_SNR, shoot

SIZES = str(Path(__file__).parents[2] / "fixtures" / "sizes.csv")
STILL = Mount(kind="fixed", pointing_error_arcmin=3.0)
DEEP = Gain(name="0", electrons_per_adu=3, read_noise_e=6.5, full_well_e=12_000)
MIDDLE = Gain(name="120", electrons_per_adu=0.75, read_noise_e=2.4, full_well_e=3_000)
SHALLOW = Gain(name="240", electrons_per_adu=0.19, read_noise_e=1.3, full_well_e=760)
GAINS = (DEEP, MIDDLE, SHALLOW)
#: A station so large that its light is all on its own outline, blur aside.
VAST = {"length_m": 5000.0, "width_m": 5000.0, "filled": 1.0}
#: What the dial rounds away is a third of a stop at most.
DIALLED = 1.27


def ask(rig=None, track=None, subject=None, **stated):
    given = {"track": track or sightings.track(step_s=1.0)}
    given |= {"subject": subject} if subject else {}
    known = {"sizes": SIZES, **stated}
    briefing = requests.briefing(**given, rig=rig or places.rig(), settings=known)
    return advise(briefing)


def rig(**fields):
    return replace(places.rig(), gains=GAINS, **fields)


def shot(signal_e_s, *, sky_e_s=0.0, motion_s=1 / 300, holds_s=1.7e-3, **stated):
    light = Light("follow", signal_e_s, sky_e_s, motion_s, holds_s)
    choices = Choices.of(stated)
    return shoot(bench_of(rig(), choices), choices, light)


# --- one rule for shutter and gain -------------------------------------------


def test_ample_light_is_taken_at_the_gain_whose_well_fills_to_a_third():
    """Blur allows 1/300 s, the seeing 1.7 ms, where the deep well is a seventh full."""
    found = shot(1.1e6)
    assert found.gain is MIDDLE
    assert 0.30 < found.fill <= 0.40
    assert found.exposure_s < 1.7e-3 < found.motion_s
    assert found.snr >= AMPLE_SNR


def test_seeing_is_frozen_as_far_as_the_signal_stays_ample():
    frozen, dim = shot(5e5), shot(1.5e5)
    assert frozen.limit == "seeing"
    assert frozen.exposure_s <= 1.7e-3
    # S/N 20 takes 2.8 ms at this light: longer than the seeing holds, short of blur.
    assert 1.7e-3 < dim.seeing_s < dim.motion_s
    assert dim.limit == "seeing"
    assert dim.snr == pytest.approx(AMPLE_SNR, rel=0.15)


def test_short_light_is_given_all_that_blur_allows_at_the_best_signal_to_noise():
    found = shot(2e4)
    assert found.limit == "tracking"
    assert found.gain is SHALLOW
    assert found.exposure_s == pytest.approx(found.motion_s, rel=DIALLED - 1)
    assert not found.ample


@given(st.floats(1e3, 1e9), st.floats(0.0, 1e6), st.floats(1e-5, 0.1))
@settings(max_examples=60)
def test_no_pixel_is_filled_beyond_what_was_asked_unless_the_camera_binds(
    signal, sky, motion_s
):
    found = shot(signal, sky_e_s=sky, motion_s=motion_s)
    assert found.exposure_s <= max(motion_s, 3.2e-5) * (1 + 1e-9)
    if found.limit != "camera":
        assert found.fill <= 0.40 * (1 + 1e-9)
    if found.limit == "light" and found.exposure_s < motion_s / DIALLED:
        assert found.fill > 0.30 or found.exposure_s > found.seeing_s / DIALLED
    assert found.level_e == pytest.approx((signal + sky) * found.exposure_s)


@given(st.floats(1e4, 1e7), st.floats(1.05, 4.0))
@settings(max_examples=40)
def test_a_longer_blur_limit_never_costs_signal(signal, longer):
    one, other = shot(signal, motion_s=1e-4), shot(signal, motion_s=1e-4 * longer)
    if not one.ample:
        assert other.snr >= min(one.snr, AMPLE_SNR / np.sqrt(DIALLED)) * (1 - 1e-9)


def test_eight_bits_of_a_deep_well_are_coarse():
    """12,000 e⁻ in 256 steps are 47 e⁻ each: 13.5 e⁻ of noise beside 6.5 of reading."""
    bench = bench_of(rig(), Choices())
    assert bench.noise_e(DEEP) == pytest.approx(np.hypot(6.5, 12_000 / 256 / 12**0.5))
    fine = rig(modes=(replace(places.rig().modes[0], bytes_per_px=2.0),))
    assert bench_of(fine, Choices()).noise_e(DEEP) < 6.6


def test_waiting_places_and_transits_go_by_the_same_rule():
    """Light enough to freeze the seeing is used so, whatever is shot."""
    slow = sightings.track(step_s=1.0)
    rate = np.full(len(slow.time_s), 0.01)
    slow = replace(slow, azimuth_rate_deg_s=rate, altitude_rate_deg_s=rate)
    slow = replace(slow, magnitude=np.asarray(slow.magnitude) - 1.0)
    waiting = ask(rig(mount=STILL), slow)
    place = waiting.settings["waiting"][0]
    assert place["exposure_s"] == pytest.approx(waiting.exposure_s)
    assert place["limit"] == waiting.limit
    assert place["exposure_s"] < waiting.settings["shot"]["seeing_holds_s"]
    moon = sightings.event(details={"body": "moon", "illuminated": 1.0})
    transit = ask(rig(), slow, moon).settings["shot"]
    assert transit["exposure_s"] <= transit["seeing_holds_s"]
    assert transit["motion_limit_s"] > transit["seeing_holds_s"]


# --- glints ------------------------------------------------------------------


def test_a_third_of_a_well_leaves_a_magnitude_and_the_rest_is_told():
    """2.5 log10(1 / 0.40) = 1.0: a glint 2.5 mag brighter wants 10 % (Pogson)."""
    advice = ask(rig(), bright_track())
    found = advice.settings["shot"]
    assert found["headroom_mag"] == pytest.approx(
        -2.5 * np.log10(found["well_filled"]), abs=0.01
    )
    assert 1.0 <= found["headroom_mag"] < 1.31
    assert found["glint_mag"] == 2.5
    (kept,) = (o for o in advice.settings["options"] if o["kind"] == "glints")
    assert kept["headroom_mag"] >= 2.5
    assert kept["well_filled"] <= 0.1


def bright_track():
    flight = sightings.track(step_s=1.0)
    return replace(flight, magnitude=np.asarray(flight.magnitude) - 2.0)


@given(st.floats(0.0, 4.0))
@settings(max_examples=8)
def test_glints_that_are_to_be_kept_are_kept(glint_mag):
    advice = ask(rig(), bright_track(), glint_mag=glint_mag, keep_glints=True)
    found = advice.settings["shot"]
    assert advice.limit != "camera"
    assert found["headroom_mag"] >= min(glint_mag, 1.14) - 0.01
    assert found["headroom_mag"] >= glint_mag - 0.01
    assert "glints" not in {o["kind"] for o in advice.settings["options"]}


def test_the_disc_of_a_transit_has_no_glints():
    moon = sightings.event(details={"body": "moon", "illuminated": 1.0})
    plain, keeping = (
        ask(rig(), subject=moon, keep_glints=keep).settings["shot"]
        for keep in (False, True)
    )
    assert keeping == plain
    assert plain["glint_mag"] is None


# --- phase, range, extinction ------------------------------------------------


def flow(track, **stated):
    found = ask(track=track, **{**VAST, **stated}).settings["shot"]
    return found["electrons_px"] / found["exposure_s"]


@pytest.mark.parametrize(("phase_deg", "lit"), [(60.0, 0.75), (90.0, 0.5), (120, 0.25)])
def test_the_light_is_on_the_lit_part_alone(phase_deg, lit):
    """The magnitude is that of all the light; at a phase it comes from less."""
    flight = sightings.track(step_s=1.0)
    n = len(flight.time_s)
    full, part = (
        flow(replace(flight, phase_angle_deg=np.full(n, angle)))
        for angle in (0.0, phase_deg)
    )
    assert part / full == pytest.approx(1.0 / lit, rel=0.02)


def test_a_point_is_as_bright_at_any_phase():
    flight = sightings.track(step_s=1.0)
    n = len(flight.time_s)
    full, part = (
        flow(
            replace(flight, phase_angle_deg=np.full(n, angle)),
            length_m=0.1,
            width_m=0.1,
        )
        for angle in (0.0, 120.0)
    )
    assert part == pytest.approx(full, rel=0.01)


@given(st.floats(0.25, 6.0), st.floats(0.0, 2.0))
@settings(max_examples=8)
def test_the_light_limit_knows_no_range_but_extinction(times, extinction_mag):
    """Twice the range: a quarter of the light on a quarter of the pixels.

    What the air takes more is all that lengthens the exposure.
    """
    flight = bright_track()  # so that the sky does not count
    fainter = 5.0 * np.log10(times) + extinction_mag
    far = replace(
        flight,
        range_km=np.asarray(flight.range_km) * times,
        magnitude=np.asarray(flight.magnitude) + fainter,
    )
    one = replace(places.rig(), gains=(DEEP,))
    near_s, far_s = (
        ask(one, track, **VAST).settings["shot"]["light_limit_s"]
        for track in (flight, far)
    )
    assert far_s / near_s == pytest.approx(10 ** (0.4 * extinction_mag), rel=0.02)


# --- options of the rig ------------------------------------------------------

BINNED = VideoMode(
    name="binned",
    width_px=960,
    height_px=540,
    frame_rate_hz=200.0,
    bytes_per_px=1.0,
    binning=2,
)


def options(advice, kind):
    return [o for o in advice.settings["options"] if o["kind"] == kind]


def test_a_binned_mode_is_worked_out_as_four_pixels_in_one():
    modes = (*places.rig().modes, BINNED)
    advice = ask(rig(modes=modes, mount=STILL))
    assert advice.region_px == (1920, 1080)
    assert advice.settings["mode"] == "full"
    (found,) = options(advice, "binning")
    plain = advice.settings["shot"]
    assert "“binned”" in found["what"]
    per_s = [one["electrons_px"] / one["exposure_s"] for one in (plain, found)]
    assert per_s[1] / per_s[0] == pytest.approx(4.0, rel=0.01)
    # Half of two pixels twice as wide, or of the same diffraction width.
    assert 1.0 <= found["motion_limit_s"] / plain["motion_limit_s"] <= 2.01
    assert found["snr_px"] > 2.0 * plain["snr_px"]


def test_a_camera_without_such_a_mode_is_binned_afterwards():
    (found,) = options(ask(rig(mount=STILL)), "binning")
    assert found["what"] == "2 × 2 pixels added afterwards"


def test_a_bin_has_the_wells_and_the_readings_of_its_pixels():
    bench = bench_of(rig(), Choices())
    made = binned(bench, 3, None)
    assert made.scale_arcsec == pytest.approx(3 * bench.scale_arcsec)
    assert made.gains[0].full_well_e == 9 * DEEP.full_well_e
    assert made.gains[0].read_noise_e == 3 * DEEP.read_noise_e


def test_only_binned_modes_are_no_mode_for_the_whole_sensor():
    advice = ask(rig(modes=(BINNED,)))
    assert advice.settings["mode"] is None
    assert "modes" in {one["what"] for one in advice.settings["assumed"]}


def test_an_extender_and_other_filters_are_options():
    wide = Filter(name="clear", centre_nm=550.0, width_nm=300.0, peak=0.97)
    advice = ask(rig(mount=STILL, extender=2.0, filters=(*places.rig().filters, wide)))
    plain = advice.settings["shot"]
    (shorter,), (clear,) = options(advice, "extender"), options(advice, "filter")
    assert shorter["electrons_px"] > plain["electrons_px"]
    per_s = [one["electrons_px"] / one["exposure_s"] for one in (plain, clear)]
    assert per_s[1] / per_s[0] == pytest.approx(300 * 0.97 / (100 * 0.95), rel=0.05)


def test_a_mount_that_could_follow_is_offered_to_one_that_waits():
    (found,) = options(ask(rig(), mount="fixed"), "mount")
    assert found["snr_px"] > ask(rig(), mount="fixed").settings["shot"]["snr_px"]
    assert not options(ask(rig(mount=STILL)), "mount")


def test_options_are_worked_out_for_nobody_without_light():
    dark = ask(replace(rig(), aperture_mm=float("nan"), gains=()))
    assert not dark.settings["options"]
