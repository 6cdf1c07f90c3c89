"""iCalendar files of passes, read back by an independent parser (vobject)."""

from datetime import UTC, datetime, timedelta

import pytest
import vobject

import passes.testing as kit
from passes.contributions import Answer
from passes.errors import InputError
from passes.model import Span
from passes_plugins import calendar_file

WINDOW = Span(
    start=datetime(2029, 3, 17, 18, tzinfo=UTC),
    end=datetime(2029, 3, 18, 6, tzinfo=UTC),
)


def answer(passages, **changes):
    values = {"kind": "passes", "items": passages, "site": kit.site(), "demo": True}
    values |= {"window": WINDOW, "document": {}, **changes}
    return Answer(**values)


def events(text):
    calendar = vobject.readOne(text)
    assert calendar.version.value == "2.0"
    assert calendar.prodid.value.startswith("-//passes//")
    return list(calendar.vevent_list)


def test_every_pass_is_an_event_with_its_times_and_alarms():
    passage = kit.passage()
    (event,) = events(calendar_file.export(answer([passage])))
    span = passage.visible
    start, end = (span[0].start, span[-1].end) if span else (passage.start, passage.end)
    assert event.dtstart.value == start.replace(microsecond=0)
    assert event.dtend.value == end.replace(microsecond=0)
    triggers = [alarm.trigger.value for alarm in event.valarm_list]
    assert triggers == [timedelta(minutes=-15), timedelta(minutes=-2)]
    assert {alarm.action.value for alarm in event.valarm_list} == {"DISPLAY"}
    assert passage.id in event.description.value
    assert "invented" in event.description.value


def test_lines_end_in_crlf_and_none_is_longer_than_75_octets():
    # RFC 5545, section 3.1
    long = kit.passage(name="Ä" * 200)
    text = calendar_file.export(answer([long])).encode()
    assert text.endswith(b"\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75


def test_fresher_elements_keep_the_uid_and_another_site_does_not():
    passage = kit.passage()
    later = kit.passage(start=passage.start + timedelta(seconds=7), timing_sigma_s=0.01)
    first, second = (
        events(calendar_file.export(answer([one])))[0].uid.value
        for one in (passage, later)
    )
    assert first == second
    elsewhere = kit.site(latitude_deg=-33.0)
    other = events(calendar_file.export(answer([passage], site=elsewhere)))[0].uid.value
    assert other != first


@pytest.mark.parametrize(
    "name",
    [
        "A\r\nEND:VEVENT\r\nBEGIN:VEVENT",
        "semi;colon, comma \\ back\\nslash",
        "\x1b[31mred\x00",
        "<img src=x onerror=alert(1)>",
        "\u202emirror",
        "x" * 10_000,
    ],
)
def test_a_hostile_name_stays_one_harmless_summary(name):
    (event,) = events(calendar_file.export(answer([kit.passage(name=name)])))
    summary = event.summary.value
    assert len(event.contents["summary"]) == 1
    assert not any(ord(c) < 32 or c in "\u202e\x1b" for c in summary)
    assert len(summary) < 120


def test_alarms_can_be_set_and_nonsense_is_refused():
    settings = {"alarm_minutes": [30]}
    (event,) = events(calendar_file.export(answer([kit.passage()], settings=settings)))
    assert [a.trigger.value for a in event.valarm_list] == [timedelta(minutes=-30)]
    for bad in ("soon", [True], [-5], [10**9], 15):
        with pytest.raises(InputError, match="alarm_minutes"):
            calendar_file.export(
                answer([kit.passage()], settings={"alarm_minutes": bad})
            )


def test_no_pass_is_an_empty_calendar():
    assert "VEVENT" not in calendar_file.export(answer([]))


def test_the_kit_finds_nothing_wrong():
    assert kit.check_plugin(calendar_file).findings == ()
