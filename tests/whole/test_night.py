"""One night as its user lives it: every command in turn, on the wheel, offline.

The sky is the invented scenario's, but nothing is asked with ``--demo``: element sets,
site, rigs, magnitudes and plan come in as files and by command, as a user's do.  Times
that the scenario promises are held against skyfield alone elsewhere
(``tests/properties/test_demo.py``).
"""

import json
import re
import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from session_plans import session_plan

EVENING = "--date 2029-03-17"
STATION, STATION_PASS, MIRROR = 80001, "80001-20290317T1900", 80031
RIGS = {
    "long": "--focal-length 2540 --aperture 254 --obstruction 0.35 --pixel 3"
    " --width 1936 --height 1216 --gain 120,0.75,2.4,3000 --filter red,640,120,0.92"
    " --mode full,1936x1216,160,rolling,5,3.2e-5,1"
    " --mount equatorial --follows --rate-limits 6,6 --default",
    "wide": "--focal-length 24 --f-number 2.8 --pixel 5.9 --width 6048 --height 4024"
    " --gain 3200,0.6,1.8,20000 --colour --mount fixed",
    "field": "--focal-length 400 --aperture 80 --pixel 3.76 --width 6248"
    " --height 4176 --gain 100,0.8,1.6,50000 --filter clear,550,300"
    " --mount equatorial",
}
#: One's own magnitudes, as a plugin's settings.
SETTINGS = '\n[plugins.diffuse-sphere]\ntable = "{table}"\n'
PLAN = session_plan(20, site="")


@dataclass(frozen=True)
class Desk:
    """A folder where commands are typed on the wheel, with files of the field kit."""

    wheel: Any
    folder: Path

    def type(self, command: str, code: int = 0) -> str:
        """What a command prints; it must end with that exit code."""
        line = command.replace("passes ", f"{self.wheel.folder}/venv/bin/passes ")
        done = self.wheel.type(line, cwd=self.folder)
        assert done.returncode == code, f"{command}\n{done.stdout}{done.stderr}"
        return str(done.stdout)

    def told(self, command: str, code: int = 0) -> Any:
        """What a command says in JSON."""
        return json.loads(self.type(f"{command} --json", code))


@pytest.fixture
def desk(wheel: Any, fixtures: Path, tmp_path: Path) -> Desk:
    home = wheel.folder / "home"
    shutil.rmtree(home)
    home.mkdir()
    (found,) = wheel.folder.glob("venv/lib/python*/site-packages/passes/data/demo")
    for file in (
        *(found / "elements.tle", found / "magnitudes.csv"),
        *(fixtures / "sites" / "arrival.nmea", fixtures / "sites" / "ridge.csv"),
        fixtures / "camera_stand_in.py",
    ):
        shutil.copy(file, tmp_path)
    (tmp_path / "m81.toml").write_text(PLAN)
    return Desk(wheel, tmp_path)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_a_night(desk: Desk) -> None:
    no_network(desk)
    arrived(desk)
    station = looked_at_the_list(desk)
    advised(desk, station)
    placed_its_subs(desk)
    asked_the_gate(desk)
    looked_for_transits(desk)
    steps = scheduled(desk, station)
    rehearsed(desk, steps)
    printed_a_sheet(desk, station)


def no_network(desk: Desk) -> None:
    """The cut is real: nothing outside can be reached."""
    reach = "import socket; socket.create_connection(('192.0.2.1', 9), timeout=5)"
    done = desk.wheel.type(f'venv/bin/python -c "{reach}"')
    assert done.returncode == 1
    assert "Network is unreachable" in done.stderr or "no network" in done.stderr


