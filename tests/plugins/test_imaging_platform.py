"""Several instruments on one mount: offsets, chances, and who cannot serve."""

from dataclasses import replace

import numpy as np
import pytest

pytest.importorskip("passes_plugins.imaging")
from passes import sky, vectors
from passes.constants import EARTH_ROTATION_RAD_S
from passes.model import Mount
from passes.testing import places, requests, sightings
from passes_plugins.imaging.advising import advise
from passes_plugins.imaging.command import own_advice
from passes_plugins.imaging.riding import aside_arcmin
from passes_plugins.imaging.together import serve_together

STILL = Mount(kind="fixed", pointing_error_arcmin=3.0)


def track(**fields):
    return sightings.track(step_s=1.0, **fields)


def flown(flight, site):
    """Places in ground axes at any second near one, by polynomials over 40 s."""
    azimuth, altitude = np.radians(flight.azimuth_deg), np.radians(flight.altitude_deg)
    level = vectors.direction(np.pi / 2 - azimuth, altitude)
    here = sky.site_km(site)
    line = (level @ sky.site_axes(site)) * np.asarray(flight.range_km)[:, None]
    time = np.asarray(flight.time_s)

    def near(i):
        around = slice(i - 20, i + 21)
        fits = [
            np.polynomial.Polynomial.fit(time[around], (here + line)[around, k], 6)
            for k in range(3)
        ]
        return fits, [f.deriv() for f in fits]

    return near, here, level, azimuth


def axes_of_frame(rig, ahead, azimuth, axes):
    """Right and up of the frame (east, north, up): level or towards north, turned."""
    right = np.array([np.cos(azimuth), -np.sin(azimuth), 0.0])
    if rig.mount.kind == "equatorial":
        pole = axes @ np.array([0.0, 0.0, 1.0])
        north = pole - (pole @ ahead) * ahead
        right = np.cross(ahead, north / np.linalg.norm(north))
    up = np.cross(right, ahead)
    c, s = np.cos(np.radians(rig.rotation_deg)), np.sin(np.radians(rig.rotation_deg))
    return right * c + up * s, up * c - right * s


def brute_blind(flight, site, rig, i, offset_arcmin, draws=4000):
    """Point at the prediction, fly late and shifted objects, count what is met."""
    near, here, level, azimuth = flown(flight, site)
    fits, speeds = near(i)
    moment = float(flight.time_s[i])
    rng = np.random.default_rng(5)
    late = rng.standard_normal(draws) * flight.timing_sigma_s
    aside = rng.standard_normal(draws) * flight.cross_track_sigma_km
    place = np.array([f(moment) for f in fits])
    velocity = np.array([s(moment) for s in speeds])
    velocity = velocity + np.cross([0, 0, EARTH_ROTATION_RAD_S], place)
    normal = np.cross(place, velocity) / np.linalg.norm(np.cross(place, velocity))
    path = np.stack([f(moment - late) for f in fits], axis=-1)
    path = path + aside[:, None] * normal
    path = vectors.rotate_z(path, -EARTH_ROTATION_RAD_S * late)
    seen = (path - here) @ sky.site_axes(site).T
    right, up = axes_of_frame(rig, level[i], azimuth[i], sky.site_axes(site))
    jitter = np.radians(rig.mount.pointing_error_arcmin / 60) / np.sqrt(2)
    depth = seen @ level[i]
    off = rng.standard_normal((2, draws)) * jitter
    turn = np.radians(rng.standard_normal(draws) * 3.0)
    x, y = seen @ right / depth + off[0], seen @ up / depth + off[1]
    x, y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    x, y = x - np.radians(offset_arcmin[0] / 60), y - np.radians(offset_arcmin[1] / 60)
    half = np.radians(rig.field_deg) / 2
    return ((abs(x) < half[0]) & (abs(y) < half[1])).mean()


@pytest.mark.parametrize(
    ("kind", "turned_deg", "offset"),
    [
        ("alt-azimuth", 0.0, (0.0, 0.0)),
        ("alt-azimuth", 0.0, (4.0, -3.0)),
        ("alt-azimuth", 0.0, (-6.0, 5.0)),
        ("alt-azimuth", 40.0, (6.0, 2.0)),
        ("equatorial", 0.0, (5.0, 4.0)),
        ("equatorial", -70.0, (-5.0, 3.0)),
    ],
)
def test_the_chance_of_following_blind_is_what_flying_gives(kind, turned_deg, offset):
    """Normal errors; 4000 flights leave 1 % of noise, twice over."""
    flight = track(timing_sigma_s=0.08, timing_bound_s=0.08 * 1.959964)
    mount = replace(places.rig().mount, kind=kind)
    rig = replace(
        places.rig(), offset_arcmin=offset, rotation_deg=turned_deg, mount=mount
    )
    found = advise(requests.briefing(track=flight, rig=rig)).settings
    moment = np.datetime64(found["object"]["time"].removesuffix("Z"), "ms")
    begin = np.datetime64(flight.start.replace(tzinfo=None), "ms")
    i = round((moment - begin) / np.timedelta64(1, "s"))
    expected = brute_blind(flight, places.site(), rig, i, offset)
    assert 0.02 < expected < 0.98
    assert found["following"]["blind_chance"] == pytest.approx(expected, abs=0.04)


