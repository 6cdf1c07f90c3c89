"""The imaging adviser on invented flights: settings that a practitioner would use."""

from dataclasses import replace
from datetime import timedelta
from math import isnan
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("passes_plugins.imaging")
from passes import testing as kit
from passes import vectors
from passes.constants import EARTH_ROTATION_RAD_S
from passes.errors import InputError
from passes.model import Gain, Mount, Rig
from passes.testing import places, requests, sightings
from passes_plugins.imaging.advising import advise
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.dial import dial, dialled_s
from passes_plugins.imaging.shot import AMPLE_SNR

SIZES = str(Path(__file__).parents[2] / "fixtures" / "sizes.csv")
STILL = Mount(kind="fixed", pointing_error_arcmin=3.0)


def track(**fields):
    """The sample flight, a sample a second."""
    return sightings.track(step_s=1.0, **fields)


def ask(rig=None, **fields):
    """Advice on the sample flight, the station's size being known."""
    given = {"track": track(), "rig": rig or places.rig(), **fields}
    given["settings"] = {"sizes": SIZES, **fields.get("settings", {})}
    return advise(requests.briefing(**given))


def said(advice, section=""):
    """All remarks of one part of the page as one text."""
    chosen = (n for n in advice.notes if section in ("", n.values["section"]))
    return " ".join(note.text for note in chosen)


# --- the sanity case ---------------------------------------------------------


def test_the_case_done_by_hand():
    """250 mm, 0.3″ a pixel, an outline filled by 35 %, 80 µs on a fixed mount.

    The hand arithmetic gives of the order of 100 electrons a pixel; here the whole
    adviser does it for a station of magnitude −3.4 at 450 km.
    """
    rig = Rig(
        name="hand",
        focal_length_mm=2062.65,
        pixel_um=3.0,
        width_px=1936,
        height_px=1216,
        aperture_mm=250.0,
        obstruction=0.35,
        quantum_efficiency=0.6,
        gains=(Gain(name="0", electrons_per_adu=1, read_noise_e=2, full_well_e=1e4),),
        mount=STILL,
    )
    flight = track()
    n = len(flight.time_s)
    flight = replace(
        flight,
        magnitude=np.full(n, -3.4),
        range_km=np.full(n, 450.0),
        phase_angle_deg=np.zeros(n),
    )
    stated = {"length_m": 109.0, "width_m": 73.0, "filled": 0.35}
    advice = ask(rig, track=flight, settings=stated)
    shot = advice.settings["shot"]
    assert advice.image_scale_arcsec_px == pytest.approx(0.3, abs=1e-4)
    at_80_us = shot["electrons_px"] / shot["exposure_s"] * 80e-6
    assert 50 < at_80_us < 300


# --- settings of the sample pass ---------------------------------------------


def test_a_following_mount_gets_milliseconds_and_a_low_start():
    advice = ask()
    assert advice.settings["way"] == "follow"
    assert 1e-3 < advice.exposure_s < 1e-2
    assert advice.limit == "seeing"
    assert advice.settings["shot"]["snr_px"] >= 0.85 * AMPLE_SNR
    calm = ask(settings={"wind_m_s": 0.5, "fill": 0.9})
    assert calm.limit == "shake"  # 8 Hz and 1″ move faster than 20″ a second
    assert calm.exposure_s > advice.exposure_s
    assert advice.frame_rate_hz == 160.0
    assert advice.pointing.altitude_deg < 20.0
    assert advice.start < advice.pointing.time < advice.stop


def test_recording_is_widened_by_the_bound():
    narrow, wide = (ask(track=track(timing_bound_s=b)) for b in (1.0, 21.0))
    assert narrow.start - wide.start == timedelta(seconds=20)
    assert wide.stop - narrow.stop == timedelta(seconds=20)


def test_a_fixed_mount_waits_with_a_shutter_that_freezes():
    advice = ask(replace(places.rig(), mount=STILL))
    assert advice.settings["way"] == "fixed"
    assert advice.limit == "motion"
    first = advice.settings["waiting"][0]
    assert advice.exposure_s == pytest.approx(first["exposure_s"])
    rate = 0.85 * 3600
    assert 0.3 < advice.exposure_s * rate / 0.34 < 1.4
    assert advice.stop - advice.start < timedelta(seconds=20)


