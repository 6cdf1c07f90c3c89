"""Events, advice and rigs become steps: leads, bounds, overlaps, holds, preparation."""

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import isfinite, nan

import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st

import passes.testing as kit
from passes.contributions import Answer
from passes.errors import InputError
from passes.model import Advice, Event, Mount, Note, Pointing, Report, Sub, Target
from passes.plans.schedule import read_schedule_text, schedule_text
from passes_plugins import scheduling
from passes_plugins.scheduling.gathering import gather, passage_event
from passes_plugins.scheduling.leads import Leads
from passes_plugins.scheduling.making import make_schedule
from passes_plugins.scheduling.openings import sub_events
from passes_plugins.scheduling.set_up import SetUp

EIGHT = datetime(2029, 3, 17, 20, tzinfo=UTC)
LEADS = Leads()


def at(minutes, seconds=0.0):
    return EIGHT + timedelta(minutes=minutes, seconds=seconds)


def event(name, start, end, **changes):
    values = {
        "kind": "passage",
        "subject": name.upper(),
        "catalog_number": 80001,
        "best": at((start + end) / 2),
        "timing_bound_s": 3.0,
    }
    return Event(id=name, start=at(start), end=at(end), **{**values, **changes})


def rig(name="long", **changes):
    return replace(kit.rig(), name=name, **changes)


def made(events, rigs=None, advice=None, **more):
    rigs = [rig()] if rigs is None else rigs
    return make_schedule(events, advice or {}, rigs, LEADS, **more)


def sub(index, **changes):
    start = 10 + 3.1 * index
    details = {
        **{"rig": "long", "exposure_s": 180.0, "filter": "", "gain": ""},
        **{"ra_deg": 148.9, "dec_deg": 69.3, "position_angle_deg": 0.0},
    }
    values = {"kind": "sub", "subject": "FIELD", "weight": 0.2, "details": details}
    values |= {"catalog_number": None, "timing_bound_s": nan, **changes}
    return event(f"sub-{index}", start, start + 3, **values)


# --- leads and bounds ---------------------------------------------------------


def test_a_recording_is_widened_by_lead_tail_and_bound():
    steps = {step.event: step for step in made([event("a", 0, 5)]).steps}
    assert steps["start"].time == at(0, -13)
    assert steps["stop"].time == at(5, 13)
    assert steps["point"].time == at(0, -13 - 90)
    assert steps["ready"].time == at(0, -13 - 300)
    assert {step.rig for step in steps.values()} == {"long"}
    assert steps["start"].id == "a/long/start"


def test_an_unknown_bound_is_not_taken_for_none():
    schedule = made([event("a", 0, 5, timing_bound_s=nan)])
    start = next(step for step in schedule.steps if step.event == "start")
    assert start.time == at(0, -70)
    assert "60 s are taken for the unknown bound" in schedule.notes[0].text


def test_a_wide_bound_is_told():
    (note,) = made([event("a", 0, 5, timing_bound_s=200.0)]).notes
    assert "good to 200 s (95 %) only" in note.text


def advice(**changes):
    values = {
        "exposure_s": 0.002,
        "pointing": Pointing(time=at(0), azimuth_deg=300.0, altitude_deg=20.0),
        "notes": (Note(text="keep clear", severity="caution"), Note(text="why")),
        "table": ({"time": "now"},),
        "settings": {"mode": "full", "optics": {"f": 15}, "nothing": nan},
    }
    return Advice(rig="long", subject="a", adviser="test", **{**values, **changes})


def test_advice_travels_with_its_steps_as_plain_json():
    schedule = made([event("a", 0, 5)], advice={("a", "long"): advice()})
    by_event = {step.event: step.advice for step in schedule.steps}
    assert by_event["stop"] is None
    start = by_event["start"]
    assert start["exposure_s"] == 0.002
    assert start["pointing"]["azimuth_deg"] == 300.0
    assert start["pointing"]["ra_icrs_deg"] is None
    assert start["mode"] == "full"
    assert start["cautions"] == ["keep clear"]
    assert not {"table", "optics", "nothing", "frame_rate_hz"} & set(start)
    back = read_schedule_text(schedule_text(schedule.steps))
    assert back.schedule.steps == schedule.steps


