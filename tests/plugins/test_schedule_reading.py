"""Schedules as JSON Lines: read back equal, and every step kept that can be kept."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.errors import InputError
from passes.model import Step
from passes.plans.schedule import (
    json_line,
    read_schedule,
    read_schedule_text,
    schedule_text,
    step_document,
)

START = datetime(2029, 3, 17, 18, 58, 21, 790_000, tzinfo=UTC)


def step(name="80001-20290317T1900/long/start", **changes):
    values = {
        "event": "start",
        "time": START,
        "subject": "TEST STATION",
        "catalog_number": 80001,
        "rig": "long",
        "advice": {"exposure_s": 0.003125, "pointing": {"azimuth_deg": None}},
        "demo": True,
    }
    return Step(id=name, **{**values, **changes})


texts = st.text(max_size=30)
plain_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | texts,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3)
    ),
    max_leaves=8,
)
steps = st.builds(
    Step,
    id=st.text(min_size=1, max_size=30),
    event=st.sampled_from(["ready", "point", "start", "stop", "hold", "resume"]),
    time=st.datetimes(
        datetime(1980, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)
    ),
    subject=texts,
    catalog_number=st.none() | st.integers(1, 999_999_999),
    rig=texts,
    advice=st.none() | st.dictionaries(texts, plain_values, max_size=4),
    demo=st.booleans(),
)


@given(st.lists(steps, max_size=8, unique_by=lambda one: one.id))
def test_reading_back_gives_the_same_steps(found):
    found.sort(key=lambda one: one.time)
    reading = read_schedule_text(schedule_text(found))
    assert reading.schedule.steps == tuple(found)
    assert reading.problems == ()


def test_a_line_holds_the_keys_in_their_order_and_times_in_utc():
    line = schedule_text([step()])
    assert line.startswith('{"id":"80001-20290317T1900/long/start","event":"start",')
    assert '"time":"2029-03-17T18:58:21.790Z"' in line
    assert line.endswith('"demo":true}\n')


def read(*lines, end=b"\n"):
    return read_schedule_text(b"\n".join(lines) + end, "night.jsonl")


def line(**changes):
    return json_line({**step_document(step()), **changes}).rstrip(b"\n")


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (line()[:60], "night.jsonl:2: not JSON; the line is left out"),
        (b"[1, 2]", "night.jsonl:2: not an object in braces"),
        (line(id="b", time="2029-03-17T18:58:21"), "has no zone; add Z"),
        (line(id="b", time="2029-03-17T24:61:00Z"), "cannot read"),
        (line(id="b", time=5), "no time"),
        (line(id="b", event=None), "no event"),
        (b"\xff\xfe", "not JSON"),
        (b"[" * 2000, "not JSON"),
    ],
)
def test_a_bad_line_costs_that_line_only(bad, words):
    reading = read(line(), bad, line(id="c"))
    assert [entry.step.id for entry in reading.entries] == [step().id, "c"]
    (problem,) = reading.problems
    assert words in problem
    assert problem.startswith("night.jsonl:2: ")
    assert "\n" not in problem


def test_half_a_line_at_the_end_is_a_write_cut_off():
    reading = read(line(), line(id="b")[:70], end=b"")
    assert len(reading.entries) == 1
    assert "night.jsonl:2: cut off in the middle" in reading.problems[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"colour": "red"}, "field 'colour' is unknown; passed on as it stands"),
        ({"event": "dance"}, "event 'dance' is unknown; passed on as it stands"),
        ({"catalog_number": True}, "catalog_number is not a whole number; left out"),
        ({"rig": 5}, "rig is not text; left out"),
        ({"advice": "none"}, "advice is not an object; left out"),
        ({"id": 7}, "id is not text; called line-1"),
    ],
)
def test_a_step_is_kept_in_spite_of_odd_fields(changes, words):
    reading = read(line(**changes))
    (entry,) = reading.entries
    assert [words in problem for problem in reading.problems] == [True]
    kept = {k: v for k, v in changes.items() if k in ("colour", "event")}
    assert entry.document == {**entry.document, **kept}


def test_an_unknown_field_is_told_once_and_not_for_every_step():
    lines = [line(id=f"s{i}", colour="red") for i in range(50)]
    assert len(read(*lines).problems) == 1


def test_steps_out_of_order_are_put_in_order_and_told():
    later = line(id="later", time="2029-03-17T20:00:00Z")
    reading = read(later, line())
    assert [entry.step.id for entry in reading.entries] == [step().id, "later"]
    assert "out of order in 1 place" in reading.problems[0]


def test_the_same_line_twice_is_done_once_but_namesakes_are_both_kept():
    twice = read(line(), line())
    assert len(twice.entries) == 1
    assert "twice" in twice.problems[0]
    namesakes = read(line(), line(event="stop", time="2029-03-17T19:00:00Z"))
    first, second = (entry.step for entry in namesakes.entries)
    assert (first.event, second.event) == ("start", "stop")
    assert second.id == f"{first.id}~2"
    assert namesakes.entries[1].document["id"] == second.id


def test_many_problems_do_not_become_many_pages():
    reading = read(*[b"x"] * 500, line())
    assert len(reading.entries) == 1
    assert len(reading.problems) == 21
    assert "and 480 more" in reading.problems[-1]


def test_a_file_without_a_step_is_refused_and_an_empty_one_is_empty(tmp_path):
    with pytest.raises(InputError, match="not one step in it: 1: not JSON"):
        read(b"hello")
    empty = tmp_path / "empty.jsonl"
    empty.write_bytes(b"\n\n")
    assert read_schedule(empty).entries == ()
    with pytest.raises(InputError, match="No such file"):
        read_schedule(tmp_path / "nowhere.jsonl")


def test_a_schedule_as_one_document_is_read_too():
    first, second = step(), step("b", event="stop", time=START + timedelta(minutes=5))
    lines = [step_document(first), step_document(second)]
    document = json_line({"site": {}, "demo": True, "steps": [*lines, 7], "notes": []})
    reading = read_schedule_text(document, "night.json")
    assert reading.schedule.steps == (first, second)
    assert "night.json:1: not an object in braces" in reading.problems[0]
    with pytest.raises(InputError, match=r"want JSON Lines, as passes\s+schedule"):
        read_schedule_text('{"steps": []}')


def test_windows_line_ends_and_a_byte_order_mark_do_no_harm():
    content = b"\xef\xbb\xbf" + line() + b"\r\n" + line(id="b") + b"\r\n"
    assert len(read_schedule_text(content).entries) == 2


def test_times_with_other_offsets_are_taken_as_they_are():
    (entry,) = read(line(time="2029-03-17T19:58:21.790+01:00")).entries
    assert entry.step.time == START
    assert entry.step.time.utcoffset() == timedelta(0)