def test_a_fixed_mount_by_request_is_a_fixed_mount():
    rig = places.rig()
    chosen = ask(rig, settings={"mount": "fixed"})
    assert chosen.settings["way"] == "fixed"
    assert chosen.exposure_s < ask(rig).exposure_s


def test_blur_allowed_in_pixels_sets_the_shutter():
    one, two = (
        ask(replace(places.rig(), mount=STILL), settings={"blur_px": b})
        for b in (1.0, 2.0)
    )
    pair = [a.settings["shot"]["motion_limit_s"] for a in (one, two)]
    assert pair[1] == pytest.approx(2 * pair[0], rel=0.02)


def test_the_brighter_the_object_the_deeper_the_well():
    wells = [
        Gain(name="low", electrons_per_adu=3, read_noise_e=6, full_well_e=40_000),
        Gain(name="high", electrons_per_adu=0.2, read_noise_e=1, full_well_e=2_000),
    ]
    rig = replace(places.rig(), gains=tuple(wells), mount=STILL)
    flight = track()
    bright = replace(flight, magnitude=np.asarray(flight.magnitude) - 4.0)
    assert ask(rig, track=flight).gain == "high"
    assert ask(rig, track=bright).gain == "low"


def test_what_overfills_the_pixels_is_bound_by_light():
    flight = track()
    bright = replace(flight, magnitude=np.asarray(flight.magnitude) - 3.0)
    advice = ask(track=bright)
    assert advice.limit == "light"
    assert 0.30 < advice.settings["shot"]["well_filled"] <= 0.40
    brighter = replace(flight, magnitude=np.asarray(flight.magnitude) - 6.0)
    beyond = ask(track=brighter)
    assert beyond.limit == "camera"
    assert beyond.settings["shot"]["well_filled"] > 0.35
    assert "too bright" in said(beyond)


def test_daylight_is_in_the_sum():
    day = track(sun_altitude_deg=np.full(617, 20.0))
    dark, bright = ask(), ask(track=day)
    assert bright.settings["object"]["sky_mag_arcsec2"] < 6.0
    assert bright.settings["shot"]["electrons_px"] / bright.exposure_s > (
        1.2 * dark.settings["shot"]["electrons_px"] / dark.exposure_s
    )
    assert "are sky" in said(bright)
    assert "The Sun is up" in said(bright, "caution")


def test_nothing_follows_near_a_risen_sun():
    n = 617
    near = track(sun_altitude_deg=np.full(n, 20.0), sun_separation_deg=np.full(n, 12.0))
    advice = ask(track=near)
    assert isnan(advice.exposure_s)
    assert "within 30°" in said(advice, "caution")
    assert "certified" in said(advice, "caution")


# --- following ---------------------------------------------------------------


def test_the_zenith_stops_an_alt_azimuth_mount_and_an_earlier_stretch_is_used():
    n = 617
    rate = np.full(n, 0.5)
    rate[320:340] = 30.0
    advice = ask(track=track(azimuth_rate_deg_s=rate))
    following = advice.settings["following"]
    assert following["fastest_deg_s"] == 30.0
    assert following["reachable"][0] < 1.0 == following["reachable"][1]
    # The later stretch is cut by the shadow: the first is longer, and low at its start.
    cut = advice.stop - timedelta(seconds=1.2 + 10)
    assert cut <= sightings.BEST + timedelta(seconds=320 - 308)


def test_an_equatorial_mount_is_told_its_side_of_the_pier():
    mount = replace(places.rig().mount, kind="equatorial")
    advice = ask(replace(places.rig(), mount=mount))
    pier = advice.settings["following"]["pier"]
    hour = track().hour_angle_deg
    usable = np.arange(hour.size) < 0.8 * hour.size  # then it is in shadow
    expected = "east" if (hour[usable] > 0).mean() >= 0.5 else "west"
    assert pier.startswith(f"tube {expected} of the pier")
    assert advice.settings["following"]["axes"] == ["hour angle", "declination"]


