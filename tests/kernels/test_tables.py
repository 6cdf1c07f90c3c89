"""Text for people: times no finer than they are known, columns that fit, safe words."""

import io
from datetime import UTC, datetime, timedelta, timezone
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.model import Flags, Span
from passes.tables import (
    Column,
    Screen,
    caveats,
    clock,
    compass,
    labelled,
    listing,
    magnitude,
    number,
    offset,
    paragraph,
    plain,
    seconds,
    span,
    step_s,
    zone_of,
)
from passes.tables.layout import cells, fitted

TIME = datetime(2025, 9, 14, 21, 20, 5, 254_900, tzinfo=UTC)


@pytest.mark.parametrize("flag", list(Flags))
def test_every_flag_has_words_for_people(flag):
    (words,) = caveats(flag.names)
    assert words.replace(" ", "_") != flag.names[0]


# --- text ------------------------------------------------------------------------


@given(st.text())
def test_no_text_reaches_a_terminal_with_anything_but_signs_and_spaces(text):
    safe = plain(text)
    assert len(safe) <= 200
    assert "\n" not in safe
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 for c in safe)
    assert not set(safe) & set("\u200b\u200e\u202e\u2028\u2066\ufeff")


# Escape sequences: ECMA-48; direction marks: Unicode UAX #9.
@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("LAMP 1", "LAMP 1"),
        (" a \t b\nc ", "a b c"),
        ("\x1b[31mred", "�[31mred"),
        ("\x9b2J", "�2J"),
        ("abc\u202edcba", "abc�dcba"),
        ("a\x00b", "a�b"),
        ("Ångström ★ 星", "Ångström ★ 星"),
        ("\ud800", "�"),
    ],
)
def test_what_could_harm_is_shown_as_a_mark(text, safe):
    assert plain(text) == safe


def test_an_endless_name_is_cut():
    assert plain("x" * 10_000) == "x" * 199 + "…"
    assert plain("x" * 10_000, 12) == "x" * 11 + "…"


@pytest.mark.parametrize(
    ("sigma", "step"),
    [
        *((0.2, 1.0), (1.0, 1.0), (9.0, 1.0), (10.0, 10.0), (59.0, 10.0)),
        *((60.0, 60.0), (1e4, 60.0), (nan, 60.0)),
    ],
)
def test_a_time_is_shown_as_finely_as_its_sigma_deserves(sigma, step):
    assert step_s(sigma) == step


def test_a_finer_table_may_ask_for_fractions():
    assert step_s(0.02, finest_s=0.001) == 0.01
    assert step_s(0.0, finest_s=0.001) == 0.001


@pytest.mark.parametrize(
    ("step", "text"),
    [
        (0.001, "23:20:05.255"),
        (0.01, "23:20:05.25"),
        (0.1, "23:20:05.3"),
        (1.0, "23:20:05"),
        (10.0, "23:20:10"),
        (60.0, "23:20"),
    ],
)
def test_local_times_are_rounded_not_cut(step, text):
    assert clock(TIME, timezone(timedelta(hours=2)), step) == text


def test_rounding_carries_into_the_next_day():
    late = datetime(2025, 9, 14, 23, 59, 59, 700_000, tzinfo=UTC)
    assert clock(late, UTC, 1.0) == "00:00:00"


@given(
    st.datetimes(datetime(2000, 1, 1), datetime(2050, 1, 1)),
    st.sampled_from([1.0, 10.0]),
)
def test_a_shown_time_is_within_half_a_step(time, step):
    shown = datetime.strptime(clock(time.replace(tzinfo=UTC), UTC, step), "%H:%M:%S")
    since = timedelta(hours=time.hour, minutes=time.minute, seconds=time.second)
    since += timedelta(microseconds=time.microsecond)
    away = (shown - datetime(1900, 1, 1) - since).total_seconds()
    assert abs((away + 43200) % 86400 - 43200) <= step / 2


def test_a_span_is_from_when_to_when():
    assert span(Span(start=TIME, end=TIME + timedelta(minutes=4)), UTC) == "21:20–21:24"
    assert span(None, UTC) == "–"


def test_a_span_may_be_told_so_that_nothing_of_it_is_left_out():
    short = Span(start=TIME - timedelta(seconds=10), end=TIME)
    assert span(short, UTC) == "21:20–21:20"
    assert span(short, UTC, outward=True) == "21:19–21:21"


@pytest.mark.parametrize(
    ("sigma", "text"),
    [
        *((0.03, "±0.03 s"), (0.44, "±0.4 s"), (0.96, "±1 s"), (12.3, "±12 s")),
        *((99.4, "±99 s"), (150.0, "±2 min"), (nan, ""), (inf, "")),
    ],
)
def test_a_sigma_is_told_in_few_digits(sigma, text):
    assert seconds(sigma) == text


def test_a_sigma_finer_than_the_time_beside_it_is_not_told_finer():
    assert seconds(0.03, 0.1) == "±0.1 s"


# The sixteen points, 22.5° apart, each named for the nearest (common practice).
@pytest.mark.parametrize(
    ("azimuth", "point"),
    [
        *((0, "N"), (11.2, "N"), (11.3, "NNE"), (90, "E"), (225, "SW")),
        *((348.8, "N"), (360, "N"), (nan, "–")),
    ],
)
def test_directions_are_the_nearest_point(azimuth, point):
    assert compass(azimuth) == point


