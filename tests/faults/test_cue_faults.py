"""What goes wrong at night: programs that fail or hang, disks that are full, kills."""

import json
import os
import signal
import subprocess

import pytest
from cue_help import (
    CAMERA,
    awaited,
    cue,
    executable,
    listening,
    ran,
    shell,
    steps,
    written,
)


@pytest.fixture
def night(tmp_path):
    """Four steps to rehearse."""
    return written(tmp_path / "night.jsonl", steps([0, 60, 120, 180]))


def rehearsed(path, *args, **more):
    return ran(path, "--rehearse", "--speed", 1000, *args, **more)


def kept(path):
    """The last state of each step in a state file."""
    lines = (json.loads(line) for line in path.read_text().splitlines() if line)
    return {line["id"]: line["state"] for line in lines}


# --- programs ------------------------------------------------------------------


def test_a_program_that_fails_stops_nothing_unless_told(night):
    args = ("--run", CAMERA, "--", "{event}", "x")
    code, given, err = rehearsed(night, *args, env={"CAMERA_FAIL": "start"})
    assert (code, len(given)) == (1, 4)
    assert err.count("program ended with 1") == 2


def test_stop_on_failure_stops_and_says_what_is_left(tmp_path):
    path = written(tmp_path / "night.jsonl", steps([0, 600_000, 600_100]))
    args = ("--stop-on-failure", "--run", CAMERA, "--", "{event}", "x")
    code, given, err = rehearsed(path, *args, env={"CAMERA_FAIL": "start"})
    assert (code, len(given)) == (1, 1)
    assert "a program failed; 2 steps left undone" in err
    assert "begun and not ended: start TEST LAMP (long)" in err


def test_a_program_that_hangs_is_stopped_and_holds_up_nobody(night, tmp_path):
    # A shell, because it is there at once even where a machine is busy: what does not
    # hang must end, and what does must ignore the signal, within the time-out.
    hung = shell(
        tmp_path / "hung.sh",
        "[ \"$1\" = start ] || exit 0\ntrap '' TERM\nsleep 300 & sleep 300\nwait\n",
    )
    log = tmp_path / "log"
    code, given, err = rehearsed(
        night, "--time-out", "3", "--log", log, "--run", hung, "--", "{event}"
    )
    assert (code, len(given)) == (1, 4)
    assert err.count("hung, and was stopped after 3 s") == 2
    ended = [json.loads(line) for line in log.read_text().splitlines()]
    codes = {one["id"]: one["code"] for one in ended if one["what"] == "ended"}
    assert codes == {"step-0": -9, "step-1": 0, "step-2": -9, "step-3": 0}


def test_a_program_that_talks_without_end_is_kept_short(night, tmp_path):
    loud = executable(
        tmp_path / "loud.py", "print('x' * 3_000_000)\nprint('\\x1b[2J')\n"
    )
    log = tmp_path / "log"
    code, given, err = rehearsed(night, "--log", log, "--run", loud)
    assert (code, len(given)) == (0, 4)
    assert log.stat().st_size < 100_000
    assert "\x1b" not in err
    assert max(map(len, err.splitlines())) < 400


def test_a_program_that_vanishes_is_told_and_steps_go_on(night, tmp_path):
    once = shell(tmp_path / "once.sh", 'rm -- "$0"\n')
    code, given, err = ran(
        night, "--rehearse", "--speed", 30, "--run", once, timeout=90
    )
    assert (code, len(given)) == (1, 4)
    assert "cannot be started: No such file or directory" in err


def test_a_program_that_ignores_its_input_is_no_failure(tmp_path):
    long = "x" * 200_000
    path = written(tmp_path / "n.jsonl", steps([0, 60], advice={"long": long}))
    deaf = executable(tmp_path / "deaf.py", "import sys\nsys.stdin.close()\n")
    code, given, _ = rehearsed(path, "--run", deaf)
    assert (code, len(given)) == (0, 2)


def test_sigterm_stops_a_program_and_leaves_its_step_undecided(tmp_path):
    path = written(tmp_path / "soon.jsonl", steps([1.5, 600]))
    state = tmp_path / "state"
    log = tmp_path / "ran"
    args = ("--state", state, "--run", CAMERA, "--", "{event}", "x")
    process = cue(path, *args, env={"CAMERA_BUSY": "120", "CAMERA_LOG": str(log)})
    awaited(process, log.exists)
    process.send_signal(signal.SIGTERM)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 128 + signal.SIGTERM
    assert "stopped with us" in err
    assert kept(state) == {"step-0": "intent"}


# --- the state file ------------------------------------------------------------


def test_what_was_done_is_not_repeated(night, tmp_path):
    state = tmp_path / "state"
    _, first, _ = rehearsed(night, "--state", state)
    code, again, err = rehearsed(night, "--state", state)
    assert (len(first), code, again) == (4, 0, [])
    assert "4 steps were done before" in err


def test_a_rehearsal_does_not_use_up_the_night(tmp_path):
    path, state = tmp_path / "night.jsonl", tmp_path / "state"
    written(path, steps([3.5, 4.0]))
    code, given, _ = rehearsed(path, "--state", state)
    assert (code, len(given)) == (0, 2)
    code, given, _ = ran(path, "--state", state, "--late", "fire")
    assert (code, len(given)) == (0, 2)