def test_a_late_object_is_not_on_the_chip_of_a_blind_mount():
    sure = ask(
        replace(
            places.rig(), mount=replace(places.rig().mount, pointing_error_arcmin=0.1)
        ),
        track=track(
            timing_sigma_s=0.005, timing_bound_s=0.01, cross_track_sigma_km=0.01
        ),
    )
    unsure = ask()
    assert sure.settings["following"]["blind_chance"] > 0.95
    assert unsure.settings["following"]["blind_chance"] < 0.2
    assert "full frame" in said(unsure)
    assert "--late-by" in said(unsure)
    assert "full frame" not in said(sure)


# --- lying in wait -----------------------------------------------------------


def brute_chance(flight, site, rig, i, exposure_hz, least, draws=3000):
    """Fly late and shifted objects through the waiting frame, frame by frame."""
    from passes import sky

    azimuth, altitude = np.radians(flight.azimuth_deg), np.radians(flight.altitude_deg)
    level = vectors.direction(np.pi / 2 - azimuth, altitude)
    axes, here = sky.site_axes(site), sky.site_km(site)
    place = here + (level @ axes) * np.asarray(flight.range_km)[:, None]
    time = np.asarray(flight.time_s)
    around = slice(i - 20, i + 21)
    polynomials = [
        np.polynomial.Polynomial.fit(time[around], place[around, k], 6)
        for k in range(3)
    ]
    moving = np.array([p.deriv()(time[i]) for p in polynomials])
    moving = moving + np.cross([0, 0, EARTH_ROTATION_RAD_S], place[i])
    normal = np.cross(place[i], moving)
    normal /= np.linalg.norm(normal)
    right = np.array([np.cos(azimuth[i]), -np.sin(azimuth[i]), 0.0])
    up = np.cross(right, level[i])
    rng = np.random.default_rng(77)
    half = np.radians(rig.scale_arcsec_px / 3600) * np.array(
        [rig.width_px / 2, rig.height_px / 2]
    )
    caught = 0
    for _ in range(draws):
        late = rng.standard_normal() * flight.timing_sigma_s
        aside = rng.standard_normal() * flight.cross_track_sigma_km
        off = rng.standard_normal(2) * np.radians(
            rig.mount.pointing_error_arcmin / 60 / np.sqrt(2)
        )
        frames = np.arange(-1.0, 1.0, 1 / exposure_hz) + rng.random() / exposure_hz
        path = np.stack([p(time[i] + frames) for p in polynomials], axis=-1)
        path = vectors.rotate_z(path + aside * normal, -EARTH_ROTATION_RAD_S * late)
        seen = (path - here) @ axes.T
        depth = seen @ level[i]
        x, y = seen @ right / depth + off[0], seen @ up / depth + off[1]
        caught += ((abs(x) < half[0]) & (abs(y) < half[1])).sum() >= least
    return caught / draws


def test_the_chance_of_a_waiting_place_is_what_flying_through_it_gives():
    """Normal errors, camera upright; 3000 flights leave 1 % of noise, twice over."""
    flight = track(timing_sigma_s=2.0, timing_bound_s=2.0 * 1.959964)
    rig = replace(places.rig(), mount=STILL)
    advice = ask(rig, track=flight, settings={"turn_deg": 0.0, "frames": 20})
    for place in advice.settings["waiting"][:2]:
        moment = np.datetime64(place["time"].removesuffix("Z"), "ms")
        begin = np.datetime64(flight.start.replace(tzinfo=None), "ms")
        i = round((moment - begin) / np.timedelta64(1, "s"))
        expected = brute_chance(flight, places.site(), rig, i, 160.0, 20)
        assert 0.05 < expected < 0.98
        assert place["chance"] == pytest.approx(expected, abs=0.04)


