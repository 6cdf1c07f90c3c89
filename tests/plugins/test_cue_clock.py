"""Clocks that step and machines that sleep; agendas that move."""

import io
import json
import sys
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from passes.options import Program
from passes.plans.schedule import read_schedule_text
from passes_plugins.scheduling.cueing import conductor as conductors
from passes_plugins.scheduling.cueing.agenda import Agenda
from passes_plugins.scheduling.cueing.clocks import RealClock, SimulatedClock
from passes_plugins.scheduling.cueing.conductor import Conductor, Manner
from passes_plugins.scheduling.cueing.giving import Giver
from passes_plugins.scheduling.cueing.memory import Memory
from passes_plugins.scheduling.cueing.programs import filled, unknown_names
from passes_plugins.scheduling.cueing.talking import Log, Talk, lapse


class Machine:
    """A machine whose clocks are set by hand."""

    def __init__(self):
        self.wall, self.monotonic, self.asleep = 1_000_000.0, 50.0, 0.0

    def clock(self):
        return RealClock(lambda: self.wall, lambda: self.monotonic, lambda: self.asleep)

    def pass_s(self, seconds):
        self.wall += seconds
        self.monotonic += seconds


def test_time_goes_on_with_the_monotonic_clock():
    machine = Machine()
    clock = machine.clock()
    machine.monotonic += 7.0  # the wall clock is read at a look only
    assert clock.now() == 1_000_007.0
    machine.wall += 7.0
    assert clock.look() == ""


@pytest.mark.parametrize("step", [-3600.0, -1.0, 0.3, 5.0, 86400.0])
def test_a_clock_that_is_set_is_noticed_and_followed(step):
    machine = Machine()
    clock = machine.clock()
    machine.pass_s(10.0)
    machine.wall += step
    assert f"set by {step:+.2f} s" in clock.look()
    assert clock.now() == pytest.approx(machine.wall)
    assert clock.look() == ""


def test_a_clock_that_drifts_is_followed_without_a_word():
    machine = Machine()
    clock = machine.clock()
    for _ in range(100):
        machine.pass_s(1.0)
        machine.wall += 0.0005
        assert clock.look() == ""
    assert clock.now() == pytest.approx(machine.wall)


def test_a_machine_that_slept_is_noticed():
    # The monotonic clock stands still while Linux sleeps: clock_gettime(2).
    machine = Machine()
    clock = machine.clock()
    machine.wall += 300.0
    machine.asleep += 300.0
    news = clock.look()
    assert "slept for 300.0 s" in news
    assert "set by" not in news
    assert clock.now() == machine.wall


def test_waits_are_short_enough_to_notice():
    machine = Machine()
    clock = machine.clock()
    assert clock.wait_s(clock.now() + 3600.0) <= 0.5
    assert clock.wait_s(clock.now() + 0.1) == pytest.approx(0.1)
    assert clock.wait_s(clock.now() - 5.0) == 0.0


def test_a_simulated_clock_waits_for_the_step_and_is_never_late():
    machine = Machine()
    clock = SimulatedClock(100.0, 60.0, lambda: machine.monotonic)
    assert clock.now() == 100.0
    clock.allow(160.0)
    machine.pass_s(0.5)
    assert clock.now() == 130.0
    assert clock.wait_s(160.0) == pytest.approx(0.5)
    machine.pass_s(40.0)
    assert clock.now() == 160.0
    clock.reached(160.0)
    clock.allow(1000.0)
    machine.pass_s(1.0)
    assert clock.now() == 220.0


def agenda(late=None, lead=0.0):
    lines = "".join(
        f'{{"id":"{name}","event":"start","time":"1970-01-01T00:{minute:02d}:00Z",'
        f'"subject":"{name[0]}"}}\n'
        for name, minute in (("a1", 10), ("b1", 11), ("a2", 12))
    )
    return Agenda(read_schedule_text(lines).entries, lead, late or {})


def dues(agenda):
    return [(item.id, item.due) for item in agenda.items()]


def test_a_subject_is_moved_and_the_order_with_it():
    one = agenda()
    assert one.shift("a", 90.0, now=0.0) == 90.0
    assert dues(one) == [("b1", 660.0), ("a1", 690.0), ("a2", 810.0)]
    assert one.shift("a", -90.0, now=0.0) == 0.0
    assert dues(one) == dues(agenda())


def test_moving_back_past_now_makes_a_step_due_now():
    one = agenda()
    one.shift("a", -60.0, now=580.0)
    assert dues(one) == [("a1", 580.0), ("b1", 660.0), ("a2", 660.0)]


def test_lead_and_lateness_add_up_and_the_subject_goes_before_all():
    assert dues(agenda({"": 5.0, "b": 1.0}, lead=2.0)) == [
        ("a1", 603.0),
        ("b1", 659.0),
        ("a2", 723.0),
    ]


def late(*steps, now=30.0, **changes):
    """Ids of the late steps that are joined, of ``event subject minute rig`` each."""
    lines = []
    for number, text in enumerate(steps):
        event, subject, minute, rig = text.split()
        advice = {"kind": "sub"} if subject == "FIELD" else None
        lines.append(
            {
                "id": str(number),
                "event": event,
                "subject": subject,
                "time": f"1970-01-01T00:{minute}:00Z",
                "rig": rig,
                "advice": advice,
            }
        )
    text = "".join(f"{json.dumps(line)}\n" for line in lines)
    left = Agenda(read_schedule_text(text).entries, 0.0, {})
    joined = []
    while (item := left.first()) is not None and item.due < now * 60.0:
        left.take(item)
        if left.goes_on(item.entry.step, now * 60.0):
            joined.append(item.id)
    return joined


