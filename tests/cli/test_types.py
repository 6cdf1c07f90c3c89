"""Places, evenings and times as they are typed."""

from datetime import UTC, date, datetime

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.options import Evening, Finite, Moment, PassId, PassName, Place
from passes.options.types import angle_deg, machine_zone


def refusal(kind, text):
    with pytest.raises(click.UsageError) as caught:
        kind.convert(text, None, None)
    return caught.value.format_message()


# One minute of arc is 1/60°, one second 1/3600° (BIPM, SI brochure, table 8).
@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("37.1", 37.1),
        ("-37.1", -37.1),
        ("−37.1", -37.1),
        ("+5", 5.0),
        ("37°06′N", 37.1),
        ("37d06m00s", 37.1),
        ("37:06:36", 37.11),
        ("37 6 36 S", -37.11),
        ("37°06'36\"S", -37.11),
        ("37d06m36s", 37.11),
        ("37d06m36sS", -37.11),
        ("S37°06′36″", -37.11),
        ("37°6'36''", 37.11),
        ("-0:30", -0.5),
        ("0.5S", -0.5),
        ("12°", 12.0),
    ],
)
def test_a_latitude_may_be_written_in_any_usual_way(text, degrees):
    assert angle_deg(text, "NS") == pytest.approx(degrees, abs=1e-12)


@given(
    st.integers(0, 179), st.integers(0, 59), st.integers(0, 5999), st.sampled_from("EW")
)
def test_sexagesimal_equals_decimal(degrees, minutes, hundredths, letter):
    text = f"{degrees}:{minutes:02d}:{hundredths / 100:05.2f}{letter}"
    value = degrees + minutes / 60 + hundredths / 360_000
    want = -value if letter == "W" else value
    assert angle_deg(text, "EW") == pytest.approx(want, abs=1e-12)
    assert angle_deg(f"{want:.15f}", "EW") == pytest.approx(want, abs=1e-12)


@given(st.text(max_size=30))
def test_any_text_is_a_place_or_is_refused(text):
    try:
        place = Place().convert(text, None, None)
    except click.UsageError:
        assert refusal(Place(), text)
    else:
        assert -90 <= place.latitude_deg <= 90


def test_a_place_has_a_height_and_the_machines_zone(monkeypatch):
    monkeypatch.setattr("passes.options.types.machine_zone", lambda: "Asia/Tokyo")
    place = Place().convert("37.1,-3.4,1900", None, None)
    assert (place.latitude_deg, place.longitude_deg) == (37.1, -3.4)
    assert (place.height_m, place.zone, place.name) == (1900.0, "Asia/Tokyo", "")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("91,0", "latitude 91° is impossible"),
        ("0,361", "longitude 361° is impossible"),
        ("0,0,20000", "height 20000 m is impossible"),
        ("1", "want LAT,LON"),
        ("37,1,-3,4", "want LAT,LON"),
        ("nan,1", "cannot read 'nan'"),
        ("3W,4N", "stands where E/W belongs"),
        ("-37S,1", "both a sign and a letter"),
        ("N37S,1", "two letters"),
        ("37°06′36″s,1", "cannot read"),
        ("37:60,1", "60 minutes"),
        ("37:00:60,1", "60 minutes or seconds"),
        ("1,2,high", "as a height"),
        ("", "want LAT,LON"),
    ],
)
def test_an_impossible_place_is_refused(text, why):
    assert why in refusal(Place(), text)


def test_a_machine_without_a_usable_zone_is_on_utc(monkeypatch):
    import tzlocal

    monkeypatch.setattr(tzlocal, "get_localzone_name", lambda: "Nowhere/Land")
    assert machine_zone() == "UTC"
    monkeypatch.setattr(tzlocal, "get_localzone_name", lambda: None)
    assert machine_zone() == "UTC"
    monkeypatch.setattr(tzlocal, "get_localzone_name", lambda: "Europe/Rome")
    assert machine_zone() == "Europe/Rome"


def test_an_evening_is_a_plain_date():
    assert Evening().convert("2025-09-14", None, None) == date(2025, 9, 14)


@pytest.mark.parametrize("text", ["20250914", "2025-09-31", "14.9.2025", "today", ""])
def test_no_other_evening_is_understood(text):
    assert refusal(Evening(), text).count("\n") == 0


# The same instant in the forms of ISO 8601.
@pytest.mark.parametrize(
    "text",
    [
        "2025-09-14T20:00Z",
        "2025-09-14T22:00:00+02:00",
        "2025-09-14 20:00:00.000Z",
        "20250914T200000Z",
        " 2025-09-14T16:30:00-03:30 ",
    ],
)
def test_a_time_needs_its_zone(text):
    want = datetime(2025, 9, 14, 20, tzinfo=UTC)
    assert Moment().convert(text, None, None) == want


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("2025-09-14T20:00", "no zone; add Z"),
        ("2025-09-14", "no zone; add Z"),
        ("2025-09-14T24:00Z", "hour must be in"),
        ("2025-09-14T23:59:60Z", "second must be in"),
        ("half past eight", "Invalid isoformat"),
        ("0001-01-01T00:00+14:00", "out of range"),
    ],
)
def test_a_time_without_a_zone_or_outside_the_calendar_is_refused(text, why):
    assert why in refusal(Moment(), text)


def test_a_pass_is_named_by_number_and_time():
    want = PassId(80001, datetime(2025, 9, 14, 21, 20, tzinfo=UTC))
    assert PassName().convert("80001-20250914T2120", None, None) == want


@pytest.mark.parametrize("text", ["80001", "8-20250931T2120", "x-20250914T2120", ""])
def test_no_other_pass_id_is_understood(text):
    assert refusal(PassName(), text)


@pytest.mark.parametrize("text", ["nan", "inf", "-1", "91", "high", ""])
def test_a_number_is_finite_and_within_its_limits(text):
    assert refusal(Finite(0.0, 89.0, "°"), text)


def test_a_number_within_its_limits_is_taken():
    assert Finite(-30.0, 30.0).convert("-2.5", None, None) == -2.5