def test_places_are_apart_in_order_of_worth_and_carry_a_star():
    advice = ask(replace(places.rig(), mount=STILL))
    found = advice.settings["waiting"]
    assert len(found) == 3
    times = [np.datetime64(p["time"].removesuffix("Z"), "ms") for p in found]
    gaps = [
        abs((a - b) / np.timedelta64(1, "s")) for a in times for b in times if a != b
    ]
    assert min(gaps) >= 30.0
    for place in found:
        assert 0.0 < place["chance"] <= place["best_chance"] + 1e-9 <= 1.0 + 1e-9
        assert place["star"]["name"]
        assert place["frames"] == pytest.approx(place["in_field_s"] * 160.0, rel=0.02)


@pytest.mark.parametrize("worse", ["timing", "cross", "pointing"])
def test_whatever_is_less_sure_lowers_the_chance(worse):
    rig = replace(places.rig(), mount=STILL)
    flight = track()
    before = ask(rig, track=flight).settings["waiting"][0]["chance"]
    if worse == "timing":
        flight = replace(flight, timing_sigma_s=60.0, timing_bound_s=200.0)
    elif worse == "cross":
        flight = replace(flight, cross_track_sigma_km=5.0)
    else:
        rig = replace(rig, mount=replace(STILL, pointing_error_arcmin=30.0))
    assert ask(rig, track=flight).settings["waiting"][0]["chance"] < before - 0.02


def test_the_same_question_has_the_same_answer():
    one, other = ask(), ask()
    assert one.settings["waiting"] == other.settings["waiting"]


def test_the_penumbra_is_no_place_to_wait_in():
    n = 617
    lit = np.ones(n)
    lit[300:] = 0.0
    lit[295:300] = [0.8, 0.6, 0.4, 0.2, 0.05]
    with np.errstate(divide="ignore"):
        faded = np.asarray(track().magnitude) - 2.5 * np.log10(lit)
    faded[300:] = np.nan
    advice = ask(track=track(lit_fraction=lit, magnitude=faded))
    begin = np.datetime64(track().start.replace(tzinfo=None), "ms")
    for when in [
        advice.settings["object"]["time"],
        *(place["time"] for place in advice.settings["waiting"]),
    ]:
        moment = np.datetime64(when.removesuffix("Z"), "ms")
        assert (moment - begin) / np.timedelta64(1, "s") < 295.5


# --- wide lenses -------------------------------------------------------------

LENS = Rig(
    name="wide",
    focal_length_mm=24.0,
    focal_ratio=2.8,
    pixel_um=4.3,
    width_px=6000,
    height_px=4000,
    quantum_efficiency=0.5,
    colour=True,
    gains=(
        Gain(name="ISO 400", electrons_per_adu=1, read_noise_e=4, full_well_e=20_000),
        Gain(name="ISO 1600", electrons_per_adu=0.3, read_noise_e=2, full_well_e=5_000),
    ),
    write_mb_s=90.0,
    mount=STILL,
)


def test_a_wide_lens_gets_a_trail():
    advice = ask(LENS)
    trail = advice.settings["trail"]
    assert advice.settings["way"] == "trail"
    assert 20.0 < trail["length_deg"] < 90.0
    assert trail["length_px"] == pytest.approx(
        trail["length_deg"] * 3600 / advice.image_scale_arcsec_px, rel=1e-3
    )
    seconds = (
        np.datetime64(trail["exit"][:-1]) - np.datetime64(trail["entry"][:-1])
    ) / np.timedelta64(1, "s")
    assert trail["count"] == pytest.approx(
        seconds / (advice.exposure_s + trail["gap_s"]), abs=1.0
    )
    assert "noise reduction off" in said(advice)


