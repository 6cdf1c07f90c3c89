"""Verdicts, chances, light and summary of the streaks plugin on invented crossings."""

from dataclasses import replace
from datetime import datetime, timedelta
from math import nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("passes_plugins.streaks")
import passes_plugins.streaks as plugin
from passes import field as plane
from passes import testing as kit
from passes.errors import InputError
from passes.model import Crossing, FieldPoint, Rig, Session, Sub, Target
from passes.testing import places, requests, sightings
from passes_plugins.streaks import belonging
from passes_plugins.streaks.assessing import Assessment, assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.frames import Frame, frame_of, frames_of
from passes_plugins.streaks.looks import Paths, looks_of
from passes_plugins.streaks.marks import verdicts_of
from passes_plugins.streaks.reporting import report
from passes_plugins.streaks.summing import summary_of

FIRST = datetime.fromisoformat("2031-10-12T04:25:10+00:00")
TARGET = Target(name="sample-field", ra_deg=310.0, dec_deg=40.0)


def rig(**fields) -> Rig:
    """The sample rig with pixels of 3″, so a field of 1.6 × 0.9°."""
    return places.rig(**{"pixel_um": 29.0, **fields})


def session(n=12, exposure_s=300.0, **fields) -> Session:
    """So many subs, ten seconds between them; the third holds the sample crossing."""
    start = sightings.BEST - timedelta(seconds=2 * 310.0 + 100.0)
    subs = tuple(
        Sub(
            index=i,
            start=start + timedelta(seconds=310.0 * (i - 1)),
            exposure_s=exposure_s,
            target=TARGET,
            rig="long",
            filter="red",
            gain="200",
            start_jitter_s=0.0,
            **fields,
        )
        for i in range(1, n + 1)
    )
    return Session(night=places.night(), rigs=(rig(),), targets=(TARGET,), subs=subs)


def crossing(seconds=0.0, **fields) -> Crossing:
    """The sample crossing, at another time."""

    def later(point: FieldPoint) -> FieldPoint:
        return replace(point, time=point.time + timedelta(seconds=seconds))

    one = sightings.crossing(**fields)
    return replace(
        one, entry=later(one.entry), exit=later(one.exit), closest=later(one.closest)
    )


def judge(*crossings, of=None, **choices) -> Assessment:
    """Judge a session with just these crossings."""
    services = kit.FakeServices(canned_crossings=crossings)
    return assess(of or session(), services, Choices(**choices))


def verdicts(found: Assessment) -> list[str]:
    return [one.verdict for one in found.judged]


# --- the plugin as a plugin ----------------------------------------------------


def test_the_plugin_holds() -> None:
    kit.check_plugin(plugin).require()


def test_wrong_settings_are_told() -> None:
    with pytest.raises(InputError, match="unknown key 'clean'"):
        Choices.of({"clean": 1.0})
    with pytest.raises(InputError, match="must not lie under"):
        Choices.of({"clean_below": 5.0})
    with pytest.raises(InputError, match="impossible"):
        Choices.of({"least_subs": float("nan")})


# --- verdicts -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "saturated", "percent", "like", "lit", "word"),
    [
        (0.29, False, 0.0, 50, True, "clean"),
        (0.30, False, 0.0, 50, True, "faint"),
        (2.49, False, 9.0, 3, True, "faint"),
        (2.50, False, 0.1, 10, True, "removable"),
        (2.50, False, 0.1, 9, True, "spoiled"),
        (99.0, True, 0.1, 50, True, "spoiled"),
        (99.0, False, 2.01, 50, True, "spoiled"),
        (nan, False, nan, 50, True, "unknown"),
        (99.0, False, 0.1, 50, False, None),
    ],
)
def test_the_bounds_of_each_verdict(ratio, saturated, percent, like, lit, word) -> None:
    """The default thresholds, common practice without a source."""
    words = verdicts_of(
        np.array([ratio]),
        np.array([saturated]),
        np.array([percent]),
        np.array([like]),
        np.array([lit]),
        Choices(),
    )
    assert words == [word]


def test_a_bright_crossing_marks_its_sub_only() -> None:
    found = judge(crossing(magnitude=6.0))
    assert verdicts(found) == ["clean", "clean", "removable", *["clean"] * 9]
    mark = found.judged[2].worst
    assert mark is not None
    assert mark.chance == pytest.approx(1.0, abs=1e-6)
    assert mark.percent > 0.0


