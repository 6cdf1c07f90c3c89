"""Steps of a schedule as a person reads them."""

from datetime import UTC, datetime, timedelta

import pytest

pytest.importorskip("passes_plugins.sheet")
from passes.model import Step
from passes_plugins.sheet.steps import entries

START = datetime(2029, 3, 17, 20, 0, tzinfo=UTC)


def step(seconds, event, subject, rig="", stem="", **advice):
    stem = stem or f"{subject}-pass"
    name = f"{stem}/{rig}/{event}" if rig else stem
    time = START + timedelta(seconds=seconds)
    return Step(
        id=name, event=event, time=time, subject=subject, rig=rig, advice=advice or None
    )


def exposure(seconds, subject="M 81", rig="field"):
    stem = f"sub-{seconds}"
    return (
        step(seconds, "start", subject, rig, stem, kind="sub", exposure_s=60.0),
        step(seconds + 60, "stop", subject, rig, stem),
    )


def test_the_steps_of_one_pass_are_one_entry_with_a_line_a_rig():
    steps = [
        step(t + late, event, "STATION", rig, kind="passage", **look)
        for rig, late, look in (
            ("long", 0, {"exposure_s": 0.0005, "frame_rate_hz": 160.0, "gain": "120"}),
            ("wide", 1, {"exposure_s": 20.0}),
        )
        for t, event in ((0, "ready"), (200, "point"), (300, "start"), (600, "stop"))
    ]
    (entry,) = entries(steps, UTC)
    assert entry["time"] == "20:00:00"
    assert entry["what"] == "STATION"
    assert entry["how"] == [
        "long: ready 20:00:00, point 20:03:20, record 20:05:00–20:10:00, 1/2000 s, "
        "160 frames/s, gain 120",
        "wide: ready 20:00:01, point 20:03:21, record 20:05:01–20:10:01, 20 s",
    ]


def test_subs_of_one_target_run_on_until_another_s():
    steps = [*exposure(0), *exposure(66), *exposure(200, "M 82"), *exposure(300)]
    found = entries(steps, UTC)
    assert [one["what"] for one in found] == [
        "2 subs of M 81",
        "1 sub of M 82",
        "1 sub of M 81",
    ]
    assert found[0]["how"] == ["field: 20:00:00–20:02:06, 60 s"]


def test_a_hold_stands_by_itself():
    steps = [
        *exposure(0),
        step(66, "hold", "M 81", "field", "hold-1", kind="placing"),
        step(86, "resume", "M 81", "field", "hold-1", kind="placing"),
        *exposure(90),
    ]
    subs, hold = entries(steps, UTC)
    assert subs["what"] == "2 subs of M 81"
    assert hold["what"] == "Hold: M 81"
    assert hold["how"] == ["field: hold 20:01:06–20:01:26"]


def test_what_only_happens_is_told_in_its_own_words():
    (entry,) = entries([step(0, "ready", "Sun", stem="sunset", words="Sunset")], UTC)
    assert (entry["what"], entry["how"]) == ("Sunset", ["Sun"])


def test_steps_that_nobody_knows_are_kept():
    odd = Step(id="x", event="point", time=START, subject="", rig="")
    (entry,) = entries([odd], UTC)
    assert entry["how"] == ["point 20:00:00"]