def test_the_trail_stays_inside_the_frame_it_is_given():
    advice = ask(LENS)
    trail, flight = advice.settings["trail"], track()
    wide, high = (
        2 * np.arctan(n * 4.3e-3 / 2 / 24.0) for n in (LENS.width_px, LENS.height_px)
    )
    assert np.radians(trail["length_deg"]) <= np.hypot(wide, high) * 1.2
    at = advice.pointing
    middle = vectors.direction(
        np.radians(90 - at.azimuth_deg), np.radians(at.refracted_altitude_deg)
    )
    for key in ("entry", "exit"):
        i = round(
            (
                np.datetime64(trail[key][:-1], "ms")
                - np.datetime64(flight.start.replace(tzinfo=None), "ms")
            )
            / np.timedelta64(1, "s")
        )
        end = vectors.direction(
            np.radians(90 - flight.azimuth_deg[i]),
            np.radians(flight.refracted_altitude_deg[i]),
        )
        corner = np.arctan(np.hypot(np.tan(wide / 2), np.tan(high / 2)))
        assert vectors.separation_rad(end, middle) <= corner


def test_sky_limits_the_exposure_in_twilight():
    dusk = track(sun_altitude_deg=np.full(617, -7.0))
    night = track(sun_altitude_deg=np.full(617, -30.0))
    short, long = (ask(LENS, track=t) for t in (dusk, night))
    assert short.limit == "sky"
    assert short.exposure_s < long.exposure_s
    third = short.settings["trail"]["sky_third_s"]
    assert short.exposure_s <= third


def test_by_day_a_frame_is_over_before_the_object_has_left_its_pixel():
    """Then a trail's light shrinks with the exposure, and soon nothing of it shows."""
    day = track(sun_altitude_deg=np.full(617, 20.0))
    advice, dark = ask(LENS, track=day), ask(LENS)
    trail = advice.settings["trail"]
    fixed = advice.table[30]["angular_rate_deg_s"] * 3600.0
    assert advice.exposure_s < 1e-3 < advice.image_scale_arcsec_px / fixed
    assert trail["trail_electrons_px"] < (
        0.1 * dark.settings["trail"]["trail_electrons_px"]
    )
    assert trail["limiting_magnitude"] < dark.settings["trail"]["limiting_magnitude"]
    faint = replace(day, magnitude=np.full(617, 3.0))
    assert "no trail will show" in said(ask(LENS, track=faint))
    assert "no trail will show" not in said(dark)


def test_slow_writing_leaves_a_gap():
    slow = ask(replace(LENS, write_mb_s=24.0)).settings["trail"]
    assert slow["gap_s"] == pytest.approx(2.0, rel=0.01)  # 48 MB at 24 MB/s
    held = ask(replace(LENS, write_mb_s=24.0, buffer_mb=900.0)).settings["trail"]
    assert held["gap_px"] < slow["gap_px"]


# --- transits ----------------------------------------------------------------


def transit(**details):
    return sightings.event(details=details)


def test_the_moons_disc_sets_the_exposure_of_a_transit():
    full, half = (
        ask(subject=transit(body="moon", illuminated=lit)).settings["shot"]
        for lit in (1.0, 0.5)
    )
    # 3.4 mag/arcsec² at full (−12.74 over a disc of 31.1′), 1.4 mag fainter at half.
    assert half["light_limit_s"] / full["light_limit_s"] == pytest.approx(3.6, rel=0.05)


def test_a_burst_spans_the_transit_and_the_bound():
    event = transit(body="moon", duration_s=0.5)
    advice = ask(subject=event)
    assert advice.start == event.start - timedelta(seconds=1.2 + 5.0)
    assert advice.stop == event.end + timedelta(seconds=1.2 + 5.0)
    assert "80 of the frames" in said(advice)


def test_a_chip_smaller_than_the_disc_is_aimed_at_the_chord():
    details = {"body": "moon", "offset_radii": 0.4, "offset_position_angle_deg": 120.0}
    text = said(ask(subject=transit(**details)))
    assert "aim 6.2′ from its centre towards position angle 120°" in text
    large = replace(places.rig(), focal_length_mm=300.0)
    assert "whole disc is on the chip" in said(ask(large, subject=transit(**details)))


