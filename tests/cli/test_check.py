"""``passes check`` as a user types it."""

from __future__ import annotations

import io
import json
import os
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result

from passes.cli.archive import common
from passes.forecast import ready, ticking
from passes.nmea import checksum
from passes.testing.elements import element_text

TEXT = element_text().replace("SAMPLE ROCKET BODY", "SAMPLE R/B")
AT = ("--at", "37.1,-3.4", "--date", "2031-10-11")
Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def _quiet_system(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer whose clock is in order."""
    monkeypatch.setattr(ticking, "synchronised", lambda: True)


@pytest.fixture
def filled(run: Run) -> Run:
    """The usual archive with two invented objects, fresh on that night."""
    assert run("elements", "add", "-", input=TEXT).exit_code == 0
    return run


def findings(run: Run, *args: str, **more: Any) -> dict[str, dict[str, Any]]:
    result = run("check", "--json", *args, **more)
    document = json.loads(result.stdout)
    bad = any(one["state"] == "bad" for one in document["findings"])
    assert document["ready"] is not bad
    assert result.exit_code == (1 if bad else 0)
    return {one["subject"]: one for one in document["findings"]}


def rmc(when: datetime) -> str:
    body = f"GPRMC,{when:%H%M%S}.00,A,3706.00,N,00324.00,W,0.0,0.0,{when:%d%m%y},,"
    return f"${body}*{checksum(body):02X}"


def test_ready_with_everything_there(
    filled: Run, package: Path, with_plugin: Callable[..., Any]
) -> None:
    with_plugin(passes_advisers=[])
    result = filled("check", *AT)
    assert result.exit_code == 0
    assert result.stdout.rstrip().endswith("Ready.")
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    found = findings(filled, *AT)
    schema = package / "cli" / "schemas" / "check.json"
    document = json.loads(filled("check", "--json", *AT).stdout)
    jsonschema.validate(document, json.loads(schema.read_text()))
    states = {subject: one["state"] for subject, one in found.items()}
    assert states["elements"] == states["classes"] == states["ephemeris"] == "good"
    assert states["clock"] == states["plugins"] == states["disk"] == "good"
    assert states["horizon"] == states["config"] == "caution"
    assert found["elements"]["values"]["objects"] == 2


def test_an_empty_archive_spoils_the_night(run: Run) -> None:
    found = findings(run, *AT)
    assert found["elements"]["state"] == "bad"
    assert "passes elements" in found["elements"]["todo"]
    assert "BAD" in run("check", *AT).stdout


def test_old_elements_are_a_caution_and_then_spoil_the_night(filled: Run) -> None:
    week = findings(filled, "--at", "37,-3", "--date", "2031-10-17")
    assert week["elements"]["state"] == "caution"
    month = findings(filled, "--at", "37,-3", "--date", "2031-10-31")
    assert month["elements"]["state"] == "bad"
    beyond = findings(filled, "--at", "37,-3", "--date", "2031-12-31")
    assert beyond["elements"]["state"] == "bad"
    assert "2 over 30 days" in beyond["elements"]["text"]


def test_missing_classes_are_a_caution(run: Run) -> None:
    station = "\n".join(TEXT.splitlines()[:3]) + "\n"
    run("elements", "add", "-", input=station)
    found = findings(run, *AT)
    assert found["classes"]["state"] == "caution"
    assert found["classes"]["values"]["missing"] == ["rocket body"]


def test_a_damaged_archive_is_set_aside_and_told(filled: Run, home: Path) -> None:
    path = home / ".local/share/passes/elements.sqlite"
    content = bytearray(path.read_bytes())
    content[4096:9000] = b"\xa5" * 4904
    path.write_bytes(bytes(content))
    found = findings(filled, *AT)
    assert found["elements"]["state"] == "bad"
    assert "set aside as" in found["elements"]["text"]
    assert len(list(path.parent.glob("*.damaged-*Z"))) == 1


def test_a_broken_configuration_hides_nothing_else(filled: Run, home: Path) -> None:
    config = home / ".config/passes/passes.toml"
    config.parent.mkdir(parents=True, exist_ok=True)
    config.write_text("[sites\n")
    found = findings(filled, *AT)
    assert found["config"]["state"] == "bad"
    assert "passes.toml" in found["config"]["text"]
    assert found["elements"]["state"] == "good"


def test_site_and_horizon_of_the_configuration(filled: Run, home: Path) -> None:
    config = home / ".config/passes/passes.toml"
    config.parent.mkdir(parents=True, exist_ok=True)
    config.write_text(
        "[sites.ridge]\nlatitude_deg = 37.1\nlongitude_deg = -3.4\n"
        "horizon = [[0, 5], [90, 20], [180, 3]]\n"
    )
    found = findings(filled, "--date", "2031-10-11")
    assert found["config"]["state"] == found["site"]["state"] == "good"
    assert found["config"]["text"].endswith(": 1 site, 0 rigs, 0 sources")
    assert found["horizon"]["values"] == {"corners": 3, "highest_deg": 20.0}
    unknown = findings(filled, "--site", "nowhere")
    assert unknown["site"]["state"] == "bad"
    assert "ridge" in unknown["site"]["text"]


def test_without_a_site_the_rest_is_looked_at(filled: Run) -> None:
    found = findings(filled)
    assert found["site"]["state"] == "caution"
    assert "passes site add" in found["site"]["todo"]
    assert found["disk"]["state"] == "good"


def test_beyond_the_ephemeris(filled: Run) -> None:
    result = filled("check", "--json", "--at", "37,-3", "--date", "2150-01-01")
    assert result.exit_code == 1
    found = {one["subject"]: one for one in json.loads(result.stdout)["findings"]}
    assert found["ephemeris"]["state"] == "bad"


def test_a_full_disk(filled: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = type("Usage", (), {"free": 1_000_000})
    monkeypatch.setattr(ready.shutil, "disk_usage", lambda _: usage)
    found = findings(filled, *AT)
    assert found["disk"]["state"] == "bad"


@pytest.mark.parametrize(
    ("told", "state"), [(True, "good"), (False, "caution"), (None, "unknown")]
)
def test_what_the_system_says_of_its_clock(
    filled: Run, monkeypatch: pytest.MonkeyPatch, told: bool | None, state: str
) -> None:
    monkeypatch.setattr(ticking, "synchronised", lambda: told)
    assert findings(filled, *AT)["clock"]["state"] == state


def test_a_clock_behind_what_was_already_added(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    ahead = datetime.now(UTC) + timedelta(days=200)
    monkeypatch.setattr(common, "now", lambda: ahead)
    run("elements", "add", "-", input=TEXT)
    found = findings(run, *AT)
    assert found["clock"]["state"] == "bad"
    assert "but elements were added at" in found["clock"]["text"]


@pytest.mark.parametrize(
    ("off_s", "state"), [(0.3, "good"), (-0.5, "good"), (3.0, "bad"), (-60.0, "bad")]
)
def test_a_recording_that_notes_when_sentences_came(
    filled: Run, tmp_path: Path, off_s: float, state: str
) -> None:
    start = datetime(2031, 10, 11, 20, tzinfo=UTC)
    lines = []
    for i in range(20):
        when = start + timedelta(seconds=i)
        # alternately a tenth of a second early and late
        came = when + timedelta(seconds=off_s + (0.1 if i % 2 else -0.1))
        lines.append(f"{came:%Y-%m-%dT%H:%M:%S.%f}Z {rmc(when)}")
    log = tmp_path / "receiver.log"
    log.write_text("\n".join(lines))
    clock = findings(filled, *AT, "--nmea", str(log))["clock"]
    assert clock["state"] == state
    assert clock["values"]["offset_s"] == pytest.approx(off_s, abs=0.1001)
    assert clock["values"]["spread_s"] == pytest.approx(0.1, abs=0.001)
    assert clock["values"]["seconds_compared"] == 20
    assert "a plain serial line" in clock["text"]


def test_a_plain_recording_by_the_time_it_was_written(
    filled: Run, tmp_path: Path
) -> None:
    when = datetime(2031, 10, 11, 20, tzinfo=UTC)
    log = tmp_path / "receiver.nmea"
    log.write_text("\r\n".join([rmc(when - timedelta(seconds=1)), rmc(when), "$x"]))
    os.utime(log, (when.timestamp() + 0.4, when.timestamp() + 0.4))
    clock = findings(filled, *AT, "--nmea", str(log))["clock"]
    assert clock["values"]["offset_s"] == pytest.approx(0.4, abs=1e-3)
    assert clock["values"]["spread_s"] is None
    assert "by a recording" in clock["text"]


def test_a_receiver_that_is_read_live(tmp_path: Path) -> None:
    pipe = tmp_path / "ttyS9"
    os.mkfifo(pipe)

    def receiver() -> None:
        with pipe.open("w") as file:
            for i in range(5):
                now = datetime.now(UTC)
                # a receiver a quarter of a second and some whole seconds behind
                told = now - timedelta(seconds=2 - i * 0.01)
                body = (
                    f"GPRMC,{told:%H%M%S}.{told.microsecond // 10000:02d},A,"
                    f"3706.00,N,00324.00,W,0.0,0.0,{told:%d%m%y},,"
                )
                file.write(f"${body}*{checksum(body):02X}\r\n")
                file.flush()
                time.sleep(0.05)

    thread = threading.Thread(target=receiver)
    thread.start()
    begun = time.monotonic()
    compared = ticking.compare(str(pipe), io.BytesIO())
    took_s = time.monotonic() - begun
    thread.join(10)
    assert compared.live
    assert compared.seconds == 5
    # a busy machine may be late, by the time that it took, never early
    assert 1.95 <= compared.offset_s <= 2.01 + took_s


class Receiver(io.BytesIO):
    """A stream that says what time it is when it is asked, and then ends."""

    asked = False

    def read(self, size: int | None = -1) -> bytes:
        if self.asked or not size:
            return b""
        self.asked = True
        return f"{rmc(datetime.now(UTC))}\n".encode()


def test_standard_input(filled: Run) -> None:
    begun = datetime.now(UTC)
    clock = findings(filled, *AT, "--nmea", "-", input=Receiver())["clock"]
    took_s = (datetime.now(UTC) - begun).total_seconds()
    assert clock["values"]["seconds_compared"] == 1
    assert clock["values"]["offset_s"] >= 0.0
    assert clock["values"]["offset_s"] <= took_s + 1.0
    assert clock["state"] == "good"


@pytest.mark.parametrize("content", ["", "hello", "$GPRMC,1,2*00", "$GPGGA,,,,,,0*66"])
def test_a_receiver_that_says_nothing_is_told(
    filled: Run, tmp_path: Path, content: str
) -> None:
    log = tmp_path / "silent.nmea"
    log.write_text(content)
    clock = findings(filled, *AT, "--nmea", str(log))["clock"]
    assert clock["state"] == "bad"
    assert "no sentence with a time and a date" in clock["text"]


def test_a_receiver_that_is_not_there(filled: Run) -> None:
    clock = findings(filled, *AT, "--nmea", "/dev/absent")["clock"]
    assert clock["state"] == "bad"
    assert "/dev/absent" in clock["text"]


def test_the_system_is_asked_without_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    assert ticking.synchronised() in (True, False, None)
    monkeypatch.setenv("PATH", "")
    assert ticking._timedatectl() is None


def test_a_faulty_plugin_is_a_caution(
    filled: Run, with_plugin: Callable[..., Any]
) -> None:
    with_plugin(passes_advisers=["not an adviser"])
    found = findings(filled, *AT)
    assert found["plugins"]["state"] == "caution"
    assert "zoo" in found["plugins"]["text"]
