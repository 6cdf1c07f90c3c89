"""The night on one page: what stands on it, and that it is harmless and whole."""

from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise

import pytest
from click.testing import CliRunner

from passes.cli import cli
from passes.model import Event, Note, Report
from passes.testing import FakeServices, sightings

EVIL = "<img src=x onerror=alert(1)>"


def sheet(*args, obj=None):
    return CliRunner().invoke(cli, ["sheet", *args], obj=obj, prog_name="passes")


class Page(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.given, self.ids, self.said = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.given += [(tag, name, value) for name, value in attrs]
        self.ids += [value for name, value in attrs if name == "id"]

    def handle_data(self, data):
        self.said.append(data)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "night.html"
    result = sheet("--demo", "--output", str(path))
    assert result.exit_code == 0, result.output
    return path.read_text(encoding="utf-8")


def test_everything_that_is_asked_of_the_page_is_on_it(demo):
    text = " ".join(Page(demo).said)
    for word in (
        *("quillmoor", "Dark", "Moon", "Elements", "payloads", "Demo: the sites"),
        *("Best of the night", "DEMO STATION", "Passes worth it", "Streaks"),
        *("Transits within 7 days", "In order of time", "Before it is dark"),
        *("Take care", "certified full-aperture", "Europe/Madrid (UTC+1)"),
    ):
        assert word in text, word


def test_it_is_under_two_megabytes(demo):
    assert len(demo.encode()) < 2_000_000


def test_nothing_in_it_reaches_outside(demo):
    page = Page(demo)
    for tag in ("script", "link", "img", "iframe", "object", "a", "form"):
        assert tag not in page.tags
    for tag, name, value in page.given:
        if name in ("src", "href", "xlink:href", "action", "data", "poster"):
            assert (value or "").startswith("#"), (tag, name, value)
        assert not name.startswith("on")
    assert "@import" not in demo
    assert "url(http" not in demo


def test_ids_are_unique_and_what_is_referred_to_is_there(demo):
    page = Page(demo)
    assert len(page.ids) == len(set(page.ids))
    for _, name, value in page.given:
        if name in ("xlink:href", "href", "aria-labelledby"):
            assert value.lstrip("#") in page.ids


def test_pictures_have_words_for_those_who_do_not_see_them(demo):
    labels = [
        v for tag, name, v in Page(demo).given if (tag, name) == ("svg", "aria-label")
    ]
    assert len(labels) == 2
    assert "DEMO STATION" in labels[0]


def test_headings_go_down_step_by_step(demo):
    levels = [int(tag[1]) for tag in Page(demo).tags if tag in ("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_names_from_outside_are_text():
    passage = replace(sightings.passage(), name=EVIL)
    notes = (Note(text=EVIL, severity="warning"), Note(text="</style><script>"))
    report = Report(kind=EVIL, reporter="zoo", notes=notes, summary={EVIL: EVIL})
    services = FakeServices(canned_passes=(passage,), canned_reports=(report,))
    result = sheet(obj=services)
    assert result.exit_code == 0, result.output
    page = Page(result.stdout)
    assert "img" not in page.tags
    assert "script" not in page.tags
    assert EVIL in " ".join(page.said)


def test_reports_of_outsiders_appear_unasked():
    event = Event(
        id="x",
        kind="owl",
        subject="Owl over the ridge",
        start=sightings.BEST,
        best=sightings.BEST,
        end=sightings.BEST,
    )
    report = Report(
        kind="owl", reporter="zoo", events=(event,), summary={"owls_seen": 2}
    )
    result = sheet("--transit-days", "0", obj=FakeServices(canned_reports=(report,)))
    text = " ".join(Page(result.stdout).said)
    assert "Owl over the ridge" in text
    assert "Owls seen" in text


def test_what_is_missing_is_absent():
    services = FakeServices(canned_passes=(), canned_reports=())
    result = sheet("--transit-days", "0", obj=services)
    assert result.exit_code == 0, result.output
    text = " ".join(Page(result.stdout).said)
    assert "No pass is worth going outside for." in text
    for word in ("Best of the night", "Transits", "Streaks", "What is missing"):
        assert word not in text


def test_without_a_plan_nothing_is_said_of_subs():
    """The demo's plan is for its northern site, so its southern one has none."""
    result = sheet("--demo", "--site", "emberpan", "--transit-days", "0")
    assert result.exit_code == 0, result.output
    text = " ".join(Page(result.stdout).said)
    assert "emberpan" in text
    for word in ("Streaks", "Placing", "subs"):
        assert word not in text


def test_a_night_without_darkness_has_a_page():
    elements = str(files("passes") / "data" / "demo" / "elements.tle")
    result = sheet("--at", "78,15,10", "--date", "2029-06-20", "--elements", elements)
    assert result.exit_code == 0, result.output
    text = " ".join(Page(result.stdout).said)
    assert "no full darkness" in text
    assert "Sun down" not in text


def test_a_schedule_given_takes_the_place_of_the_times(tmp_path):
    path = tmp_path / "night.jsonl"
    made = CliRunner().invoke(cli, ["schedule", "--demo", "--output", str(path)])
    assert made.exit_code == 0, made.output
    result = sheet("--demo", "--schedule", str(path), "--transit-days", "0")
    assert result.exit_code == 0, result.output
    text = " ".join(Page(result.stdout).said)
    assert "point DEMO STATION" in text
    assert "In order of time" not in text


@pytest.mark.parametrize("name", ["night.pdf", "nowhere/night.html"])
def test_what_cannot_be_written_is_refused_before_any_work(tmp_path, name, monkeypatch):
    def never(*_, **__):
        raise AssertionError("worked before it was refused")

    monkeypatch.setattr("passes.forecast.build", never)
    result = sheet("--demo", "--output", str(tmp_path / name))
    assert result.exit_code != 0
    assert len(result.stderr.strip().splitlines()) <= 2
    assert "night" in result.stderr