def test_the_sun_comes_with_its_warning_first():
    advice = ask(subject=transit(body="sun"))
    assert advice.notes[0].severity == "warning"
    assert "certified full-aperture solar filter" in advice.notes[0].text
    assert "solar rate" in said(advice)
    assert "Focus on the Sun's limb, filtered" in said(advice, "before")
    assert "sync on a star" not in said(advice, "before")
    day = track(sun_altitude_deg=np.full(617, 20.0), sun_separation_deg=np.full(617, 1))
    by_day = said(ask(track=day, subject=transit(body="sun")), "caution")
    assert "never look through an optic that may meet it" in by_day
    assert "nothing here follows" not in by_day


# --- what is missing, what is wrong ------------------------------------------


def test_a_rig_without_aperture_is_told_in_one_line_and_still_advised():
    rig = replace(places.rig(), aperture_mm=float("nan"))
    advice = ask(rig)
    told = [n for n in advice.notes if n.values.get("what") == "aperture_mm"]
    assert len(told) == 1
    assert "rig long: no aperture_mm" in told[0].text
    assert advice.exposure_s > 0
    assert advice.gain == ""
    assert isnan(ask(rig).settings["shot"]["light_limit_s"] or float("nan"))


def test_an_object_of_unknown_size_is_told_in_one_line():
    flight = replace(track(), name="SAMPLE THING", catalog_number=80777)
    advice = ask(track=flight)
    told = [n for n in advice.notes if n.values.get("what") == "the object's size"]
    assert len(told) == 1
    assert advice.settings["object"]["size_arcsec"] is None
    stated = ask(track=flight, settings={"length_m": 60.0})
    assert stated.settings["object"]["size_arcsec"] == pytest.approx(24.0, abs=0.1)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"altitude_deg": np.full(617, -3.0)}, "below the horizon"),
        ({"lit_fraction": np.zeros(617)}, "Earth's shadow"),
    ],
)
def test_nothing_to_shoot_is_one_note(fields, words):
    advice = ask(track=track(**fields))
    assert words in advice.notes[0].text
    assert isnan(advice.exposure_s)
    assert advice.start is None


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"blur_px": 0}, "blur_px: 0 is impossible"),
        ({"frames": "many"}, "frames: 'many' is impossible"),
        ({"mount": "float"}, "none of fixed, stars, follow"),
        ({"shutter": 1}, "unknown key 'shutter'"),
        ({"fill": float("nan")}, "fill: nan is impossible"),
        ({"keep_glints": 1}, "neither true nor false"),
        ({"sizes": 3}, "name of a file"),
        ({"sizes": "/nowhere/at/all.csv"}, "cannot be read"),
    ],
)
def test_settings_that_cannot_be_used_are_named(settings, words):
    with pytest.raises(InputError, match=r"imaging|nowhere") as caught:
        ask(settings=settings)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_lens_of_f_0_is_refused_and_an_f_number_makes_an_aperture():
    with pytest.raises(InputError, match="f-number 0 is impossible"):
        replace(LENS, focal_ratio=0.0, aperture_mm=float("nan"))
    assert pytest.approx(24.0 / 2.8) == LENS.aperture_mm
    assert pytest.approx(2.8) == LENS.f_number


def test_the_adviser_and_the_command_hold_as_a_plugin():
    import passes_plugins.imaging as plugin

    kit.check_plugin(plugin).require()


# --- the dial ----------------------------------------------------------------


@given(st.floats(1e-6, 3000.0))
def test_a_dialled_exposure_is_never_longer_and_within_a_third_stop(exposure_s):
    found = dialled_s(exposure_s)
    assert found <= exposure_s * (1 + 1e-9)
    assert found >= exposure_s / 1.34
    assert dialled_s(found) == pytest.approx(found)


@pytest.mark.parametrize(
    ("exposure_s", "words"),
    [(1 / 2000, "1/2000 s"), (1 / 1999, "1/2000 s"), (4.2, "4 s"), (0.26, "1/4 s")],
)
def test_a_dial_reads_as_cameras_write_it(exposure_s, words):
    assert dial(dialled_s(exposure_s)) == words


def test_choices_default_to_what_is_common_practice():
    choices = Choices.of({})
    assert 0.30 <= choices.fill <= 0.40
    assert 2.0 <= choices.glint_mag <= 3.0