def test_few_subs_cannot_reject() -> None:
    found = judge(crossing(magnitude=6.0), of=session(9))
    assert verdicts(found)[2] == "spoiled"
    assert judge(crossing(magnitude=6.0), of=session(9), least_subs=5).judged[
        2
    ].verdict == ("removable")


def test_a_full_well_spoils() -> None:
    found = judge(crossing(magnitude=-8.0))
    assert verdicts(found)[2] == "spoiled"
    assert found.judged[2].worst.saturated


def test_the_unlit_leave_nothing_but_are_listed() -> None:
    found = judge(crossing(sunlit=False, magnitude=nan))
    assert set(verdicts(found)) == {"clean"}
    mark = found.judged[2].marks[0]
    assert mark.verdict is None
    assert found.judged[2].chance_marked == 0.0


def test_an_unknown_magnitude_is_an_unknown_verdict() -> None:
    assert verdicts(judge(crossing(magnitude=nan)))[2] == "unknown"


def test_fainter_is_never_worse() -> None:
    order = ("clean", "faint", "removable", "spoiled")
    ranks = [
        order.index(verdicts(judge(crossing(magnitude=m)))[2])
        for m in (-8.0, 0.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 18.0)
    ]
    assert ranks == sorted(ranks, reverse=True)
    assert (ranks[0], ranks[-1]) == (3, 0)


def test_many_trails_together_may_cost_the_sub() -> None:
    some = [
        crossing(0.5 * i, magnitude=4.0, catalog_number=80011 + i) for i in range(9)
    ]
    alone = judge(some[0]).judged[2].percent
    together = judge(*some, spoiled_percent=4.0 * alone)
    assert together.judged[2].percent == pytest.approx(9 * alone, rel=1e-6)
    assert together.judged[2].verdict == "spoiled"


# --- which sub it belongs to ----------------------------------------------------


def test_one_that_touches_two_subs_stands_in_both() -> None:
    slow = crossing(100.0)
    slow = replace(
        slow,
        entry=replace(slow.entry, time=slow.entry.time + timedelta(seconds=50)),
        exit=replace(slow.exit, time=slow.exit.time + timedelta(seconds=150)),
        angular_rate_deg_s=0.004,
        timing_sigma_s=0.1,
    )
    found = judge(slow)
    here = [one.sub.index for one in found.judged if any(m.here for m in one.marks)]
    assert here == [3, 4]


def test_the_chance_is_shared_at_an_edge() -> None:
    """A sigma of 2 s half a second before the shutter closes: 1 − Φ(−0.25)-ish."""
    closes = session().subs[2].end
    seconds = (closes - sightings.BEST).total_seconds() - 0.1
    found = judge(crossing(seconds, timing_sigma_s=2.0, cross_track_sigma_km=0.0))
    marks = {one.sub.index: one.marks[0].chance for one in found.judged if one.marks}
    # entry 0.2 s before the end: the chance not to come later than that is Φ(0.1)
    assert marks[3] == pytest.approx(0.5398, abs=2e-3)
    assert 4 not in marks  # the next opens five sigma later


def test_a_lost_object_belongs_to_nobody() -> None:
    found = judge(crossing(timing_sigma_s=50_000.0))
    assert not any(mark.here for one in found.judged for mark in one.marks)


@given(
    st.floats(0.01, 200.0),
    st.floats(0.0, 30.0),
    st.floats(-50.0, 3500.0),
    st.floats(0.05, 400.0),
)
def test_chances_are_those_of_many_draws(sigma, jitter, entry, length) -> None:
    opens = np.arange(10) * 310.0
    pairs = belonging.pairs_of(
        opens,
        opens + 300.0,
        np.full(10, jitter),
        np.array([entry]),
        np.array([entry + length]),
        np.array([sigma]),
        np.ones(1),
        0.0,
    )
    rng = np.random.default_rng(7)
    off = rng.normal(size=40_000) * np.hypot(sigma, jitter)
    for sub in range(10):
        hit = (entry + off < opens[sub] + 300.0) & (entry + length + off > opens[sub])
        got = pairs.chance[pairs.sub == sub].sum()
        assert got == pytest.approx(hit.mean(), abs=0.015)