def arrived(desk: Desk) -> None:
    """Element sets, the place from a receiver, rigs, and whether all is ready."""
    added = desk.told("passes elements add elements.tle")
    assert added["holds"]["objects"] == 91
    desk.type(
        "passes site read arrival.nmea --name arrival --zone Europe/Madrid"
        " --horizon ridge.csv --sky 21.7 --default"
    )
    for name, options in RIGS.items():
        desk.type(f"passes rig add {name} {options}")
    config = desk.wheel.folder / "home" / ".config" / "passes" / "passes.toml"
    with config.open("a") as file:
        file.write(SETTINGS.format(table=desk.folder / "magnitudes.csv"))
    ready = desk.told(f"passes check {EVENING}")
    assert ready["ready"] is True
    found = {one["subject"]: one for one in ready["findings"]}
    assert found["elements"]["values"]["objects"] == 91
    assert found["horizon"]["values"]["highest_deg"] == 11.0
    assert {found[name]["state"] for name in ("config", "site", "plugins")} == {"good"}


def looked_at_the_list(desk: Desk) -> dict[str, Any]:
    """The station's pass is there, where the receiver stood, when it was promised."""
    night = desk.told(f"passes tonight {EVENING}")
    assert night["demo"] is False
    assert night["site"]["latitude_deg"] == pytest.approx(41.0, abs=1e-6)
    assert night["site"]["longitude_deg"] == pytest.approx(-2.4, abs=1e-6)
    passes = {one["id"]: one for one in night["passes"]}
    station: dict[str, Any] = passes[STATION_PASS]
    assert station["catalog_number"] == STATION
    # 18:58-19:04 UTC, up to 72 degrees: what the scenario promises
    assert station["culmination"]["altitude_deg"] == pytest.approx(72.0, abs=0.6)
    for edge, minute in (("rise", "18:58"), ("set", "19:04")):
        late = at(station[edge]["time"]) - at(f"2029-03-17T{minute}:00Z")
        assert abs(late.total_seconds()) <= 30.0
    assert station["timing_sigma_s"] < station["timing_bound_s"] < 1.0
    page = desk.type(f"passes tonight {EVENING}")
    assert "DEMO STATION" in page
    assert max(map(len, page.splitlines())) <= 80
    return station


def advised(desk: Desk, station: dict[str, Any]) -> None:
    """Settings for the long rig, within the pass."""
    told = desk.told(f"passes advise --pass {STATION_PASS} --rig long")
    (advice,) = told["advice"]
    assert (advice["rig"], advice["subject"]) == ("long", STATION_PASS)
    # common practice, no source: 206.265 x pixel in um / focal length in mm
    scale = 206.265 * 3.0 / 2540.0
    assert advice["image_scale_arcsec_px"] == pytest.approx(scale, rel=1e-3)
    assert 3.2e-5 <= advice["exposure_s"] < 1.0
    assert advice["limit"]
    start, stop = at(advice["start"]), at(advice["stop"])
    margin = timedelta(seconds=60)
    assert at(station["rise"]["time"]) - margin < start < stop
    assert stop < at(station["set"]["time"]) + margin


def placed_its_subs(desk: Desk) -> None:
    """What would be spoiled, and less of it once the subs are placed."""
    planned = desk.told("passes streaks m81.toml")
    spoiled = [sub for sub in planned["subs"] if sub["verdict"] == "spoiled"]
    assert planned["summary"]["verdicts"]["spoiled"] == len(spoiled) >= 2
    (culprit,) = (c for c in spoiled[0]["crossings"] if c["catalog_number"] == MIRROR)
    sub = spoiled[0]
    assert at(sub["start"]) < at(culprit["entry"]["time"]) < at(sub["end"])
    desk.type("passes streaks m81.toml --place --output placed.toml")
    placed = desk.told("passes streaks placed.toml")
    kept = [one["summary"]["exposure_lost_s"] for one in (planned, placed)]
    assert kept[1] <= kept[0] - 180.0
    spans = [(at(sub["start"]), at(sub["end"])) for sub in placed["subs"]]
    assert len(spans) == 20
    assert {(end - start).total_seconds() for start, end in spans} == {180.0}
    assert all(end < start for (_, end), (start, _) in pairwise(spans))


