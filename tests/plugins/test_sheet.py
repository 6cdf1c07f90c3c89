"""The night on one page: what stands on it, and that it is harmless and whole."""

from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise

import pytest
from click.testing import CliRunner

from passes.cli import cli
from passes.model import Event, Note, Picture, Report, Span
from passes.testing import FakeServices, sightings
from passes_plugins.sheet import wording

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
        *("Transits within 7 days", "Schedule", "Before it is dark"),
        *("Take care", "certified full-aperture", "Europe/Madrid (UTC+1)"),
    ):
        assert word in text, word


def test_every_caution_stands_there_once(demo):
    text = " ".join(Page(demo).said)
    for words in (
        *("Never point any optic", "people and cables clear of it"),
        *("Drive rested", "On a vehicle: parked", "No laser pointer"),
    ):
        assert text.count(words) == 1, words


def test_seconds_at_either_end_of_what_is_seen_are_within_its_minutes():
    day = datetime(2029, 3, 17, 18, tzinfo=UTC)
    seen = Span(
        start=day.replace(minute=30, second=50), end=day.replace(minute=37, second=8)
    )
    passage = replace(sightings.passage(), visible=(seen,))
    assert wording.row(passage, UTC)["seen"] == "18:30–18:38"


def test_it_is_under_two_megabytes(demo):
    assert len(demo.encode()) < 2_000_000


def test_nothing_in_it_reaches_outside(demo):
    page = Page(demo)
    for tag in ("script", "link", "img", "iframe", "object", "form"):
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
    assert len(labels) == Page(demo).tags.count("svg")
    assert all(len(one) > 20 for one in labels)
    assert "DEMO STATION" in labels[0]


def pictured(page):
    """The first word of what each picture on a page is said to be."""
    named = [
        v for tag, name, v in Page(page).given if (tag, name) == ("svg", "aria-label")
    ]
    starts = {
        "The sky": "sky",
        "The night": "night",
        "The disc": "disc",
        "The strip": "strip",
        "The frame": "frame",
    }
    kinds = []
    for one in named:
        kind = next((k for start, k in starts.items() if one.startswith(start)), "")
        kind = kind or ("session" if "subs by verdict" in one else "pass")
        kinds.append(kind)
    return kinds


def test_pictures_serve_the_night(demo):
    kinds = pictured(demo)
    assert kinds.count("pass") == 3
    assert kinds.count("sky") == kinds.count("night") == 1
    assert kinds.count("session") == kinds.count("frame") == 1
    assert kinds.count("disc") == kinds.count("strip") == 3


def test_with_a_rig_its_shutter_is_drawn_and_its_chip():
    result = sheet("--demo", "--rig", "long", "--limit", "3", "--cards", "1")
    assert result.exit_code == 0, result.output
    text = " ".join(Page(result.stdout).said)
    assert "standing still" in text
    assert "chip of long" in text


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


def test_a_schedule_of_outsiders_is_text_and_may_be_nonsense():
    row = {
        "id": EVIL,
        "event": "start",
        "time": "2029-03-17T20:00:00Z",
        "subject": EVIL,
        "rig": EVIL,
        "advice": {"exposure_s": float("inf"), "gain": EVIL, "words": 7},
    }
    lost = ({"id": "x"}, {"id": object()})
    cases = (
        ((row,), "11:00:00"),
        (lost[:1], "not one step"),
        (lost, "of reporter zoo"),
    )
    for rows, told in cases:
        report = Report(kind="schedule", reporter="zoo", rows=rows)
        services = FakeServices(canned_reports=(report,))
        result = sheet("--transit-days", "0", obj=services)
        assert result.exit_code == 0, result.output
        page = Page(result.stdout)
        assert "img" not in page.tags
        assert told in " ".join(page.said)


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
    assert "From the schedule that was given." in text
    assert "long: ready 19:53:22, point 19:56:52, record 19:58:22–20:03:18" in text
    assert "In order of time" not in text


def test_the_schedule_is_there_unasked(demo):
    text = " ".join(Page(demo).said)
    assert "As passes schedule makes it" in text
    assert "gives way to" in text
    assert "120 subs of M 81 field" in text
    assert text.count("sub-2029") == 0


def test_without_a_schedule_the_page_says_what_it_shows():
    result = sheet("--transit-days", "0", obj=FakeServices())
    text = " ".join(Page(result.stdout).said)
    assert "In order of time" in text
    assert "No schedule: what was found, as it happens" in text


