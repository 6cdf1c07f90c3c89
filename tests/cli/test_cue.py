"""``passes cue`` as a person and a script use it: real runs on real clocks."""

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from datetime import datetime
from importlib import resources
from pathlib import Path

import pytest
from cue_help import CAMERA, awaited, cue, executable, listening, ran, steps, written

jsonschema = pytest.importorskip("jsonschema")


@pytest.fixture
def night(tmp_path):
    """A schedule of some hours, to rehearse."""
    return written(tmp_path / "night.jsonl", steps([0, 600, 7200, 7260, 7320, 9000]))


def rehearsed(path, *args, speed=20_000, **more):
    code, given, err = ran(path, "--rehearse", "--speed", speed, *args, **more)
    return code, given, err


# --- rehearsals ---------------------------------------------------------------


def test_a_rehearsal_gives_out_every_step_as_it_stands_and_nothing_late(night):
    code, given, err = rehearsed(night)
    assert code == 0, err
    before = [json.loads(line) for line in Path(night).read_text().splitlines()]
    bare = [
        {k: v for k, v in one.items() if k not in ("cued_at", "lateness_s")}
        for one in given
    ]
    assert bare == before
    assert [one["lateness_s"] for one in given] == [0.0] * 6
    assert [one["cued_at"] for one in given] == [one["time"] for one in before]
    folder = resources.files("passes_plugins.scheduling") / "schemas"
    schema = json.loads((folder / "cue.json").read_text(encoding="utf-8"))
    for one in given:
        jsonschema.Draft202012Validator(schema).validate(one)


def test_a_rehearsal_runs_at_the_speed_asked_for(tmp_path):
    path = written(tmp_path / "night.jsonl", steps([0, 200]))
    begun = time.monotonic()
    assert len(rehearsed(path, speed=100)[1]) == 2
    assert time.monotonic() - begun >= 2.0  # never sooner, however busy the machine
    # At any other speed this one would outlast the patience of the test.
    path = written(tmp_path / "night.jsonl", steps([0, 86_400]))
    assert len(rehearsed(path, speed=100_000)[1]) == 2


def test_the_lead_and_a_lateness_move_steps_in_time(night):
    _, plain, _ = rehearsed(night)
    _, early, _ = rehearsed(night, "--lead", "2.5")
    _, late, _ = rehearsed(night, "--late-by", "TEST LAMP=4", "--lead", "1")
    seconds = [
        [
            float(two["cued_at"][17:23]) - float(one["cued_at"][17:23])
            for one, two in zip(plain, moved, strict=True)
        ]
        for moved in (early, late)
    ]
    assert [round(s % 60, 3) for s in seconds[0]] == [57.5] * 6
    assert [round(s % 60, 3) for s in seconds[1]] == [3.0] * 6
    assert [one["time"] for one in late] == [one["time"] for one in plain]


def test_a_program_gets_the_step_in_arguments_environment_and_on_stdin(night, tmp_path):
    program = executable(
        tmp_path / "camera.py",
        "import json, os, sys\n"
        "step = json.loads(sys.stdin.read())\n"
        "keys = {k: v for k, v in os.environ.items() if k.startswith('PASSES_STEP_')}\n"
        f"open({str(tmp_path)!r} + '/' + step['id'], 'w').write("
        "json.dumps([sys.argv[1:], step, keys]))\n",
    )
    odd = '{event}; touch x $(date) "{subject}" {advice.exposure_s} {"a": 1}'
    code, given, err = rehearsed(
        night,
        "--run",
        program,
        "--",
        "{event}",
        odd,
        "{advice.pointing.azimuth_deg}",
        "{advice.nothing}",
    )
    assert code == 0, err
    for one in given:
        arguments, step, keys = json.loads((tmp_path / one["id"]).read_text())
        assert step == one
        filled = odd.replace("{event}", one["event"]).replace("{subject}", "TEST LAMP")
        assert arguments == [
            one["event"],
            filled.replace("{advice.exposure_s}", "0.002"),
            "12.5",
            "",
        ]
        assert keys["PASSES_STEP_EVENT"] == one["event"]
        assert keys["PASSES_STEP_CATALOG_NUMBER"] == "80001"
        assert json.loads(keys["PASSES_STEP_ADVICE"]) == one["advice"]
        assert keys["PASSES_STEP_DEMO"] == "true"
    assert not os.path.exists("x")


