"""``passes gate`` as a script uses it: answers, exit codes, lists, lines in and out."""

import json
from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("passes_plugins.streaks")
from passes.errors import InputError
from passes_plugins.streaks.gating import (
    Closed,
    Gate,
    GateList,
    NotCovered,
    list_bytes,
    read_list,
)

START = datetime(2029, 3, 17, 20, 0, tzinfo=UTC)


def listed(*stretches: tuple[float, float], settle_s: float = 0.0) -> GateList:
    closed = tuple(
        Closed(start_s=a, end_s=b, name="INVENTED", catalog_number=80001, verdict=v)
        for (a, b), v in zip(stretches, ["spoiled"] * len(stretches), strict=True)
    )
    return GateList(
        start=START,
        end=START + timedelta(seconds=3600),
        plan="0" * 16,
        settle_s=settle_s,
        starts=((0.0, "field"),),
        closed={"field": closed},
    )


@given(
    st.lists(st.tuples(st.floats(0, 3000), st.floats(0, 200)), max_size=8),
    st.floats(0, 1000),
    st.floats(0.1, 400),
)
def test_nothing_is_opened_that_cannot_close_first(stretches, time_s, exposure_s):
    """Whatever the answer, waiting so long is enough and a second less is not."""
    spans = [(a, a + b) for a, b in stretches]
    gate = Gate(listed(*spans))
    found = gate.ask(START + timedelta(seconds=time_s), exposure_s)
    asked_s = (found.time - START).total_seconds()

    def free(opens: float) -> bool:
        return all(b <= opens or a >= opens + exposure_s for a, b in spans)

    assert free(asked_s + found.wait_s)
    assert (found.answer == "open") == (found.wait_s == 0)
    if found.wait_s:
        assert not free(asked_s + found.wait_s - 1.0)
    assert found.longest_s >= (exposure_s if not found.wait_s else 0.0)


def test_a_long_wait_is_time_for_a_dither() -> None:
    gate = Gate(listed((100.0, 140.0), settle_s=20.0))
    assert gate.ask(START + timedelta(seconds=60), 60.0).answer == "dither"
    assert gate.ask(START + timedelta(seconds=130), 60.0).answer == "wait"
    assert gate.ask(START + timedelta(seconds=130), 60.0).wait_s == 10


def test_outside_the_list_nothing_is_vouched_for() -> None:
    gate = Gate(listed())
    with pytest.raises(NotCovered):
        gate.ask(START - timedelta(seconds=1), 10.0)
    with pytest.raises(NotCovered):
        gate.ask(START + timedelta(seconds=3595), 10.0)
    with pytest.raises(InputError):
        gate.ask(START, float("nan"))


def test_a_list_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "a.gate"
    one = listed((1.0, 2.5), (7.0, 9.0), settle_s=3.0)
    path.write_bytes(list_bytes(one))
    assert read_list(path) == one


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"kind": "other"}', b"\xff"])
def test_another_file_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.gate"
    path.write_bytes(content)
    with pytest.raises(InputError, match="no gate list"):
        read_list(path)


# --- as typed --------------------------------------------------------------------


def ask(run: Any, *args: str, now: str = "20:02:00", **more: Any) -> Any:
    return run("gate", "--demo", "--now", f"2029-03-17T{now}Z", *args, **more)


def test_the_demo_s_answers_and_exit_codes(run: Any) -> None:
    """DEMO MIRROR crosses at 20:03:10 to 20:03:18 (the demo's README)."""
    waits = ask(run, "--exposure", "180")
    word, seconds = waits.stdout.split()
    assert (word, waits.exit_code) == ("wait", 10)
    assert 79 <= int(seconds) <= 85
    short = ask(run, "--exposure", "60")
    assert (short.stdout, short.exit_code) == ("open\n", 0)


def test_a_list_is_made_once_and_used_then(run: Any, tmp_path: Path) -> None:
    path = tmp_path / "demo.gate"
    first = ask(run, "--exposure", "180", "--list", str(path), "--json")
    assert first.exit_code == 10
    made = path.read_bytes()
    again = ask(run, "--exposure", "180", "--list", str(path), "--json")
    assert json.loads(again.stdout) == json.loads(first.stdout)
    assert path.read_bytes() == made
    document = json.loads(made)
    document["plan"] = "another"
    path.write_text(json.dumps(document))
    other = ask(run, "--exposure", "180", "--list", str(path))
    assert other.exit_code == 2
    assert "another plan" in other.stderr


def test_one_line_in_one_line_out(run: Any) -> None:
    lines = [
        "180",
        '{"exposure_s": 180, "time": "2029-03-17T20:10:00Z"}',
        "",
        "soon",
        '{"exposure_s": 5, "target": "nowhere"}',
        '{"exposure_s": -5}',
        '{"exposure_s": 5, "time": "2029-03-17T20:10:00"}',
        '{"exposure_s": 5, "colour": 1}',
        '{"exposure_s": 60, "time": "2031-01-01T00:00:00Z"}',
        "60",
    ]
    result = ask(run, "--serve", input="\n".join(lines) + "\n")
    assert result.exit_code == 0
    answers = [json.loads(line) for line in result.stdout.splitlines()]
    assert [one["answer"] for one in answers] == [
        "wait",
        "open",
        *[None] * 6,
        "open",
    ]
    assert all("error" in one for one in answers if one["answer"] is None)
    jsonschema = pytest.importorskip("jsonschema")
    file = resources.files("passes_plugins.streaks") / "schemas" / "gate.json"
    schema = json.loads(file.read_text(encoding="utf-8"))
    for one in answers:
        jsonschema.Draft202012Validator(schema).validate(one)


def test_a_list_of_another_site_is_not_used(run: Any, tmp_path: Path) -> None:
    path = tmp_path / "demo.gate"
    made = ask(run, "--exposure", "60", "--list", str(path))
    assert made.exit_code == 0
    other = ask(run, "--exposure", "60", "--list", str(path), "--site", "emberpan")
    assert other.exit_code == 2
    assert "another plan, site or rig" in other.stderr


def test_a_line_without_end_gets_one_answer(run: Any) -> None:
    lines = f"{'9' * 20_000}\n60\n"
    result = ask(run, "--serve", input=lines)
    answers = [json.loads(line) for line in result.stdout.splitlines()]
    assert [one["answer"] for one in answers] == [None, "open"]


def test_what_is_missing_is_one_line(run: Any) -> None:
    for args, message in (
        (["gate"], "which session"),
        (["gate", "nowhere.toml", "--exposure", "5"], "nowhere.toml"),
        (["gate", "nowhere.toml"], "give --exposure"),
    ):
        result = run(*args)
        assert result.exit_code != 0
        assert message in result.stderr