def asked_the_gate(desk: Desk) -> None:
    """It waits for what spoils, opens when it said it would, from a list it kept."""
    ask = "passes gate placed.toml --exposure 180 --list tonight.gate --now "
    closed = desk.told(ask + "2029-03-17T20:02:00Z", code=10)
    assert closed["answer"] == "wait"
    assert closed["because"]["catalog_number"] == MIRROR
    until = at(closed["time"]) + timedelta(seconds=closed["wait_s"])
    assert until == at(closed["until"])
    made = (desk.folder / "tonight.gate").stat().st_mtime_ns
    opened = desk.told(ask + f"{until:%Y-%m-%dT%H:%M:%SZ}", code=0)
    assert opened["answer"] == "open"
    assert opened["longest_s"] >= 180.0
    assert (desk.folder / "tonight.gate").stat().st_mtime_ns == made


def looked_for_transits(desk: Desk) -> None:
    """The Moon's, three days later: seen from the site itself, 18:21:53 UTC."""
    told = desk.told("passes transits --date 2029-03-20 --body moon")
    (transit,) = (t for t in told["transits"] if t["catalog_number"] == STATION)
    late = at(transit["time"]) - at("2029-03-20T18:21:53Z")
    assert abs(late.total_seconds()) < 1.0
    assert transit["offset_radii"] < 1.0
    assert 0.0 < transit["duration_s"] < 1.0


def scheduled(desk: Desk, station: dict[str, Any]) -> list[dict[str, Any]]:
    """The pass with the wide rig beside the placed subs, in order, each rig in turn."""
    desk.type(
        f"passes schedule {EVENING} --plan placed.toml --rig wide --limit 3"
        " --output night.jsonl"
    )
    text = (desk.folder / "night.jsonl").read_text()
    steps: list[dict[str, Any]] = [json.loads(line) for line in text.splitlines()]
    assert [s["time"] for s in steps] == sorted(s["time"] for s in steps)
    assert len({s["id"] for s in steps}) == len(steps)
    by_id = {step["id"]: step for step in steps}
    start = by_id[f"{STATION_PASS}/wide/start"]
    stop = by_id[f"{STATION_PASS}/wide/stop"]
    assert start["advice"]["exposure_s"] > 0.0
    best = at(station["brightest"]["time"])
    assert at(start["time"]) < best < at(stop["time"])
    for rig in ("wide", "field"):
        words = [s["event"] for s in steps if s["rig"] == rig]
        recording = [word for word in words if word in ("start", "stop")]
        assert recording == ["start", "stop"] * (len(recording) // 2)
    subs = [s for s in steps if s["rig"] == "field" and s["event"] == "start"]
    assert len(subs) == 20
    return steps


def rehearsed(desk: Desk, steps: list[dict[str, Any]]) -> None:
    """Every step comes, in order and never late, and the camera hears each."""
    printed = desk.type(
        "CAMERA_LOG=camera.log passes cue night.jsonl --rehearse --speed 20000"
        " --state night.state --run ./camera_stand_in.py -- '{event}' '{subject}'"
    )
    cued = [json.loads(line) for line in printed.splitlines()]
    assert [{key: one[key] for key in steps[0]} for one in cued] == steps
    assert {one["lateness_s"] for one in cued} == {0.0}
    heard = (desk.folder / "camera.log").read_text().splitlines()
    want = sorted((step["event"], step["subject"]) for step in steps)
    assert sorted(tuple(line.split(" | ")[:2]) for line in heard) == want


def printed_a_sheet(desk: Desk, station: dict[str, Any]) -> None:
    """One page that asks nothing of a network and has the night on it."""
    desk.type(
        f"passes sheet {EVENING} --plan placed.toml --schedule night.jsonl"
        " --output night.html"
    )
    page = (desk.folder / "night.html").read_text(encoding="utf-8")
    best = at(station["brightest"]["time"]).astimezone(ZoneInfo("Europe/Madrid"))
    for word in ("DEMO STATION", "M 81 field", "DEMO MIRROR", f"{best:%H:%M}"):
        assert word in page
    assert not re.search(r"""(?:src|href)=["']?(?:https?:)?//""", page)
    assert 'class="demo"' not in page