def test_exit_code_time_and_output_are_logged(night, tmp_path):
    log = tmp_path / "log.jsonl"
    code, _, err = rehearsed(
        night,
        "--log",
        log,
        "--run",
        CAMERA,
        "--",
        "{event}",
        "{subject}",
        env={"CAMERA_FAIL": "stop"},
    )
    assert code == 1
    ended = [json.loads(line) for line in log.read_text().splitlines()]
    ended = {one["id"]: one for one in ended if one["what"] == "ended"}
    assert [ended[f"step-{i}"]["code"] for i in range(6)] == [0, 1, 0, 1, 0, 1]
    assert ended["step-0"]["output"].startswith(
        "start | TEST LAMP | long | exposure 0.002 s"
    )
    assert all(0 < one["seconds"] < 30 for one in ended.values())
    assert err.count("program ended with 1") == 3


# --- real time ----------------------------------------------------------------


def test_steps_come_at_their_time(tmp_path):
    path = written(tmp_path / "soon.jsonl", steps([6.0, 6.3, 6.6]))
    # a busy machine takes seconds to start a program
    code, given, err = ran(path, "--late", "fire")
    assert code == 0, err
    assert len(given) == 3
    for one in given:  # never early; how late on a busy machine is the benchmark's
        cued, due = (datetime.fromisoformat(one[key]) for key in ("cued_at", "time"))
        late_s = (cued - due).total_seconds()
        assert late_s >= 0.0
        assert one["lateness_s"] == pytest.approx(late_s, abs=0.002)


@pytest.mark.parametrize(
    ("late", "ids", "told"),
    [
        # a recording that goes on is joined, unless told otherwise
        ("join", ["step-2"], {"left out, ": 2, "because it can still be had": 1}),
        ("skip", [], {"left out, ": 3, "done at once": 0}),
        ("fire", ["step-0", "step-1", "step-2"], {"left out, ": 0, "done at once": 3}),
    ],
)
def test_late_steps_are_joined_left_out_or_done_and_a_start_goes_on_from_now(
    tmp_path, late, ids, told
):
    path = written(tmp_path / "late.jsonl", steps([-3600, -1800, -60, 600]))
    log = tmp_path / "log.jsonl"
    process = cue(path, "--late", late, "--log", log)
    decided = ('"cued"', '"skipped"')
    awaited(
        process,
        lambda: log.exists() and sum(map(log.read_text().count, decided)) == 3,
    )
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 128 + signal.SIGTERM
    given = [json.loads(line) for line in out.splitlines()]
    assert [one["id"] for one in given] == ids
    for one in given:
        cued, due = (datetime.fromisoformat(one[key]) for key in ("cued_at", "time"))
        late_s = (cued - due).total_seconds()
        assert one["lateness_s"] == pytest.approx(late_s, abs=0.002)
        assert late_s >= 60.0
    assert {words: err.count(words) for words in told} == told
    assert "1 step left undone" in err