def test_the_unknown_is_a_dash():
    assert number(nan) == number(inf) == magnitude(nan, 1.0) == "–"
    assert number(412.4, 0, " km") == "412 km"
    assert magnitude(-2.14, 0.38) == "-2.1±0.4"
    assert magnitude(-2.14, nan) == "-2.1"


def test_zones_are_named_and_their_distance_from_utc_told():
    madrid = zone_of("Europe/Madrid")
    assert offset(TIME, madrid) == "UTC+2"
    assert offset(TIME, UTC) == "UTC"
    assert offset(TIME, timezone(-timedelta(hours=3, minutes=30))) == "UTC-3:30"
    assert zone_of("No/Where") is UTC
    assert zone_of("../x") is UTC


# --- layout ----------------------------------------------------------------------

COLUMNS = (
    Column("Object", elastic=True),
    Column("Best"),
    Column("Age", "right", drop=1),
    Column("Range", "right", drop=2),
)
ROWS = [
    ["A LAMP WITH A RATHER LONG NAME", "21:20:05", "0.6 d", "412 km"],
    ["B", "21:44:10", "12.1 d", "1 210 km"],
]


@pytest.mark.parametrize("width", [200, 80, 60, 45, 36, 30, 24])
def test_a_table_fits_its_screen_and_what_matters_stays(width):
    lines = listing(COLUMNS, ROWS, Screen(width=width))
    assert len(lines) == 3
    assert max(map(cells, lines)) <= width
    assert "Best" in lines[0]
    assert "21:20:05" in lines[1]


def test_a_wide_screen_shows_every_column_and_whole_names():
    heading, first, _ = listing(COLUMNS, ROWS, Screen(width=120))
    assert heading.split() == ["Object", "Best", "Age", "Range"]
    assert first.startswith("A LAMP WITH A RATHER LONG NAME  21:20:05")


def test_on_a_narrow_screen_the_least_needed_column_goes_first():
    heading, first, _ = listing(COLUMNS, ROWS, Screen(width=32))
    assert heading.split() == ["Object", "Best", "Age"]
    assert first.startswith("A LAMP WITH A…  21:20:05")


def test_figures_stand_below_each_other():
    _, first, second = listing(COLUMNS, ROWS, Screen(width=120))
    assert len(first) == len(second)
    assert first.endswith("  412 km")


@given(st.lists(st.text(max_size=40), min_size=1, max_size=5), st.integers(40, 200))
def test_wide_signs_are_counted_as_two_columns(names, width):
    rows = [[plain(name), "21:20:05", "0.6 d", "412 km"] for name in names]
    lines = listing(COLUMNS, rows, Screen(width=width))
    assert max(map(cells, lines)) <= width
    starts = {cells(line[: line.index("21:20:05")]) for line in lines[1:]}
    assert len(starts) == 1


@given(st.text(max_size=20), st.integers(1, 30))
def test_fitted_text_has_exactly_the_width(text, width):
    assert cells(fitted(plain(text), width)) == width
    assert cells(fitted(plain(text), width, "right")) == width


def test_sentences_and_labels_are_folded_to_the_screen():
    lines = labelled([("Site", "x"), ("Searched", "word " * 40)], Screen(width=50))
    assert lines[0] == "Site      x"
    assert all(line.startswith(" " * 10) for line in lines[2:])
    assert max(map(len, lines)) <= 50
    assert paragraph("", Screen()) == [""]


def test_a_paragraph_keeps_options_and_dates_whole():
    lines = paragraph("where it is higher, try (--height-at) of 2029-03-17", Screen(24))
    assert lines == ["where it is higher, try", "(--height-at) of", "2029-03-17"]


# --- screens ---------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def terminal(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "90")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return Terminal()


def test_a_terminal_has_its_width_and_styles(terminal):
    assert Screen.of(terminal) == Screen(width=90, styled=True)


def test_a_pipe_has_no_styles(terminal):
    assert not Screen.of(io.StringIO()).styled
    assert not Screen.of(None).styled


def test_red_is_on_black_over_the_whole_line(terminal):
    screen = Screen.of(terminal, "red")
    assert screen.finish(["ab"]) == f"\x1b[31;40mab{' ' * 88}\x1b[0m\n"
    assert screen.bold("x") == "x"


def test_no_colour_is_honoured_but_a_theme_asked_for_wins(terminal, monkeypatch):
    # no-color.org: command-line arguments override the variable.
    monkeypatch.setenv("NO_COLOR", "1")
    assert not Screen.of(terminal).styled
    assert Screen.of(terminal, "red").styled
    monkeypatch.setenv("TERM", "dumb")
    assert not Screen.of(terminal, "red").styled


def test_headings_are_bold_where_styles_are_understood():
    plainly = listing(COLUMNS, ROWS, Screen())
    styled = listing(COLUMNS, ROWS, Screen(styled=True))
    assert styled[0] == f"\x1b[1m{plainly[0]}\x1b[0m"
    assert styled[1:] == plainly[1:]