def test_a_recording_that_goes_on_is_joined_with_what_prepares_it():
    one = ["ready A 10 r", "point A 15 r", "start A 20 r", "stop A 40 r"]
    assert late(*one) == ["0", "1", "2"]
    assert late(*one, now=41.0) == []
    assert late(*one, now=18.0) == ["0", "1"]


def test_only_what_prepares_for_the_recording_that_goes_on_is_made_good():
    over = ["point A 10 r", "start A 11 r", "stop A 12 r"]
    on = ["point A 20 r", "start A 21 r", "stop A 40 r"]
    assert late(*over, *on) == ["3", "4"]
    other = ["point B 20 r", "start B 21 r", "stop B 40 r"]
    assert late(*over, *other) == ["3", "4"]
    aside = [step.replace(" r", " s") for step in other]
    assert late(*over, *aside) == ["3", "4"]
    assert late("hold A 20 r", "resume A 40 r") == ["0"]
    assert late("hold A 20 r", "resume A 25 r") == []
    assert late("ready set-up 20 -", "start A 40 r") == []


def test_a_sub_that_opened_late_would_run_into_the_next_but_its_field_is_pointed_at():
    subs = ["point FIELD 10 r", "start FIELD 28 r", "stop FIELD 31 r"]
    assert late(*subs, "start FIELD 32 r", "stop FIELD 35 r") == ["0"]
    assert late(*subs) == []


@pytest.mark.parametrize(
    ("step_s", "slept", "words"),
    [
        (0.9, False, "clock was set by +0.90 s"),
        (300.0, True, "the machine slept for 300.0 s"),
        (-0.5, False, "clock was set by -0.50 s"),
    ],
)
def test_the_run_says_that_time_has_jumped_and_goes_by_it(
    capsys, monkeypatch, step_s, slept, words
):
    """Half a second in, the clock jumps; the step is due after one by the old clock."""
    machine = Machine()

    def passed(seconds: float) -> None:
        before = machine.monotonic
        machine.pass_s(seconds)
        if before < 50.5 <= machine.monotonic:
            machine.wall += step_s
            machine.asleep += step_s if slept else 0.0

    due = datetime.fromtimestamp(1_000_001.0, UTC).isoformat()
    lines = [
        {"id": "a", "event": "start", "time": due, "subject": "x"},
        {"id": "b", "event": "hold", "time": due, "subject": "y"},
    ]
    text = "".join(f"{json.dumps(line)}\n" for line in lines)
    left = Agenda(read_schedule_text(text).entries, 0.0, {})
    clock = machine.clock()
    given = []
    conductor = Conductor(
        left, clock, Manner(), Memory(None), Talk(Program(), None, True), Log(None)
    )
    conductor.giver = Giver(given.append, conductor.unread)
    monkeypatch.setattr(
        conductor.waiting, "pause", lambda seconds: (passed(seconds), b"")[1]
    )
    waits = SimpleNamespace(select=lambda *sets: passed(sets[3]))
    monkeypatch.setattr(conductors, "select", waits)
    assert conductor.run() == 0
    told = capsys.readouterr().err
    assert words in told
    if slept:  # both are long over, and neither has an end in what is left
        assert given == []
        assert told.count("left out, 5 min late") == 2
    else:
        cued = [json.loads(line) for line in given]
        assert [one["id"] for one in cued] == ["a", "b"]
        assert all(one["cued_at"] >= "1970-01-12T13:46:41.000Z" for one in cued)
        assert cued[0]["lateness_s"] == pytest.approx(0.4 if step_s > 0.0 else 0.0)


def test_placeholders():
    document = {"event": "start", "advice": {"a": [1], "on": True}, "subject": "{rig}"}
    assert filled("{event}-{advice.a}-{advice.on}-{x}", document) == "start-[1]-true-"
    assert filled("{subject}", document) == "{rig}"
    assert unknown_names(["{event}", "{colour}", "{ a }", "{advice.any.thing}"]) == [
        "colour"
    ]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(5.24, "5.2 s"), (300.0, "5 min"), (7200.0, "2 h"), (211412829.0, "2447 days")],
)
def test_how_late_can_be_read_at_a_glance(seconds, words):
    assert lapse(seconds) == words


class Screen(io.StringIO):
    """A terminal on which both streams end up."""

    def isatty(self):
        return True


def test_a_step_that_is_written_late_has_a_line_of_its_own_all_the_same(monkeypatch):
    """Steps are written by a thread of their own, a countdown may have come between."""
    screen = Screen()
    monkeypatch.setattr(sys, "stdout", screen)
    text = '{"id": "a", "event": "start", "time": "2030-01-01T00:00:00Z"}\n'
    entries = read_schedule_text(text.replace("}", ', "subject": "x"}')).entries
    item = Agenda(entries, 0.0, {}).first()
    talk = Talk(Program(), screen, quiet=False)
    write = talk.apart(lambda line: (screen.write(line.decode()), None)[1])
    talk.countdown(item, item.due - 30.0, 0.0)
    write(b"one\n")
    talk.countdown(item, item.due - 29.0, 0.0)
    assert screen.getvalue() == (
        "\r0:30 to start x\x1b[K\r\x1b[Kone\n\r0:29 to start x\x1b[K"
    )