def test_a_schedule_from_a_pipe(tmp_path):
    content = "".join(f"{json.dumps(one)}\n" for one in steps([0, 60]))
    done = subprocess.run(
        [sys.executable, "-m", "passes", "cue", "-", "--rehearse", "--speed", "9999"],
        input=content,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert len(done.stdout.splitlines()) == 2


def test_each_step_is_flushed_at_once(tmp_path):
    path = written(tmp_path / "soon.jsonl", steps([1.5, 600]))
    process = cue(path)
    line = process.stdout.readline()  # comes although the run goes on, as told below
    assert json.loads(line)["id"] == "step-0"
    process.send_signal(signal.SIGTERM)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 128 + signal.SIGTERM
    assert "1 step left undone" in err
    assert "stop TEST LAMP (long)" in err
    assert "begun and not ended: start TEST LAMP (long)" in err


def test_ctrl_c_ends_cleanly_before_the_first_step(tmp_path):
    path = written(tmp_path / "later.jsonl", steps([600, 660]))
    process = cue(path)
    listening(process)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (130, "")
    assert "2 steps left undone" in err
    assert "Traceback" not in err


# --- on a terminal ------------------------------------------------------------


class Terminal:
    """A run of cue on a terminal of its own."""

    def __init__(self, *args, both=False):
        self.master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "passes", "cue", *map(str, args)],
            stdin=slave,
            stderr=slave,
            stdout=slave if both else subprocess.PIPE,
            text=True,
            start_new_session=True,
            preexec_fn=lambda: __import__("fcntl").ioctl(
                0, __import__("termios").TIOCSCTTY, 0
            ),
            env={**os.environ, "TERM": "xterm", "COLUMNS": "80"},
        )
        os.close(slave)
        self.seen = ""

    def until(self, word, seconds=60.0):
        """Read what is shown until a word comes."""
        end = time.monotonic() + seconds
        while word not in self.seen and time.monotonic() < end:
            if select.select([self.master], [], [], 0.1)[0]:
                try:
                    self.seen += os.read(self.master, 4096).decode("utf-8", "replace")
                except OSError:
                    break
        assert word in self.seen, self.seen[-500:]

    def to_the_end(self, seconds=60.0):
        """Read until the program has let go of the terminal."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if select.select([self.master], [], [], 0.1)[0]:
                try:
                    read = os.read(self.master, 4096)
                except OSError:  # how Linux tells the end of a terminal
                    read = b""
                if not read:
                    return
                self.seen += read.decode("utf-8", "replace")
        raise AssertionError(f"still running; it showed {self.seen[-500:]!r}")

    def type(self, keys):
        os.write(self.master, keys.encode())

    def close(self):
        if self.master < 0:
            return
        self.process.kill()
        self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()
        os.close(self.master)
        self.master = -1


@pytest.fixture
def terminal():
    opened = []

    def start(*args, **more):
        opened.append(Terminal(*args, **more))
        return opened[-1]

    yield start
    for one in opened:
        one.close()


def test_keys_move_the_next_subject_and_a_countdown_runs(tmp_path, terminal):
    path = written(tmp_path / "soon.jsonl", steps([60, 61]))
    screen = terminal(path)
    screen.until("to start TEST LAMP (long)")
    screen.type("+")
    screen.until("TEST LAMP: +1 s, now taken +1 s late")
    screen.type("---")
    screen.until("now taken -2 s late")
    screen.until("taken -2 s late\x1b[K")
    # Moved before now, the step is due at once and not lost.
    screen.type("-" * 60)
    line = screen.process.stdout.readline()
    assert json.loads(line)["id"] == "step-0"


def test_keys_move_an_object_and_not_the_sunset_before_it(tmp_path, terminal):
    sunset = steps([50], id="sunset", event="ready", subject="Sun", catalog_number=None)
    path = written(tmp_path / "soon.jsonl", [*sunset, *steps([60, 61])])
    screen = terminal(path)
    screen.until("to ready Sun")
    screen.type("+")
    screen.until("TEST LAMP: +1 s, now taken +1 s late")


def test_what_was_typed_is_kept_for_a_restart(tmp_path, terminal):
    path, state = written(tmp_path / "soon.jsonl", steps([60, 61])), tmp_path / "state"
    screen = terminal(path, "--state", state)
    screen.until("to start TEST LAMP (long)")
    screen.type("++")
    screen.until("now taken +2 s late")
    screen.close()
    again = terminal(path, "--state", state)
    again.until("TEST LAMP: taken +2 s late, as before")
    again.until(", taken +2 s late\x1b[K")
    again.close()
    told = terminal(path, "--state", state, "--late-by", "TEST LAMP=5")
    told.until(", taken +5 s late\x1b[K")
    assert "as before" not in told.seen


@pytest.mark.parametrize("speed", ["65", "300", "100000"])
@pytest.mark.parametrize("kept", [False, True])
def test_bells_ring_a_minute_ten_seconds_and_none_before(
    tmp_path, terminal, speed, kept
):
    """Three for each step, however fast, and with a state whose notes take a while."""
    path = written(tmp_path / "two.jsonl", steps([600, 1200]))
    more = ("--state", tmp_path / "state") if kept else ()
    screen = terminal(path, "--rehearse", "--speed", speed, *more)
    screen.to_the_end()
    assert "stop TEST LAMP (long)\r\n" in screen.seen
    assert screen.seen.count("\a") == 6


def test_a_step_on_the_same_terminal_has_a_line_of_its_own(tmp_path, terminal):
    path = written(tmp_path / "two.jsonl", steps([600, 1200]))
    screen = terminal(path, "--rehearse", "--speed", "100", both=True)
    screen.to_the_end()
    lines = [line.rpartition("\r")[2] for line in screen.seen.split("\r\n")]
    given = [line.removeprefix("\x1b[K") for line in lines if '"id"' in line]
    assert [json.loads(line)["id"] for line in given] == ["step-0", "step-1"]


def test_quiet_is_quiet(tmp_path, terminal):
    path = written(tmp_path / "one.jsonl", steps([600]))
    screen = terminal(path, "--rehearse", "--speed", "65", "--quiet")
    screen.to_the_end()
    assert screen.seen == ""


# --- what cannot be -----------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (
            ("--run", "./nothing-like-it"),
            "--run ./nothing-like-it: this program does not exist",
        ),
        (("--", "{event}"), "name it by --run"),
        (("--run", CAMERA, "--", "{colour}"), "no step has a field {colour}"),
        (("--late-by", "soon"), "want seconds"),
        (("--late-by", "MOON=3"), "no step is of 'MOON'"),
        (("--speed", "0"), "--speed"),
        (("--state", "/nowhere/at/all"), "cannot keep the state in /nowhere/at/all"),
        (("--log", "/nowhere/at/all"), "cannot write /nowhere/at/all"),
    ],
)
def test_what_cannot_be_is_told_in_a_line_or_two_before_anything_is_done(
    night, args, words
):
    code, given, err = ran(night, *args)
    assert code in (1, 2)
    assert given == []
    assert words in err
    assert len(err.splitlines()) <= 2


def test_a_program_that_may_not_run_is_told_apart(night, tmp_path):
    plain = tmp_path / "plain.py"
    plain.write_text("print()\n")
    _, _, err = ran(night, "--run", plain)
    assert "is not executable" in err


def test_a_damaged_schedule_is_told_and_its_good_steps_are_done(tmp_path):
    path = tmp_path / "night.jsonl"
    first, second = (json.dumps(one) for one in steps([0, 60]))
    path.write_text(
        f'{first}\nhello\n{{"time": "2029-03-17T20:00:00"}}\n{second}\n{second[:50]}'
    )
    code, given, err = rehearsed(path)
    assert code == 0
    assert [one["id"] for one in given] == ["step-0", "step-1"]
    assert [f"night.jsonl:{n}:" in err for n in (2, 3, 5)] == [True] * 3
    assert len(err.splitlines()) == 3


def test_a_reader_that_goes_away_ends_the_run_but_not_programs(tmp_path):
    for offsets_s, more, words in (
        ([1.5, 600, 660], (), "2 steps left undone"),
        (
            [1.5, 2.0, 2.5],
            ("--run", CAMERA, "--", "{event}", "x"),
            "program ended with 0",
        ),
    ):
        path = written(tmp_path / "soon.jsonl", steps(offsets_s))
        process = cue(path, "--late", "fire", *more)
        process.stdout.close()
        err = process.stderr.read()
        assert process.wait(60) == 1
        process.stderr.close()
        assert "can no longer be written to stdout" in err
        assert words in err
        assert err.count("program ended with 0") == (3 if more else 0)


def test_a_night_long_over_does_not_fill_the_screen(tmp_path):
    path = written(tmp_path / "old.jsonl", steps([i - 90_000 for i in range(60)]))
    log = tmp_path / "log"
    code, given, err = ran(path, "--log", log)
    assert (code, given) == (0, [])
    assert len(err.splitlines()) == 11
    assert "and 50 more left out" in err
    assert log.read_text().count('"what":"skipped"') == 60


def test_nothing_to_do_is_said(tmp_path):
    path = tmp_path / "empty.jsonl"
    path.write_text("")
    code, given, err = ran(path)
    assert (code, given) == (0, [])
    assert "no step in it" in err


def test_a_closed_terminal_ends_it_cleanly_but_nohup_keeps_it(tmp_path):
    path = written(tmp_path / "later.jsonl", steps([600]))
    # the tests themselves may run under nohup, which children inherit
    process = cue(path, preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_DFL))
    listening(process)
    process.send_signal(signal.SIGHUP)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 128 + signal.SIGHUP
    assert "1 step left undone" in err
    ignoring = cue(
        path, preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN)
    )
    listening(ignoring)
    ignoring.send_signal(signal.SIGHUP)
    time.sleep(0.5)
    assert ignoring.poll() is None
    ignoring.kill()
    ignoring.communicate()