def brute_waiting(flight, site, rig, i, offset_arcmin, hz, least, draws=2500):
    """Wait where the leading rig meets it, and count frames of each flight."""
    near, here, level, azimuth = flown(flight, site)
    fits, speeds = near(i)
    moment, axes = float(flight.time_s[i]), sky.site_axes(site)
    right, up = axes_of_frame(rig, level[i], azimuth[i], axes)
    place = np.array([f(moment) for f in fits])
    velocity = np.array([s(moment) for s in speeds])
    velocity = velocity + np.cross([0, 0, EARTH_ROTATION_RAD_S], place)
    normal = np.cross(place, velocity) / np.linalg.norm(np.cross(place, velocity))
    half, shift = (
        np.radians(rig.field_deg) / 2,
        np.radians(np.divide(offset_arcmin, 60)),
    )
    jitter = np.radians(rig.mount.pointing_error_arcmin / 60) / np.sqrt(2)
    rng, caught = np.random.default_rng(6), 0
    for _ in range(draws):
        late = rng.standard_normal() * flight.timing_sigma_s
        times = np.arange(-3.0, 3.0, 1 / hz) + rng.random() / hz
        path = np.stack([f(moment + times) for f in fits], axis=-1)
        path = path + rng.standard_normal() * flight.cross_track_sigma_km * normal
        seen = (vectors.rotate_z(path, -EARTH_ROTATION_RAD_S * late) - here) @ axes.T
        off = rng.standard_normal(2) * jitter - shift
        x = seen @ right / (seen @ level[i]) + off[0]
        y = seen @ up / (seen @ level[i]) + off[1]
        caught += ((abs(x) < half[0]) & (abs(y) < half[1])).sum() >= least
    return caught / draws


@pytest.mark.parametrize("offset", [(20.0, 12.0), (40.0, -25.0), (-15.0, 30.0)])
@pytest.mark.parametrize("kind", ["alt-azimuth", "equatorial"])
def test_the_chance_beside_a_waiting_rig_is_what_flying_gives(kind, offset):
    mount = replace(STILL, kind=kind, pointing_error_arcmin=10.0)
    flight = track(timing_sigma_s=2.0, timing_bound_s=2.0 * 1.959964)
    beside = guide(offset_arcmin=offset)
    (long, found), _ = asked(
        replace(places.rig(), mount=mount),
        beside,
        track=flight,
        turn_deg=0.0,
        mount="fixed",
    )
    moment = np.datetime64(long.settings["waiting"][0]["time"].removesuffix("Z"), "ms")
    begin = np.datetime64(flight.start.replace(tzinfo=None), "ms")
    i = round((moment - begin) / np.timedelta64(1, "s"))
    rig = replace(beside, mount=mount)
    expected = brute_waiting(flight, places.site(), rig, i, offset, 160.0, 5)
    (place,) = found.settings["waiting"]
    assert place["chance"] == pytest.approx(expected, abs=0.04)


def test_an_offset_beyond_the_chip_is_told_and_syncing_through_the_rig_mends_it():
    sure = track(timing_sigma_s=0.005, timing_bound_s=0.01, cross_track_sigma_km=0.01)
    mount = replace(places.rig().mount, pointing_error_arcmin=0.1)
    rig = replace(places.rig(), mount=mount, offset_arcmin=(30.0, 40.0))
    advice = advise(requests.briefing(track=sure, rig=rig))
    found = advice.settings["following"]
    assert found["blind_chance"] == 0.0
    assert found["blind_chance_synced_here"] > 0.95
    assert found["aside_arcmin"] == 50.0
    assert found["blind_miss_arcmin"] == pytest.approx(50.0, abs=1.0)
    told = " ".join(note.text for note in advice.notes)
    assert "this rig 50′ beside the main instrument" in told


