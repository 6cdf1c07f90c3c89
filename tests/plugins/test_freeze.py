"""The adviser on exposures that freeze motion."""

from dataclasses import replace
from datetime import timedelta
from math import isnan, nan
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import testing as kit
from passes.model import TRACK_ARRAYS, Advice, Mount, Rig, VideoMode
from passes_plugins import freeze

STILL = Mount(kind="fixed")


def advise(rig: Rig, **fields: Any) -> Advice:
    """Advice on the sample passage for a rig."""
    return freeze.advise(kit.briefing(rig=rig, **fields))


def still(**fields: Any) -> Rig:
    """A rig on a tripod whose camera has no limits."""
    return kit.rig(mount=STILL, modes=(), **fields)


def words(advice: Advice) -> str:
    """All notes as one text."""
    return "\n".join(note.text for note in advice.notes)


# Plate scale 206.265 p/f, ″/px (standard formula): 3.76 µm on 2000 mm 0.3878,
# 2.9 on 2350 0.2545, 5.86 on 3600 0.3358.  Rates of a circular orbit without the
# Earth's turning, v/d at culmination (own arithmetic from GM = 398600.4418 km³/s²,
# R = 6378.137 km): 400 km overhead 1.0984 °/s, at 30° 0.5943 °/s.
# So 0.3878 / (1.0984 × 3600) = 98.07 µs, and so on.
@pytest.mark.parametrize(
    ("pixel_um", "focal_mm", "rate_deg_s", "exposure_s"),
    [
        (3.76, 2000.0, 1.0984, 98.07e-6),
        (2.9, 2350.0, 1.0984, 64.37e-6),
        (5.86, 3600.0, 0.5943, 156.94e-6),
    ],
)
def test_hand_arithmetic(
    pixel_um: float, focal_mm: float, rate_deg_s: float, exposure_s: float
) -> None:
    track = kit.track()
    track = replace(track, angular_rate_deg_s=np.full(len(track.time_s), rate_deg_s))
    rig = still(pixel_um=pixel_um, focal_length_mm=focal_mm)
    advice = advise(rig, track=track)
    assert advice.exposure_s == pytest.approx(exposure_s, rel=2e-4)  # four digits
    assert advice.limit == "motion"


def test_the_fastest_moment_binds_and_the_best_one_is_told() -> None:
    track, passage = kit.track(), kit.passage()
    at = track.start + timedelta(seconds=60.0)
    assert passage.brightest is not None
    early = replace(passage, brightest=replace(passage.brightest, time=at))
    advice = advise(still(), subject=early)
    scale = still().scale_arcsec_px
    values = advice.notes[0].values
    rates = track.angular_rate_deg_s
    assert advice.exposure_s == pytest.approx(scale / 3600.0 / rates.max())
    assert values["fastest_s"] == advice.exposure_s
    assert values["best_s"] == pytest.approx(scale / 3600.0 / rates[15])  # at 60 s
    assert advice.pointing is not None
    assert advice.pointing.time == at
    assert advice.pointing.altitude_deg == track.altitude_deg[15]


@given(
    st.floats(10.0, 10_000.0), st.floats(1.0, 20.0), st.sampled_from([0.5, 2.0, 4.0])
)
def test_doubling_the_focal_length_halves_the_exposure(
    focal_mm: float, pixel_um: float, factor: float
) -> None:
    one = advise(still(focal_length_mm=focal_mm, pixel_um=pixel_um))
    other = advise(still(focal_length_mm=focal_mm * factor, pixel_um=pixel_um))
    assert other.exposure_s * factor == pytest.approx(one.exposure_s, rel=1e-12)


@given(st.floats(1e-3, 1e5))
def test_following_is_never_worse_than_standing_still(error_arcsec: float) -> None:
    mount = Mount(follows_satellites=True, tracking_error_arcsec=error_arcsec)
    following = advise(kit.rig(mount=mount, modes=()))
    standing = advise(still())
    assert following.exposure_s >= standing.exposure_s
    assert (following.limit == "tracking") == (
        following.exposure_s > standing.exposure_s
    )


def test_a_mount_that_follows_is_limited_by_its_error() -> None:
    mount = Mount(follows_satellites=True, tracking_error_arcsec=6.0)
    advice = advise(kit.rig(mount=mount, modes=()))
    assert advice.exposure_s == pytest.approx(kit.rig().scale_arcsec_px / 6.0)
    assert advice.limit == "tracking"
    assert "6″ takes 1 s to build up" in words(advice)  # the assumption is told
    assert "keep people and cables clear" in words(advice)


def test_a_mount_that_follows_unknown_well_counts_as_still() -> None:
    advice = advise(kit.rig(mount=Mount(follows_satellites=True), modes=()))
    assert advice.exposure_s == advise(still()).exposure_s
    cautions = [note.text for note in advice.notes if note.severity == "caution"]
    assert "give rig long a tracking error" in cautions[0]


def test_a_camera_that_is_too_slow_binds_and_the_smear_is_told() -> None:
    mode = VideoMode(name="slow", width_px=10, height_px=10, shortest_exposure_s=1e-3)
    rig = kit.rig(mount=STILL, modes=(mode,))
    advice = advise(rig)
    assert (advice.exposure_s, advice.limit) == (1e-3, "camera")
    (note,) = [n for n in advice.notes if "shortest" in n.text]
    assert note.severity == "caution"
    assert note.values["smear_px"] == pytest.approx(1e-3 / advise(still()).exposure_s)
    assert "1/1000 s" in note.text