def test_an_adviser_may_widen_a_recording_but_not_cut_it_short():
    wide = advice(start=at(-2), stop=at(4))
    steps = {
        s.event: s for s in made([event("a", 0, 5)], advice={("a", "long"): wide}).steps
    }
    assert steps["start"].time == at(-2)
    assert steps["stop"].time == at(5, 13)


# --- one rig, several rigs ----------------------------------------------------


def test_one_rig_does_the_weightier_of_two_and_says_so():
    light, heavy = event("light", 0, 5, weight=1.0), event("heavy", 4, 9, weight=2.0)
    schedule = made([light, heavy])
    assert {step.subject for step in schedule.steps} == {"HEAVY"}
    (note,) = schedule.notes
    assert "LIGHT" in note.text
    assert "HEAVY" in note.text
    assert note.severity == "caution"


def test_several_rigs_run_side_by_side():
    rigs = [rig("long"), rig("wide")]
    first = event("a", 0, 5, details={"rig": "long"})
    second = event("b", 2, 6, details={"rig": "wide"})
    schedule = made([first, second, event("c", 20, 22)], rigs)
    starts = [(s.subject, s.rig) for s in schedule.steps if s.event == "start"]
    assert starts == [("A", "long"), ("B", "wide"), ("C", "long"), ("C", "wide")]
    assert schedule.notes == ()


def test_a_reserved_rig_does_only_what_names_it():
    schedule = made(
        [event("a", 0, 5), sub(3)], [rig("long"), rig("wide")], reserved=["long"]
    )
    starts = {(s.subject, s.rig) for s in schedule.steps if s.event == "start"}
    assert starts == {("A", "wide"), ("FIELD", "long")}


def test_a_rig_is_not_told_to_move_while_it_records():
    schedule = made([event("a", 0, 5), event("b", 6, 8)])
    stop = next(s for s in schedule.steps if s.id == "a/long/stop")
    later = [s for s in schedule.steps if s.id.startswith("b/")]
    assert [s.event for s in later] == ["ready", "point", "start", "stop"]
    assert all(s.time >= stop.time for s in later)
    order = [s.id for s in schedule.steps]
    assert order.index("a/long/stop") < order.index("b/long/ready")


times = st.floats(0, 300).map(lambda value: round(value, 3))
wanted = st.lists(
    st.tuples(times, st.floats(0.1, 20), st.floats(0.01, 9), st.floats(0, 400)),
    max_size=12,
)


