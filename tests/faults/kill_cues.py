"""Kill what gives out the steps of a night, and start it again."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from random import Random

from cue_help import CAMERA, steps, written
from killing import Toll, killed, started

_STEPS = 16


def cueing(folder: Path, count: int, rnd: Random) -> Toll:
    """``passes cue`` killed and started again: no step twice, and none forgotten.

    The step in flight may be either, and is told: left out, or done again, as asked.
    """
    toll = Toll(kind="running cues")
    night = 0
    while toll.kills < count:
        night += 1
        place = folder / str(night)
        place.mkdir()
        _night(toll, place, "repeat" if night % 2 else "skip", count, rnd)
    return toll


def _night(toll: Toll, folder: Path, unsure: str, count: int, rnd: Random) -> None:
    path = written(folder / "n.jsonl", steps([60.0 * i for i in range(_STEPS)]))
    state, log = folder / "state", folder / "ran"
    command = ["cue", path, "--rehearse", "--speed", "600", "--quiet"]
    command += ["--state", str(state), "--unsure", unsure]
    command += ["--run", CAMERA, "--", "{id}", "x"]
    in_flight: set[str] = set()
    done = False
    while not done and toll.kills <= count:
        in_flight |= {name for name, word in _states(state).items() if word == "intent"}
        grown = partial(_is_larger, state, _size(state))
        process = started(command, folder, CAMERA_LOG=str(log), CAMERA_BUSY="0.01")
        if toll.kills >= count:
            done = killed(process, None, 120.0)
        elif rnd.randint(0, 3):  # while steps are given out, else anywhen
            done = killed(process, grown, rnd.uniform(0.0, 0.6))
        else:
            done = killed(process, None, rnd.uniform(0.0, 1.2))
        if not done:
            toll.count(False)
    if not done:
        toll.kills -= 1
        toll.fault("nothing was left to kill, and the night did not end")
    toll.after += 1
    _judge_night(toll, log, in_flight, unsure)
    told = (folder / "told").read_text()
    if in_flight and "not sure that this was done" not in told:
        toll.fault(f"{sorted(in_flight)} were in flight, and nobody was told")


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _is_larger(path: Path, size: int) -> bool:
    return _size(path) > size


def _judge_night(toll: Toll, log: Path, in_flight: set[str], unsure: str) -> None:
    ran = [line.split(" | ")[0] for line in log.read_text().splitlines()]
    twice = {name for name in ran if ran.count(name) > 1}
    missing = {f"step-{i}" for i in range(_STEPS)} - set(ran)
    may = in_flight if unsure == "repeat" else set()
    if twice - may:
        toll.fault(f"done twice: {sorted(twice - may)}")
    may = in_flight if unsure == "skip" else set()
    if missing - may:
        toll.fault(f"forgotten: {sorted(missing - may)}")


def _states(state: Path) -> dict[str, str]:
    """The last word on each step; a line that was cut off says nothing."""
    if not state.exists():
        return {}
    lines = state.read_text().split("\n")[:-1]
    found = (json.loads(line) for line in lines if line)
    return {one["id"]: one["state"] for one in found}