def test_the_quickest_of_the_modes_counts() -> None:
    def mode(shortest_s: float, rate_hz: float) -> VideoMode:
        return VideoMode(
            name="m",
            width_px=10,
            height_px=10,
            shortest_exposure_s=shortest_s,
            frame_rate_hz=rate_hz,
        )

    rig = kit.rig(mount=STILL, modes=(mode(1e-2, 30.0), mode(1e-5, 120.0)))
    advice = advise(rig)
    assert advice.limit == "motion"
    assert advice.frame_rate_hz == 120.0


def test_frames_follow_each_other_where_the_camera_can() -> None:
    mode = VideoMode(name="m", width_px=10, height_px=10, frame_rate_hz=1e6)
    advice = advise(kit.rig(mount=STILL, modes=(mode,)))
    assert advice.frame_rate_hz == pytest.approx(1.0 / advice.exposure_s)


def test_what_the_rig_does_not_say_stays_unknown() -> None:
    advice = advise(kit.bare_rig())
    assert advice.exposure_s > 0.0
    assert isnan(advice.frame_rate_hz)
    assert advice.region_px is None
    assert advice.gain == ""


def test_an_unknown_rate_gives_no_exposure_and_says_so() -> None:
    advice = advise(still(), track=kit.unknown_track())
    assert isnan(advice.exposure_s)
    assert (advice.limit, advice.notes[0].severity) == ("", "caution")
    assert "How fast it moves is unknown" in words(advice)


def test_an_unknown_rate_leaves_what_following_allows() -> None:
    mount = Mount(follows_satellites=True, tracking_error_arcsec=6.0)
    advice = advise(kit.rig(mount=mount, modes=()), track=kit.unknown_track())
    assert advice.limit == "tracking"
    assert advice.exposure_s == pytest.approx(kit.rig().scale_arcsec_px / 6.0)


def test_a_best_moment_off_the_track_is_unknown() -> None:
    event = kit.event()
    late = timedelta(hours=2)
    far = replace(event, best=event.best + late, end=event.end + late)
    advice = advise(still(), subject=far)
    assert advice.pointing is None
    assert isnan(float(advice.notes[0].values["best_s"] or 0.0))
    assert advice.exposure_s > 0.0


@pytest.mark.parametrize("subject", [kit.passage(), kit.crossing(), kit.event()])
def test_it_starts_and_stops_with_its_subject(subject: Any) -> None:
    advice = advise(still(), subject=subject)
    ends = {
        "Passage": lambda s: (s.start, s.end),
        "Crossing": lambda s: (s.entry.time, s.exit.time),
        "Event": lambda s: (s.start, s.end),
    }
    assert (advice.start, advice.stop) == ends[type(subject).__name__](subject)
    assert advice.rig == "long"
    assert advice.subject.startswith("80001-")
    assert advice.adviser == "freeze"


def test_the_table_reaches_from_end_to_end() -> None:
    track, advice = kit.track(), advise(still())
    assert len(advice.table) == freeze.MOST_ROWS
    assert advice.table[0]["time"] == "2031-10-12T04:24:52.000Z"
    assert advice.table[-1]["time"] == "2031-10-12T04:35:08.000Z"
    for row in advice.table:
        exposure_s = still().scale_arcsec_px / 3600.0 / float(row["angular_rate_deg_s"])
        assert row["exposure_s"] == pytest.approx(exposure_s)
    assert min(float(row["exposure_s"]) for row in advice.table) == advice.exposure_s
    assert advice.table[-1]["altitude_deg"] == track.altitude_deg[-1]


@pytest.mark.parametrize(("samples", "rows"), [(0, 0), (1, 1), (2, 2), (14, 13)])
def test_a_short_track_gives_a_short_table(samples: int, rows: int) -> None:
    track = kit.track()
    columns = {name: getattr(track, name)[:samples] for name in TRACK_ARRAYS}
    table = advise(still(), track=replace(track, **columns)).table
    assert len(table) == rows
    assert len({row["time"] for row in table}) == rows


@pytest.mark.parametrize(
    ("altitude_deg", "separation_deg", "warned"),
    [(40.0, 0.1, True), (40.0, 29.0, True), (40.0, 31.0, False), (-5.0, 0.1, False)],
)
def test_a_path_near_a_risen_sun_is_warned_of(
    altitude_deg: float, separation_deg: float, warned: bool
) -> None:
    track = kit.track()
    n = len(track.time_s)
    track = replace(
        track,
        sun_altitude_deg=np.full(n, altitude_deg),
        sun_separation_deg=np.full(n, separation_deg),
    )
    warnings = [
        note.text
        for note in advise(still(), track=track).notes
        if note.severity == "warning"
    ]
    assert bool(warnings) == warned
    assert all("certified full-aperture solar filter" in text for text in warnings)


@given(st.floats(1e-6, 100.0))
def test_the_dial_never_shows_longer_than_it_is(exposure_s: float) -> None:
    number = freeze.dial(exposure_s).removesuffix(" s")
    over = number.split("/")
    shown_s = 1.0 / float(over[1]) if len(over) == 2 else float(number)
    assert 0.9 * exposure_s < shown_s <= exposure_s * (1.0 + 1e-8)


@pytest.mark.parametrize(
    ("exposure_s", "shown"),
    [
        (1e-3, "1/1000 s"),
        (97.7e-6, "1/11000 s"),
        (0.0151, "1/67 s"),
        (0.25, "0.25 s"),
        (0.8, "0.8 s"),
        (1.0, "1 s"),
        (12.7, "12 s"),
    ],
)
def test_exposures_read_as_on_a_dial(exposure_s: float, shown: str) -> None:
    assert freeze.dial(exposure_s) == shown


@pytest.mark.parametrize("nothing", [0.0, nan])
def test_what_does_not_move_has_no_limit(nothing: float) -> None:
    assert isnan(freeze.still_exposure_s(1.0, nothing))
    assert isnan(freeze.following_exposure_s(1.0, nothing))