@given(wanted)
def test_no_rig_ever_does_two_things_and_nothing_is_lost_untold(chosen):
    events = [
        event(f"e{i}", start, start + length, weight=weight, timing_bound_s=bound)
        for i, (start, length, weight, bound) in enumerate(chosen)
    ]
    schedule = made(events, [rig("long"), rig("wide")])
    for name in ("long", "wide"):
        mine = [
            s for s in schedule.steps if s.rig == name and s.event in ("start", "stop")
        ]
        assert [s.event for s in mine] == ["start", "stop"] * (len(mine) // 2)
        assert all(
            a.subject == b.subject for a, b in zip(mine[::2], mine[1::2], strict=True)
        )
    done = {s.subject for s in schedule.steps}
    told = " ".join(note.text for note in schedule.notes if note.severity == "caution")
    for one in events:
        assert one.subject in done or f"{one.subject} at" in told
    if events:
        best = max(events, key=lambda one: one.weight)
        assert best.subject in done or any(
            one.weight == best.weight and one is not best for one in events
        )
    assert [s.time for s in schedule.steps] == sorted(s.time for s in schedule.steps)
    back = read_schedule_text(schedule_text(schedule.steps))
    assert back.schedule.steps == schedule.steps
    assert len({s.id for s in schedule.steps}) == len(schedule.steps)


@given(wanted, st.randoms(use_true_random=False))
def test_the_same_inputs_give_the_same_schedule_in_any_order(
    chosen, shuffler: random.Random
):
    events = [
        event(f"e{i}", start, start + length, weight=weight)
        for i, (start, length, weight, _) in enumerate(chosen)
    ]
    mixed = list(events)
    shuffler.shuffle(mixed)
    assert made(events) == made(mixed)


def test_fresher_elements_keep_the_ids():
    first, second = made([event("a", 0, 5)]), made([event("a", 0.1, 5.2)])
    assert [s.id for s in first.steps] == [s.id for s in second.steps]
    assert first != second


# --- sessions -----------------------------------------------------------------


def test_a_run_of_subs_is_pointed_once_and_again_after_something_else():
    subs = [sub(i) for i in range(10)]
    schedule = made([*subs, event("a", 24, 26, weight=5.0)])
    words = [s.event for s in schedule.steps if s.subject == "FIELD"]
    assert words.count("point") == 2
    starts = [s for s in schedule.steps if s.event == "start" and s.subject == "FIELD"]
    assert 5 <= len(starts) < 10
    assert starts[0].advice["exposure_s"] == 180.0
    text = " ".join(note.text for note in schedule.notes)
    assert f"{10 - len(starts)} subs of FIELD" in text


def streak(name, start, seconds, verdict, **changes):
    values = {
        "kind": "streak",
        "weight": 1.0,
        "details": {"verdict": verdict, "rig": "long"},
    }
    return event(name, start, start + seconds / 60, **{**values, **changes})


def test_subs_are_held_for_what_would_spoil_them_only():
    found = [
        streak("bad", 11, 6, "spoiled"),
        streak("close", 11.1, 6, "spoiled"),
        streak("mild", 15, 6, "removable"),
        streak("never", 200, 6, "spoiled"),
    ]
    schedule = made([sub(0), sub(1), *found])
    held = [s for s in schedule.steps if s.event in ("hold", "resume")]
    assert [(s.event, s.subject) for s in held] == [("hold", "BAD"), ("resume", "BAD")]
    assert held[0].time == at(11, -5)
    assert held[1].time == at(11.1, 6 + 5)
    assert "1 crossing that stacking removes" in schedule.notes[-1].text


def planned_sub(index, **changes):
    values = {
        "index": index,
        "start": at(3.1 * index),
        "exposure_s": 180.0,
        "target": Target(name="FIELD", ra_deg=148.9, dec_deg=69.3),
        "rig": "long",
    }
    return Sub(**{**values, **changes})


def placing(*minutes, **changes):
    """A report that opens subs 1, 2 … at those minutes; None leaves one out."""
    rows = [
        {
            "sub": index,
            "rig": "long",
            "placed": None if one is None else at(one).isoformat(),
            **changes,
        }
        for index, one in enumerate(minutes, 1)
    ]
    wait = event(
        *("hold-2-long", 6, minutes[1] or 6),
        kind="placing",
        subject="FIELD",
        catalog_number=None,
        weight=0.0,
        details={"rig": "long", "sub": 2, "for": "BAD"},
    )
    note = Note(text="Subs placed.")
    return Report(kind="placing", events=(wait,), rows=tuple(rows), notes=(note,))


def scheduled(subs, *reports, rigs=None):
    """The schedule of some subs and of what is reported of them."""
    found, notes = sub_events(subs, reports, kit.site())
    found += [one for report in reports for one in report.events]
    return made(found, rigs), notes


BAD = Report(kind="streak", events=(streak("bad", 8, 6, "spoiled"),))


def test_placed_subs_open_where_they_were_placed():
    subs = [planned_sub(1), planned_sub(2), planned_sub(3)]
    schedule, notes = scheduled(subs, BAD, placing(3.1, 8.5, 11.6))
    words = [(s.event, s.time) for s in schedule.steps if s.rig][2:]
    assert words == [
        ("start", at(3.1)),
        ("stop", at(6.1)),  # the wait, which begins before, is nobody's to hold
        ("start", at(8.5)),
        ("stop", at(11.5)),
        ("start", at(11.6)),
        ("stop", at(14.6)),
    ]
    assert [note.text for note in notes] == ["Subs placed."]


def test_a_wait_is_a_hold_that_says_what_for():
    subs = [planned_sub(1, start=at(2.9)), planned_sub(2)]
    schedule, _ = scheduled(subs, BAD, placing(2.9, 8.5))
    held = [s for s in schedule.steps if s.event in ("hold", "resume")]
    assert [(s.event, s.time, s.rig) for s in held] == [
        ("hold", at(6), "long"),
        ("resume", at(8.5), "long"),
    ]
    assert {s.subject for s in held} == {"FIELD"}
    assert {s.advice["for"] for s in held} == {"BAD"}
    order = [s.event for s in schedule.steps]
    assert order == [
        "ready",
        "point",
        "start",
        "stop",
        "hold",
        "resume",
        "start",
        "stop",
    ]
    # the ids are those of the plan, whatever the placing says
    starts = [s.id for s in schedule.steps if s.event == "start"]
    assert starts == [f"sub-{s.start:%Y%m%dT%H%M%S}/long/start" for s in subs]


def test_what_the_placing_leaves_is_not_held_for():
    """Waiting would cost more than the sub that is spoiled."""
    subs = [planned_sub(1), planned_sub(2)]
    left = replace(placing(3.1, 6.2), events=())
    schedule, _ = scheduled(subs, BAD, left)
    assert {s.event for s in schedule.steps} == {"ready", "point", "start", "stop"}
    without, _ = scheduled(subs, BAD)
    assert {"hold", "resume"} < {s.event for s in without.steps}


def test_a_placing_is_never_recorded_nor_told_as_a_step():
    heavy = replace(placing(2.9, 8.5).events[0], weight=9.0)
    report = replace(placing(2.9, 8.5), events=(heavy,))
    for reports in ((report,), (replace(report, rows=()),)):
        schedule, _ = scheduled([planned_sub(1), planned_sub(2)], *reports)
        mine = [s for s in schedule.steps if s.id.startswith("hold-")]
        assert {s.event for s in mine} <= {"hold", "resume"}
        assert sum(s.event == "start" for s in schedule.steps) == 2


@pytest.mark.parametrize(
    ("report", "words"),
    [
        (placing(3.1, 4.0), "subs 1 and 2 overlap"),
        (
            replace(placing(3.1, 8.5), rows=placing(3.1, 8.5).rows[:1]),
            "no row for a sub",
        ),
        (placing(3.1, 8.5, placed="soon"), "soon"),
        (placing(3.1, 8.5, placed="2029-03-17T20:00:00"), "no zone"),
        (placing(3.1, 8.5, position_angle_deg="up"), "up"),
    ],
)
def test_a_placing_that_cannot_be_used_leaves_the_plan_and_says_so(report, words):
    subs = [planned_sub(1), planned_sub(2)]
    schedule, notes = scheduled(subs, BAD, report)
    starts = [s.time for s in schedule.steps if s.event == "start"]
    assert starts == [sub.start for sub in subs]
    assert sum(s.event == "hold" for s in schedule.steps) == 1
    (note,) = notes
    assert note.severity == "caution"
    assert words in note.text


def test_a_sub_left_out_by_the_placing_is_not_exposed():
    schedule, _ = scheduled([planned_sub(1), planned_sub(2)], placing(3.1, None))
    assert [s.time for s in schedule.steps if s.event == "start"] == [at(3.1)]


@given(st.lists(st.integers(0, 200), min_size=1, max_size=8), st.booleans())
def test_placed_subs_and_their_waits_never_overlap(waits, spoiled):
    subs = [planned_sub(i) for i in range(1, len(waits) + 1)]
    opens = [
        sub.start + timedelta(seconds=sum(waits[:i])) for i, sub in enumerate(subs, 1)
    ]
    rows = tuple(
        {"sub": sub.index, "rig": "long", "placed": when.isoformat()}
        for sub, when in zip(subs, opens, strict=True)
    )
    events = tuple(
        replace(
            event(
                f"hold-{i}", 0, 0, kind="placing", weight=0.0, details={"rig": "long"}
            ),
            start=when - timedelta(seconds=wait),
            best=when,
            end=when,
        )
        for i, (wait, when) in enumerate(zip(waits, opens, strict=True))
        if wait
    )
    report = Report(kind="placing", rows=rows, events=events)
    reports = (BAD, report) if spoiled else (report,)
    schedule, _ = scheduled(subs, *reports)
    mine = [s for s in schedule.steps if s.event not in ("ready", "point")]
    expected = []
    for wait, when in zip(waits, opens, strict=True):
        if wait:
            expected += [("hold", when - timedelta(seconds=wait)), ("resume", when)]
        expected += [("start", when), ("stop", when + timedelta(seconds=180))]
    assert [(s.event, s.time) for s in mine] == expected
    back = read_schedule_text(schedule_text(schedule.steps))
    assert back.schedule.steps == schedule.steps


def test_chores_are_told_as_soon_as_the_camera_is_free_and_a_flip_is_pointing():
    subs = [
        planned_sub(1, start=at(0)),
        planned_sub(2, start=at(4), before=("dither",)),
        planned_sub(3, start=at(9), before=("flip", "focus")),
    ]
    schedule, _ = scheduled(subs, placing(0, 4, 9, before=None))
    later = [s for s in schedule.steps if s.time >= at(3)]
    assert [s.event for s in later] == [
        *("stop", "ready", "start", "stop"),
        *("ready", "point", "start", "stop"),
    ]
    told = [
        (s.event, s.time, s.advice["before"])
        for s in later
        if s.event in ("ready", "point")
    ]
    assert told[:2] == [("ready", at(3), "dither"), ("ready", at(7), "flip focus")]
    # the target crosses the meridian hours later: no mount must flip before that
    assert told[2] == ("point", at(9), "flip focus")


def test_what_weighs_nothing_is_told_and_takes_no_rig():
    sunset = event(
        "sunset", 0, 0, weight=0.0, kind="twilight", details={"words": "Sunset"}
    )
    schedule = made([sunset, event("a", 0, 5)])
    told = [s for s in schedule.steps if s.rig == ""]
    assert [(s.event, s.id, s.advice["words"]) for s in told] == [
        ("ready", "sunset", "Sunset")
    ]
    assert len(schedule.steps) == 5


# --- preparation --------------------------------------------------------------


def test_the_preparation_is_counted_back_from_the_first_start():
    recording = advice(settings={"recording": {"gigabytes": 120.0}})
    equatorial = Mount(kind="equatorial")
    rigs = [rig(mount=equatorial, free_gb=100.0, power_w=40.0, battery_wh=80.0)]
    schedule = made(
        [event("a", 0, 5)],
        rigs,
        {("a", "long"): recording},
        set_up=SetUp(seconds=7200.0, stars_from=at(-20)),
    )
    start = at(0, -13)
    prepared = [s for s in schedule.steps if s.subject == "set-up"]
    minutes = [(start - s.time) / timedelta(minutes=1) for s in prepared]
    assert minutes == [120, 110, 85, 60, 45, 20]
    words = " | ".join(s.advice["words"] for s in prepared)
    order = ["On site", "to cool", "disk", "Dew", "Polar", "Focus"]
    assert sorted(order, key=words.find) == order
    disk = next(s.advice for s in prepared if "disk" in s.id)
    assert disk["disk_gb"] == {"long": 120.0}
    assert disk["free_gb"] == {"long": 100.0}
    assert disk["hours"] == pytest.approx(2 + 326 / 3600, abs=0.01)
    assert disk["power_wh"] == {"long": pytest.approx(40 * disk["hours"], abs=0.3)}
    assert disk["battery_wh"] == {"long": 80.0}
    text = " ".join(note.text for note in schedule.notes)
    assert "2.1 h; long 84 of 80 Wh, 120 of 100 GB" in text
    assert "will draw 84 Wh tonight and has 80 Wh" in text
    assert "120 GB tonight and has 100 GB free" in text
    assert "too bright for a polar alignment" in text


def test_where_no_rig_tells_its_draw_power_is_in_hours():
    schedule = made([event("a", 0, 5)], set_up=SetUp(seconds=7200.0))
    (note,) = [n for n in schedule.notes if "Power" in n.text]
    assert "on site: 2.1 h" in note.text
    assert "No rig tells its draw" in note.text
    assert "Wh" not in note.text


def test_too_little_time_to_cool_is_told():
    schedule = made([event("a", 0, 5)], set_up=SetUp(seconds=1800.0))
    assert any(
        "27 min to cool" in n.text or "28 min to cool" in n.text for n in schedule.notes
    )


# --- asking the host ----------------------------------------------------------


def test_events_come_from_passes_and_from_every_report():
    passage = kit.passage()
    other = event("moon-transit", 0, 1, kind="transit", weight=9.0)
    window = kit.night().window
    middle = window.start + (window.end - window.start) / 2
    other = replace(other, start=middle, best=middle, end=middle + timedelta(seconds=1))
    report = Report(kind="transit", events=(other,))
    services = kit.FakeServices(canned_advice=(advice(),), canned_reports=(report,))
    found = gather(services, None, LEADS, limit=12, every=False)
    assert [one.id for one in found.events] == [passage.id, "moon-transit"]
    assert {key[0] for key in found.advice} == {passage.id, "moon-transit"}
    assert "report" in services.calls


def test_a_pass_lasts_while_it_is_visible():
    passage = kit.passage()
    found = passage_event(passage, 2.5)
    assert found.id == passage.id
    assert found.weight == 2.5
    assert passage.start <= found.start <= found.best <= found.end <= passage.end
    if passage.visible:
        assert found.start == passage.visible[0].start


@pytest.mark.parametrize("bad", [{"ready_s": -1}, {"lead_s": "x"}, {"colour": 1}])
def test_odd_settings_are_refused_by_name(bad):
    with pytest.raises(InputError, match=next(iter(bad))):
        Leads.of(bad, {})


def test_what_is_typed_goes_before_the_settings():
    leads = Leads.of(
        {"lead_s": 5, "tail_s": 6}, {"lead_s": 7.0, "tail_s": None, "x": 1}
    )
    assert (leads.lead_s, leads.tail_s) == (7.0, 6.0)
    assert all(isfinite(v) for v in (leads.ready_s, leads.point_s))


# --- the calendar -------------------------------------------------------------


def test_the_calendar_holds_recordings_with_alarms_and_keeps_its_uids():
    from passes_plugins.scheduling.calendar import export

    def events(schedule):
        answer = Answer(
            kind="schedule",
            items=schedule.steps,
            document={},
            site=kit.site(),
            window=kit.night().window,
            demo=True,
        )
        text = export(answer)
        # RFC 5545, section 3.1: lines end in CRLF and have 75 octets at most
        assert max(len(row) for row in text.encode().split(b"\r\n")) <= 75
        return list(vobject.readOne(text).vevent_list)

    set_up = SetUp(seconds=7200.0)
    schedule = made([event("a", 0, 5)], set_up=set_up, demo=True)
    found = events(schedule)
    recording = next(e for e in found if "record" in e.summary.value)
    assert recording.dtstart.value == at(0, -13)
    assert recording.dtend.value == at(5, 13)
    triggers = [alarm.trigger.value for alarm in recording.valarm_list]
    assert triggers == [timedelta(minutes=-10), timedelta(minutes=-1)]
    assert "invented" in recording.description.value
    assert len(found) == 1 + sum(s.subject == "set-up" for s in schedule.steps)
    assert all(e.valarm_list for e in found)
    moved = events(made([event("a", 0.1, 5)], set_up=set_up, demo=True))
    assert recording.uid.value in {e.uid.value for e in moved}


def test_a_run_of_subs_is_one_line_whatever_others_do_meanwhile():
    from passes.tables import Screen
    from passes_plugins.scheduling.page import page

    subs = [planned_sub(i) for i in range(1, 11)]
    found, _ = sub_events(subs, (), kit.site())
    sunset = event("sunset", 12, 12, weight=0.0, details={"words": "Sunset"})
    wide = event("pass", 14, 16, details={"rig": "wide"})
    schedule = made([*found, sunset, wide], [rig("long"), rig("wide")])
    shown = page(kit.FakeServices(), schedule, Screen(width=80))
    lines = [line for line in shown.splitlines() if " expose " in line]
    assert len(lines) == 1
    assert "10 subs until" in lines[0]
    assert shown.index(" expose ") < shown.index("Sunset")
    mine = event("own", 17, 18, weight=9.0, details={"rig": "long"})
    schedule = made([*found, mine], [rig("long")])
    shown = page(kit.FakeServices(), schedule, Screen(width=80))
    lines = [line for line in shown.splitlines() if " expose " in line]
    assert len(lines) == 2


def test_a_run_of_subs_is_one_entry_of_the_calendar_and_rings_once():
    from passes_plugins.scheduling.calendar import export

    subs = [planned_sub(1, start=at(2.9)), planned_sub(2), planned_sub(3)]
    schedule, _ = scheduled(subs, placing(2.9, 8.5, 11.6))
    answer = Answer(kind="schedule", items=schedule.steps, document={})
    found = list(vobject.readOne(export(answer)).vevent_list)
    run, hold = sorted(found, key=lambda e: e.dtstart.value)
    assert run.summary.value == "long: expose FIELD"
    assert (run.dtstart.value, run.dtend.value) == (at(2.9), at(14.6))
    assert len(run.valarm_list) == 2
    assert hold.summary.value == "long: hold FIELD for BAD"
    assert not hasattr(hold, "valarm_list")


def test_the_plugin_is_sound():
    assert kit.check_plugin(scheduling).findings == ()


def test_without_a_rig_there_are_steps_all_the_same():
    services = kit.FakeServices(rigs=())
    found = gather(services, None, LEADS, limit=12, every=False)
    schedule = make_schedule(found.events, found.advice, found.rigs, LEADS)
    assert [s.event for s in schedule.steps] == ["ready", "point", "start", "stop"]
    assert {s.rig for s in schedule.steps} == {""}
    assert "No rig is known" in found.notes[-1].text
    assert services.calls.count("advise") == 0


def test_steps_in_front_of_the_sun_carry_the_cautions():
    details = {"body": "sun"}
    solar = event("s", 0, 1, kind="transit", details=details)
    schedule = made([solar, event("a", 30, 35)])
    assert "certified full-aperture solar filter" in schedule.notes[0].text
    assert schedule.notes[0].severity == "warning"
    before = [step for step in schedule.steps if step.event != "stop"]
    cautioned = {s.subject for s in before if s.advice and "caution" in s.advice}
    assert cautioned == {"S"}
    lines = schedule_text(schedule.steps)
    assert lines.count("solar filter") == 3
    assert list(read_schedule_text(lines.encode(), "x").schedule.steps) == list(
        schedule.steps
    )
    assert not any("SUN" in note.text for note in made([event("a", 30, 35)]).notes)
