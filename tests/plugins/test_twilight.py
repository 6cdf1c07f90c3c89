"""The reporter of the night's stages, from a night alone and through the sky."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from tolerances import PRINTED_MINUTE_S

from passes import testing as kit
from passes.model import Night, Report, Session, Site, Span
from passes.sky import night as night_of
from passes_plugins import twilight


def report(night: Night | None) -> Report:
    """The report on a session with that night alone."""
    session = Session(night=night)
    return twilight.report(kit.session_briefing(session=session, crossings={}))


def stages(night: Night | None) -> dict[str, datetime]:
    """When each stage begins, in order of time."""
    return {str(e.details["stage"]): e.best for e in report(night).events}


def test_the_stages_of_a_night_in_order() -> None:
    night = kit.night()
    assert list(stages(night)) == [
        "sunset",
        "civil-dusk",
        "nautical-dusk",
        "dark",
        "moonrise",
        "dawn",
        "nautical-dawn",
        "civil-dawn",
        "sunrise",
    ]
    assert night.dark is not None
    assert stages(night)["dark"] == night.dark.start
    assert stages(night)["sunrise"] == night.window.end


# Bluffton, Ohio, 40.8939 N 83.8917 W, 2020-04-19, EDT, minutes printed without the
# seconds: the twilight example in skyfield's documentation (examples.rst).
PRINTED = {
    "dawn": "05:09",
    "nautical-dawn": "05:46",
    "civil-dawn": "06:20",
    "sunrise": "06:49",
    "sunset": "20:20",
    "civil-dusk": "20:48",
    "nautical-dusk": "21:23",
    "dark": "22:00",
}


def test_published_twilight_of_one_day() -> None:
    zone = "America/New_York"
    site = Site(latitude_deg=40.8939, longitude_deg=-83.8917, zone=zone)
    day = date(2020, 4, 19)
    before, after = (stages(night_of(site, d)) for d in (day - timedelta(days=1), day))
    for stage, printed in PRINTED.items():
        when = (after if "dusk" in stage or stage in ("sunset", "dark") else before)[
            stage
        ].astimezone(ZoneInfo(zone))
        assert (f"{when:%H:%M}", when.date()) == (printed, day), stage


# Rise and set to the minute: US Naval Observatory, table of Atlanta 33°45'36" N
# 84°24'36" W for 2007, EST, as kept among the tests of PyEphem (riset_sun.txt).
@pytest.mark.parametrize(
    ("day", "rise", "set_"),
    [
        ((2007, 1, 1), "07:43", "17:40"),
        ((2007, 6, 11), "05:26", "19:48"),
        ((2007, 12, 1), "07:24", "17:29"),
    ],
)
def test_published_sunrise_and_sunset(
    day: tuple[int, int, int], rise: str, set_: str
) -> None:
    zone = ZoneInfo("Etc/GMT+5")
    site = Site(latitude_deg=33.76, longitude_deg=-84.41, zone="Etc/GMT+5")
    evening = date(*day)
    found = (
        stages(night_of(site, evening - timedelta(days=1)))["sunrise"],
        stages(night_of(site, evening))["sunset"],
    )
    for when, printed in zip(found, (rise, set_), strict=True):
        want = datetime.combine(
            evening, datetime.strptime(printed, "%H:%M").time(), tzinfo=zone
        )
        # The table differs from DE421 by up to 4 s beside its rounding.
        assert abs((when - want).total_seconds()) < PRINTED_MINUTE_S + 4.0


def test_where_the_sun_stays_up_nothing_sets() -> None:
    """Utqiaġvik, 2023-06-21: the Sun is never lower than 4.7° (skyfield's almanac)."""
    site = Site(latitude_deg=71.2906, longitude_deg=-156.7886, zone="Etc/GMT+10")
    night = night_of(site, date(2023, 6, 21))
    assert not {"sunset", "sunrise", "civil-dusk"} & set(stages(night))
    assert report(night).summary["dark_h"] == 0.0
    assert night.note in [note.text for note in report(night).notes]


def test_where_the_sun_stays_down_twilight_comes_all_the_same() -> None:
    """Harra, Sweden, 2022-12-21: no sunrise (skyfield's almanac)."""
    site = Site(latitude_deg=67.4066, longitude_deg=20.0997, zone="Europe/Stockholm")
    found = stages(night_of(site, date(2022, 12, 21)))
    assert not {"sunset", "sunrise"} & set(found)
    assert {"civil-dusk", "dark", "dawn", "civil-dawn"} <= set(found)


def test_the_moon_that_is_up_at_the_edges_neither_rises_nor_sets() -> None:
    night = kit.night()
    all_night = kit.night(moon_up=(night.window,))
    assert not {"moonrise", "moonset"} & set(stages(all_night))
    assert report(all_night).summary["dark_moonless_h"] == 0.0
    assert "moonset" in stages(
        kit.night(moon_up=(Span(start=night.window.start, end=night.civil.end),))  # type: ignore[union-attr]
    )


def test_a_night_without_a_moon_says_so() -> None:
    dark = report(kit.night(moon_up=()))
    assert "stays below the horizon" in dark.notes[0].text
    assert dark.summary["dark_moonless_h"] == dark.summary["dark_h"] == 9.6


def test_hours_of_darkness_without_the_moon() -> None:
    # Dark from minute 96 to 672 of the night, the Moon up from 412 on.
    assert report(kit.night()).summary["dark_moonless_h"] == (412 - 96) / 60


def test_events_are_ready_for_a_schedule_and_compete_for_nothing() -> None:
    found = report(kit.night())
    assert {event.kind for event in found.events} == {"twilight"}
    assert {event.weight for event in found.events} == {0.0}
    assert {event.subject for event in found.events} == {"Sun", "Moon"}
    assert len({event.id for event in found.events}) == len(found.events)
    assert found.events[0].id == "sunset-20311012T0233"
    assert [row["time"] for row in found.rows] == [e.best for e in found.events]


def test_a_session_without_a_night_has_a_sentence() -> None:
    found = report(None)
    assert (found.kind, found.events, found.rows) == ("twilight", (), ())
    assert "names no night" in found.notes[0].text