def test_a_path_at_the_edge_may_miss_the_frame() -> None:
    frame = frame_of(TARGET, rig())
    half = np.degrees(frame.halves[1])
    middle = crossing(cross_track_sigma_km=0.5, timing_sigma_s=0.0)
    edge = replace(middle, closest=replace(middle.closest, dec_deg=40.0 + half))
    inside = np.zeros(2, dtype=bool)
    chances = belonging.sideways_chance([middle, edge], frame, places.site(), inside)
    assert chances[1] == pytest.approx(0.5, abs=0.01)
    assert chances[0] > 0.9


def passing(beside_deg: float, **fields) -> Crossing:
    """A crossing of the widened field that runs so far above the frame's upper edge."""
    above = np.degrees(frame_of(TARGET, rig()).halves[1]) + beside_deg

    def moved(point: FieldPoint, east_deg: float) -> FieldPoint:
        ra = 310.0 + east_deg / np.cos(np.radians(40.0 + above))
        return replace(point, ra_deg=ra, dec_deg=40.0 + above)

    fields = {"position_angle_deg": 90.0, "timing_sigma_s": 0.0, **fields}
    one = crossing(**fields)
    return replace(
        one,
        entry=moved(one.entry, -1.4),
        closest=moved(one.closest, 0.0),
        exit=moved(one.exit, 1.4),
    )


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("dec_deg", [-35.0, 0.0, 78.0])
def test_sideways_chances_are_those_of_many_paths(dec_deg, mirrored) -> None:
    """Straight paths moved aside at random, and those that meet the frame counted.

    The place of closest approach lies anywhere along them, where north is another
    direction than in the middle.
    """
    turned = replace(TARGET, dec_deg=dec_deg, position_angle_deg=30.0)
    frame = replace(frame_of(turned, rig()), mirrored=mirrored)
    rng = np.random.default_rng(6)
    sigma = float(belonging.across_rad([passing(0.1)], places.site())[0])
    draws = sigma * rng.normal(size=4000)
    for _ in range(12):
        turn, aside = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(-1.2, 1.2)
        # reach as far as the frame does across that direction
        across = aside * float(plane.reach(*frame.halves, turn))
        run = np.array([np.sin(turn), np.cos(turn)])
        side = np.array([np.cos(turn), -np.sin(turn)])
        foot = across * side
        along = foot + rng.uniform(-0.01, 0.01) * run
        places_ = [frame.sky(*(along + k * 1e-6 * run)) for k in (0.0, 1.0)]
        (ra, dec), (ra_on, dec_on) = places_
        east = (ra_on - ra) * np.cos(np.radians(dec))
        one = passing(0.1)
        one = replace(
            one,
            closest=replace(one.closest, ra_deg=float(ra), dec_deg=float(dec)),
            position_angle_deg=float(np.degrees(np.arctan2(east, dec_on - dec))) % 360,
        )
        chance = belonging.sideways_chance(
            [one], frame, places.site(), np.ones(1, dtype=bool)
        )
        moved = foot[:, np.newaxis] + draws * np.array(
            [[np.cos(turn)], [-np.sin(turn)]]
        )
        path = np.zeros((2, draws.size, 3))
        path[:, :, 0], path[:, :, 1] = moved, 0.2 * run[:, np.newaxis]
        wide, high = (np.full(draws.size, half) for half in frame.halves)
        first, _ = plane.stay_in(path[0], path[1], wide, high)
        assert chance[0] == pytest.approx(np.isfinite(first).mean(), abs=0.03)


class Wide(kit.FakeServices):
    """Services that find ``beside`` only where more than the frame is searched."""

    def crossings(self, line_of_sight, *, window=None, objects=None):
        found = super().crossings(line_of_sight, window=window, objects=objects)
        wide = line_of_sight.width_deg > 1.001 * frame_of(TARGET, rig()).size_deg[0]
        return found if wide else ()


def test_what_its_error_may_bring_in_is_told_with_its_chance() -> None:
    """One sigma beside the edge: 16 in a hundred come in; far beside nobody does."""
    one = passing(0.1, magnitude=6.0, cross_track_sigma_km=1.0)
    across = float(belonging.across_rad([one], places.site())[0])
    near, far = (
        passing(np.degrees(k * across), magnitude=6.0, cross_track_sigma_km=1.0)
        for k in (1.0, 4.0)
    )
    judged = assess(session(), Wide(canned_crossings=(near,)), Choices()).judged[2]
    assert judged.marks[0].chance == pytest.approx(0.1587, abs=0.003)
    assert judged.chance_marked == pytest.approx(0.1587, abs=0.003)
    assert "beside_frame" in judged.marks[0].crossing.flags
    assert judged.verdict == "clean"
    assert not judged.marks[0].here
    found = assess(session(), Wide(canned_crossings=(far,)), Choices())
    assert not any(one.marks for one in found.judged)
    assert summary_of(found).crossings == 0


