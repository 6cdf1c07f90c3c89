"""``passes tonight``: the page a person reads, and the forms machines read."""

import json
from dataclasses import replace
from types import SimpleNamespace

import pytest

from passes.elements import Skipped
from passes.model import Note
from passes.tables import Screen, tonight_page
from passes.tables.layout import cells


@pytest.fixture
def shown(run, evening):
    """Run ``passes tonight`` on the invented evening."""

    def show(*args):
        services = SimpleNamespace(tonight=lambda **_: evening)
        result = run("tonight", *args, obj=services)
        assert result.exit_code == 0, result.output
        return result

    return show


def test_the_page_says_where_when_and_what_in_local_time(shown):
    said = shown().stdout
    lines = said.splitlines()
    assert lines[0] == "Site      ridge (37.1000° N, 3.4000° W, 0 m)"
    assert lines[1] == "Evening   Sunday 14 September 2025"
    assert lines[2] == "Dark      22:10–01:30; Sun down 21:00–01:59"
    assert lines[3] == "Moon      47 % lit, up 00:50–01:59"
    assert "1 station, 3 payloads, 1 rocket body" in said
    assert "0.6 days old" in said
    assert "Times are Europe/Madrid (UTC+2)" in said
    assert "- an invented note" in said


def test_a_row_has_span_best_moment_magnitude_and_what_ends_it(shown):
    (row,) = [x for x in shown().stdout.splitlines() if x.startswith("TEST STATION")]
    for part in ("22:18–22:23", "22:20:05", "±3s", "54° WNW", "-2.1±0.4", "shadow"):
        assert part in row


def test_a_train_is_one_row_and_the_unlit_stand_in_brackets(shown):
    said = shown().stdout
    assert "3 × TEST TRAIN" in said
    assert "fly in file" in said
    assert "TEST TRAIN 2" not in said
    assert "(22:16–22:24)" in said
    assert "unlit" in said
    assert "In brackets: up, but not visible" in " ".join(said.split())


def test_times_are_no_finer_than_known(evening):
    row = evening.rows[0]
    row.passage = replace(row.passage, timing_sigma_s=200.0)
    page = tonight_page(evening, Screen(width=200))
    (line,) = [x for x in page.splitlines() if x.startswith("TEST STATION")]
    assert "22:20 " in line
    assert "22:20:05" not in line
    assert "±3min" in line


@pytest.mark.parametrize("width", [40, 60, 80, 100, 140, 200])
def test_the_page_fits_its_screen(evening, width):
    page = tonight_page(evening, Screen(width=width))
    assert max(cells(line) for line in page.splitlines()) <= width


def test_eighty_columns_hold_what_the_evening_needs(evening):
    page = tonight_page(evening, Screen(width=80))
    (heading,) = [x for x in page.splitlines() if x.startswith("Object")]
    assert "In view" in heading
    assert heading.split()[-6:] == ["±", "Where", "Mag", "Ends", "in", "Age"]


def test_a_wide_screen_shows_more(evening):
    page = tonight_page(evening, Screen(width=200))
    for word in ("Highest", "Range", "Speed", "512 km", "0.82°/s"):
        assert word in page


def test_an_empty_evening_says_what_was_searched(evening, shown):
    evening.rows = ()
    evening.notes = (
        Note(text="nothing to see: 9 passes, and 7 are never in sunlight"),
    )
    said = shown().stdout
    assert "Nothing to go outside for." in said
    assert "5 objects" in said
    assert "7 are never in sunlight" in said


def test_hostile_names_stay_harmless(evening, shown):
    evil = "\x1b[2J\u202e=HYPERLINK()\n" + "x" * 10_000
    row = evening.rows[0]
    row.passage = replace(row.passage, name=evil)
    said = shown().stdout
    assert "\x1b" not in said
    assert "\u202e" not in said
    assert max(map(cells, said.splitlines())) <= 80


def test_the_demo_says_so_first(evening, shown):
    evening.demo = True
    assert shown().stdout.splitlines()[0].startswith("Demo: ")
    assert shown("--format", "csv").stdout.splitlines()[0].endswith("demo")


def test_polar_nights_get_their_sentence(evening, shown):
    note = "the Sun does not set"
    evening.night = replace(evening.night, dark=None, note=note, moon_up=())
    evening.notes = (Note(text=note),)
    said = shown().stdout
    assert said.count(note) == 1
    assert "below the horizon all night" in said


def test_bad_records_are_told_ten_at_a_time(evening, shown):
    bad = [
        Skipped(catalog_number=None, name="", reason="checksum", where=f"a.tle:{i}")
        for i in range(25)
    ]
    evening.searched.rejected = tuple(bad)
    told = shown().stderr.splitlines()
    assert told[0] == "passes: a.tle:0: checksum"
    assert len(told) == 11
    assert told[-1] == "passes: and 15 more (--verbose: all)"
    assert len(shown("--verbose").stderr.splitlines()) == 25


def test_machines_get_the_engines_own_document_and_rows(shown):
    assert json.loads(shown("--json").stdout)["passes"] == ["stand-in"]
    assert shown("--format", "csv").stdout == (
        "id,magnitude\n80001-20250914T2020,-2.14\n"
    )


def test_an_empty_csv_still_has_its_heading(evening, shown):
    evening.records = lambda: iter(())
    heading = shown("--format", "csv").stdout.strip().split(",")
    assert heading[:3] == ["id", "catalog_number", "name"]
    assert heading[-1] == "demo"
    assert len(heading) == len(set(heading))