def test_how_the_list_was_cut_is_told(demo):
    text = " ".join(Page(demo).said)
    assert "The 3 worth most of the 12 below" in text
    assert "listed in order of time" in text
    few = sheet("--transit-days", "0", obj=FakeServices())
    assert "worth most of" not in " ".join(Page(few.stdout).said)


def test_a_plan_s_frames_are_flipped_at_the_meridian():
    """The field crosses the meridian in the middle of the plan, at 22:25 UTC."""
    from passes.config import Config
    from passes.forecast import Request, build
    from passes.plans import read_plan_text
    from passes.registry import Registry
    from passes_plugins.sheet.gathering import gather
    from passes_plugins.sheet.records import Wishes

    services = build(
        Request(demo=True), Registry.from_entry_points(only=["passes"]), Config()
    )
    over = "[overheads]\ndownload_s = 6.0\nflip_s = 300.0\n\n[target]"
    text = services.demo_session.replace("gap_s = 6.0\n", "").replace("[target]", over)
    plan = read_plan_text(text)
    found = gather(services, Wishes(plan=plan, cards=0, transit_days=0, limit=1))
    angles = [sub.target.position_angle_deg for sub in found.subs]
    assert angles[0] == 0.0
    assert angles[-1] == 180.0
    assert angles == sorted(angles)
    turned = next(sub for sub in found.subs if sub.target.position_angle_deg)
    assert f"{turned.start:%H:%M}" in ("22:29", "22:30", "22:31", "22:32", "22:33")


def test_a_page_of_too_many_pictures_says_how_many_are_missing():
    from passes.charts.paper import new_figure
    from passes.charts.theme import palette
    from passes_plugins.sheet.pictures import Album

    picture = Picture(
        name="empty", described="Empty.", draw=lambda colours: new_figure(colours, 1.0)
    )
    size = len(Album(palette("light")).add(picture))
    album = Album(palette("light"), most_bytes=2 * size + 10)
    assert len(album.all([picture] * 5)) == 2
    assert album.left_out == 3
    assert album.remark.startswith("3 more pictures are left out")


def test_a_picture_that_a_plugin_cannot_draw_leaves_the_page_whole():

    lost = Picture(name="lost", described="Lost.", draw=lambda colours: None)
    report = Report(
        kind="owl", reporter="zoo", summary={"owls_seen": 2}, pictures=(lost,)
    )
    result = sheet("--transit-days", "0", obj=FakeServices(canned_reports=(report,)))
    assert result.exit_code == 0, result.output
    assert "Owls seen" in result.stdout


@pytest.mark.parametrize("name", ["night.pdf", "nowhere/night.html"])
def test_what_cannot_be_written_is_refused_before_any_work(tmp_path, name, monkeypatch):
    def never(*_, **__):
        raise AssertionError("worked before it was refused")

    monkeypatch.setattr("passes.forecast.build", never)
    result = sheet("--demo", "--output", str(tmp_path / name))
    assert result.exit_code != 0
    assert len(result.stderr.strip().splitlines()) <= 2
    assert "night" in result.stderr


def test_a_long_real_night_stays_under_two_megabytes(real_data, tmp_path):
    """Everything at once: 40 passes, six cards, a whole night of subs, two rigs."""
    night = "2025-09-20"
    plan = tmp_path / "plan.toml"
    plan.write_text(
        "[session]\nrig = 'field'\nstart = 2025-09-20T20:30:00Z\nsubs = 150\n"
        "exposure_s = 180\n[overheads]\ndownload_s = 5\n"
        "[target]\nname = 'NGC 1499'\nra_deg = 60.8\ndec_deg = 36.4\n"
    )
    config = tmp_path / "config.toml"
    rigs = files("passes") / "data" / "demo" / "rigs.toml"
    config.write_text(rigs.read_text("utf-8"), encoding="utf-8")
    elements = str(real_data / f"active_{night}.tle.gz")
    path = tmp_path / "night.html"
    result = CliRunner().invoke(
        cli,
        [
            *("sheet", "--config", str(config), "--at", "37.1,-3.4,1900"),
            *("--elements", elements, "--date", night, "--plan", str(plan)),
            *("--rig", "long", "--rig", "wide", "--limit", "40", "--cards", "6"),
            *("--output", str(path)),
        ],
        prog_name="passes",
    )
    assert result.exit_code == 0, result.output
    text = path.read_text(encoding="utf-8")
    assert len(text.encode()) < 2_000_000
    kinds = pictured(text)
    assert kinds.count("pass") == 12
    assert {"sky", "night", "session", "frame"} <= set(kinds)
    assert "28 passes worth less are not drawn" in text