def test_dithers_bring_in_what_the_plan_s_frame_misses() -> None:
    """Even dithers to 0.1° either side: half of what passes at the edge is in."""
    known = {"magnitude": 6.0, "cross_track_sigma_km": 1e-4}
    chances = []
    for beside_deg in (-0.05, 0.001, 0.05, 0.11):
        services = Wide(canned_crossings=(passing(beside_deg, **known),))
        moved = replace(session(), dither_arcsec=360.0)
        found = assess(moved, services, Choices())
        marks = found.judged[2].marks
        chances.append(marks[0].chance if marks else 0.0)
    assert chances == pytest.approx([0.75, 0.5, 0.25, 0.0], abs=0.05)
    still = assess(session(), services, Choices())
    assert not still.judged[2].marks


def test_a_slow_object_s_time_shares_the_play_of_the_frame() -> None:
    """0.1° of dither at 0.004°/s is 25 s, evenly spread: a sigma of 14.4 s."""
    slow = crossing(angular_rate_deg_s=0.004, timing_sigma_s=3.0)
    frame = frame_of(TARGET, rig(), loose_deg=0.1)
    found = belonging.time_sigma_s([slow], frame)
    assert found[0] == pytest.approx(np.hypot(3.0, 25.0 / np.sqrt(3.0)))


# --- fields and searches ----------------------------------------------------------


def test_a_flip_needs_no_second_search() -> None:
    turned = replace(TARGET, position_angle_deg=180.0)
    one = session()
    subs = tuple(
        replace(sub, target=turned if sub.index > 6 else TARGET) for sub in one.subs
    )
    looks = looks_of(replace(one, subs=subs), frames_of(replace(one, subs=subs)))
    assert len(looks) == 1
    assert looks[0].exact
    flipped = [
        judge(crossing(310.0 * k), of=replace(one, subs=subs)).judged[2 + k].worst
        for k in (0, 5)
    ]
    width = rig().width_px + 1.0
    entries = [mark.crossing.entry for mark in flipped]
    assert entries[0].x_px + entries[1].x_px == pytest.approx(width)


def test_dithered_frames_share_a_disc() -> None:
    frames = {
        sub.index: replace(frame_of(TARGET, rig()), ra_deg=310.0 + 1e-3 * sub.index)
        for sub in session().subs
    }
    looks = looks_of(session(), frames)
    assert len(looks) == 1
    assert not looks[0].exact
    assert looks[0].line.radius_deg > frames[1].radius_deg


def test_far_fields_and_far_times_are_searched_apart() -> None:
    one = session()
    late = tuple(
        replace(sub, start=sub.start + timedelta(hours=4 * (sub.index > 6)))
        for sub in one.subs
    )
    other = replace(TARGET, name="other", dec_deg=60.0)
    subs = tuple(replace(s, target=other if s.index > 9 else s.target) for s in late)
    looks = looks_of(replace(one, subs=subs), frames_of(replace(one, subs=subs)))
    assert [len(look.subs) for look in looks] == [6, 3, 3]


def test_a_path_through_a_disc_is_cut_at_the_frame() -> None:
    frame = Frame(
        ra_deg=310.0,
        dec_deg=40.0,
        position_angle_deg=0.0,
        width_px=200,
        height_px=100,
        scale_arcsec_px=36.0,
    )
    rate = 0.5

    def point(seconds: float) -> FieldPoint:
        ra, dec = frame.sky(
            np.tan(np.radians(rate * seconds)), np.radians(0.3) * np.ones(())
        )
        time = sightings.BEST + timedelta(seconds=seconds)
        return FieldPoint(time=time, ra_deg=float(ra), dec_deg=float(dec))

    one = sightings.crossing(entry=point(-3.0), closest=point(0.0), exit=point(3.0))
    stays = Paths([one]).through(frame)
    length = stays.exit_s - stays.entry_s
    assert length == pytest.approx(2.0 * 1.0 / rate, rel=1e-3)
    assert stays.pixels[0, :, 0] == pytest.approx([0.5, 200.5], abs=1e-6)