def test_an_offset_is_measured_in_the_leading_rigs_frame():
    lead = replace(places.rig(), offset_arcmin=(10.0, 0.0))
    rig = replace(places.rig(), offset_arcmin=(13.0, 4.0))
    assert aside_arcmin(rig, None) == (13.0, 4.0)
    assert aside_arcmin(rig, lead) == pytest.approx((3.0, 4.0))
    # A camera turned to the left sees what is above to its right.
    turned = replace(rig, rotation_deg=90.0)
    assert aside_arcmin(turned, lead) == pytest.approx((4.0, -3.0))


# --- together ----------------------------------------------------------------


def guide(**fields):
    """A short telescope beside the long one, on a mount of its own that stands."""
    rig = replace(
        places.rig(),
        name="guide",
        focal_length_mm=400.0,
        aperture_mm=80.0,
        mount=STILL,
        offset_arcmin=(12.0, -9.0),
    )
    return replace(rig, **fields)


def asked(*rigs, **stated):
    flight = stated.pop("track", None) or track()
    briefing = requests.briefing(track=flight, settings=stated)
    advice = own_advice(briefing, rigs)
    return advice, serve_together(rigs, advice)


def test_the_rig_that_looks_the_least_aside_leads_and_the_other_rides_with_it():
    (guiding, long), (shared,) = asked(guide(), places.rig())
    assert long.settings["rides_with"] is None
    assert guiding.settings["rides_with"] == "long"
    assert guiding.settings["way"] == long.settings["way"] == "follow"
    assert guiding.pointing.time == long.pointing.time
    assert (shared.rig, shared.main) == ("guide", "long")
    assert (shared.right_arcmin, shared.up_arcmin) == (12.0, -9.0)
    assert shared.in_field
    assert shared.conflict == ""
    assert shared.chance == guiding.settings["following"]["blind_chance"]
    alone = advise(requests.briefing(track=track(), rig=guide()))
    assert alone.settings["way"] == "fixed"


def test_a_rig_that_looks_past_the_object_cannot_serve():
    _, (shared,) = asked(places.rig(), guide(offset_arcmin=(200.0, 0.0)))
    assert not shared.in_field
    assert "looks past it" in shared.conflict
    assert shared.chance < 0.01


def test_while_the_leading_rig_waits_the_other_waits_at_the_same_moment():
    still = replace(places.rig(), mount=STILL)
    (long, guiding), (shared,) = asked(still, guide())
    assert guiding.settings["way"] == "fixed"
    (place,) = guiding.settings["waiting"]
    assert place["time"] == long.settings["waiting"][0]["time"]
    assert shared.chance == place["chance"]
    assert place["in_field_s"] > long.settings["waiting"][0]["in_field_s"]


def test_what_waits_beside_the_path_sees_nothing_of_it():
    """Far along the path the object still comes by; far across it does not."""
    still = replace(places.rig(), mount=STILL)
    sure = {"track": track(timing_sigma_s=0.01, timing_bound_s=0.02)}
    frames = {}
    for offset in [(300.0, 0.0), (-300.0, 0.0), (0.0, 300.0), (300.0, 300.0)]:
        (_, guiding), (shared,) = asked(still, guide(offset_arcmin=offset), **sure)
        (place,) = guiding.settings["waiting"]
        frames[offset] = place["frames"]
        assert (place["frames"] == 0.0) == (shared.chance < 0.02)
        assert bool(shared.conflict) == (shared.chance == 0.0)
    assert frames[300.0, 0.0] == frames[-300.0, 0.0]
    assert min(frames.values()) == 0.0


def test_a_wide_lens_keeps_its_own_tripod():
    lens = replace(
        places.rig(), name="lens", focal_length_mm=24.0, focal_ratio=2.8, mount=STILL
    )
    lens = replace(lens, aperture_mm=24.0 / 2.8, pixel_um=6.0, width_px=6000)
    (_, wide), (shared,) = asked(places.rig(), replace(lens, offset_arcmin=(60.0, 0.0)))
    assert wide.settings["way"] == "trail"
    assert wide.settings["rides_with"] is None
    assert "its own tripod" in shared.conflict
    assert np.isnan(shared.chance)


def test_what_two_rigs_ask_of_one_mount_is_told_in_words():
    lens = replace(
        places.rig(), name="lens", focal_length_mm=24.0, focal_ratio=2.8, mount=STILL
    )
    lens = replace(lens, aperture_mm=24.0 / 2.8, pixel_um=6.0, width_px=6000)
    waiting = replace(places.rig(), mount=STILL, offset_arcmin=(60.0, 0.0))
    (trailing, long), (shared,) = asked(lens, waiting)
    assert (trailing.settings["way"], long.settings["way"]) == ("trail", "fixed")
    assert shared.conflict == (
        "lens wants the mount to stand still for a trail, long to stand still and wait"
    )