@pytest.mark.parametrize("unsure", ["skip", "repeat"])
def test_the_step_in_flight_is_told_and_decided(night, tmp_path, unsure):
    state = tmp_path / "state"
    lines = [("step-0", "intent"), ("step-0", "done"), ("step-1", "intent")]
    state.write_text(
        "".join(
            json.dumps({"id": name, "state": word, "rehearsal": True}) + "\n"
            for name, word in lines
        )
        + '{"id": "step-2", "sta'
    )
    code, given, err = rehearsed(night, "--state", state, "--unsure", unsure)
    assert code == 0
    expected = {"skip": ["step-2", "step-3"], "repeat": ["step-1", "step-2", "step-3"]}
    assert [one["id"] for one in given] == expected[unsure]
    assert "not sure that this was done: stop TEST LAMP (long)" in err
    assert "state:4: cut off" in err
    # The half line is closed, so that what is written behind it can be read.
    assert rehearsed(night, "--state", state)[1] == []


def test_a_rehearsal_with_nothing_left_but_steps_in_flight_ends(night, tmp_path):
    state = tmp_path / "state"
    words = {"step-0": "done", "step-1": "done", "step-2": "intent", "step-3": "intent"}
    lines = (
        json.dumps({"id": name, "state": word, "rehearsal": True}) + "\n"
        for name, word in words.items()
    )
    state.write_text("".join(lines))
    code, given, _ = rehearsed(night, "--state", state, "--unsure", "repeat")
    assert (code, [one["id"] for one in given]) == (0, ["step-2", "step-3"])


def test_a_stop_is_done_however_late_when_its_start_was(tmp_path):
    path = written(tmp_path / "n.jsonl", steps([-300, -200, -100, -50]))
    state = tmp_path / "state"
    state.write_text(
        '{"id":"step-0","state":"intent"}\n{"id":"step-0","state":"done"}\n'
    )
    code, given, err = ran(path, "--state", state)
    assert code == 0
    assert [one["id"] for one in given] == ["step-1"]
    assert "because its start was" in err


def test_what_fell_due_while_nobody_ran_is_not_forgotten(tmp_path):
    """Killed before a recording began, started again while it should run."""
    path = written(tmp_path / "n.jsonl", steps([-400, -300, -20, 600, 660, 720]))
    state = tmp_path / "state"
    state.write_text('{"id":"step-0","state":"done"}\n{"id":"step-1","state":"done"}\n')
    process = cue(path, "--state", state)
    assert json.loads(process.stdout.readline())["id"] == "step-2"
    process.send_signal(signal.SIGTERM)
    _, err = process.communicate(timeout=60)
    assert "2 steps were done before" in err
    assert "left out" not in err
    assert kept(state) == {f"step-{i}": "done" for i in range(3)}


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no /dev/full here")
def test_a_disk_without_room_is_told_and_the_steps_go_on(night):
    code, given, err = rehearsed(night, "--state", "/dev/full")
    if given:
        assert len(given) == 4
    assert "cannot keep the state in /dev/full" in err
    assert code in (0, 1)


def test_a_state_file_serves_one_run_at_a_time(tmp_path):
    path, state = written(tmp_path / "n.jsonl", steps([600])), tmp_path / "state"
    first = cue(path, "--state", state)
    listening(first)  # it has its state by then
    code, _, err = ran(path, "--state", state)
    first.kill()
    first.communicate()
    assert code == 1
    assert "another run is using it" in err


# --- kill -9 -------------------------------------------------------------------


def run_and_kill(path, state, log, after_s, busy):
    """Start a rehearsal, kill it after a while; ids that were given out whole."""
    process = cue(
        *(path, "--rehearse", "--speed", 600, "--state", state),
        *("--run", CAMERA, "--", "{id}", "x"),
        env={"CAMERA_LOG": str(log), "CAMERA_BUSY": busy},
    )
    try:
        process.wait(after_s)
    except subprocess.TimeoutExpired:
        process.kill()
    process.communicate()
    return process.returncode


@pytest.mark.parametrize("trial", range(3))
def test_after_kill_9_nothing_is_repeated_and_nothing_forgotten(tmp_path, trial):
    count = 24
    path = written(tmp_path / "n.jsonl", steps([60 * i for i in range(count)]))
    state, log = tmp_path / "state", tmp_path / "ran"
    unsure = set()
    for after_s in (0.9 + 0.31 * trial, 1.3 + 0.17 * trial, 60.0):
        before = kept_whole(state)
        code = run_and_kill(path, state, log, after_s, "0.02")
        unsure |= {name for name, word in before.items() if word == "intent"}
        if code == 0:
            break
    assert code == 0
    done = [line.split(" | ")[0] for line in log.read_text().splitlines()]
    assert len(done) == len(set(done))  # nothing twice
    missing = {f"step-{i}" for i in range(count)} - set(done)
    assert missing <= unsure  # nothing forgotten but what was told as unsure
    assert set(kept_whole(state).values()) <= {"done", "skipped"}


def kept_whole(state):
    """Like :func:`kept`, of a file that may be missing or end in half a line."""
    if not state.exists():
        return {}
    found = {}
    for line in state.read_text().split("\n")[:-1]:
        if line:
            one = json.loads(line)
            found[one["id"]] = one["state"]
    return found