# --- summary and report -------------------------------------------------------------


def test_the_summary_adds_up() -> None:
    found = judge(crossing(magnitude=6.0), crossing(620.0, magnitude=-8.0))
    summary = summary_of(found)
    assert summary.verdicts == {
        "spoiled": 1,
        "removable": 1,
        "faint": 0,
        "unknown": 0,
        "clean": 10,
    }
    assert summary.exposure_s == 3600.0
    assert summary.exposure_lost_s == 300.0
    assert (summary.crossings, summary.lit) == (2, 2)
    assert summary.percent_lost == pytest.approx(found.judged[2].percent / 11)
    hours = sum(hour.hours for hour in summary.hours)
    assert hours == pytest.approx((12 * 310.0 - 10.0 + 240.0) / 3600.0)
    assert sum(hour.lit for hour in summary.hours) == 2


def test_a_faint_trail_leaves_its_residue() -> None:
    for magnitude in np.arange(6.0, 14.0, 0.25):
        found = judge(crossing(magnitude=float(magnitude)))
        if verdicts(found)[2] == "faint":
            break
    mark = found.judged[2].worst
    residue = summary_of(found).residues[0]
    assert residue.trails == 1
    assert residue.peak == pytest.approx(mark.signal_to_noise / np.sqrt(12))


def test_reports_tell_what_costs_something() -> None:
    crossings = {sub.index: () for sub in session().subs}
    dim = crossing(magnitude=20.0, catalog_number=80002)
    crossings[3] = (crossing(magnitude=6.0), dim)
    briefing = requests.session_briefing(session=session(), crossings=crossings)
    told = report(briefing)
    assert told.kind == "streak"
    assert len(told.rows) == 12
    assert [event.details["verdict"] for event in told.events] == ["removable"]
    assert told.events[0].details["sub"] == 3


def test_subs_the_host_left_out_are_searched_anew() -> None:
    services = kit.FakeServices(canned_crossings=(crossing(magnitude=6.0),))
    briefing = requests.session_briefing(
        session=session(), services=services, crossings={}
    )
    assert report(briefing).rows[2]["verdict"] == "removable"
    assert "crossings" in services.calls


def test_subs_of_an_unknown_rig_are_not_judged() -> None:
    one = session()
    subs = tuple(replace(sub, rig="nobody") for sub in one.subs)
    found = judge(crossing(), of=replace(one, subs=subs))
    assert set(verdicts(found)) == {"unknown"}
    assert any("no known rig" in note.text for note in found.notes)


def test_a_bare_rig_gives_unknown_verdicts_and_says_so() -> None:
    one = session()
    subs = tuple(replace(s, rig="bare", filter="", gain="") for s in one.subs)
    found = judge(crossing(), of=replace(one, rigs=(places.bare_rig(),), subs=subs))
    assert found.judged[2].verdict == "unknown"
    assert any("no aperture" in note.text for note in found.notes)


def test_one_crossing_is_one_event_however_many_subs_it_marks() -> None:
    slow = crossing(100.0, magnitude=6.0)
    slow = replace(
        slow,
        entry=replace(slow.entry, time=slow.entry.time + timedelta(seconds=50)),
        exit=replace(slow.exit, time=slow.exit.time + timedelta(seconds=150)),
        angular_rate_deg_s=0.004,
    )
    crossings = {sub.index: (slow,) for sub in session().subs}
    told = report(requests.session_briefing(session=session(), crossings=crossings))
    assert len(told.events) == 1
    assert told.events[0].details["subs"] == [3, 4]


def test_a_sky_that_fills_the_pixels_is_told() -> None:
    found = judge(crossing(), of=session(exposure_s=80000.0, n=1))
    assert any("sky alone fills" in note.text for note in found.notes)


def test_a_report_of_dithered_subs_searches_anew() -> None:
    """The host's crossings are of the plan's own frame only."""
    moved = replace(session(), dither_arcsec=30.0)
    services = kit.FakeServices(canned_crossings=(crossing(magnitude=6.0),))
    briefing = requests.session_briefing(
        session=moved, services=services, crossings={s.index: () for s in moved.subs}
    )
    assert report(briefing).rows[2]["verdict"] == "removable"
