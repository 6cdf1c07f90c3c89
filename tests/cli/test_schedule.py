"""``passes schedule`` as a person types it, on the invented scenario."""

import json
import re
from importlib import resources

import pytest
from session_plans import session_plan

jsonschema = pytest.importorskip("jsonschema")

from passes.model import Report  # noqa: E402
from passes.plans.schedule import read_schedule  # noqa: E402
from passes.tables.layout import cells  # noqa: E402

DEMO = ("schedule", "--demo", "--limit", "4", "--rig", "wide")


@pytest.fixture(autouse=True)
def strict(monkeypatch):
    """A plugin that fails is a failed test, and eighty columns are the page."""
    monkeypatch.setenv("PASSES_STRICT_PLUGINS", "1")
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def shown(run):
    def show(*args):
        result = run(*DEMO, *args)
        assert result.exit_code == 0, result.output
        return result.stdout

    return show


def validator(name):
    folder = resources.files("passes_plugins.scheduling") / "schemas"
    text = (folder / name).read_text(encoding="utf-8")
    return jsonschema.Draft202012Validator(json.loads(text))


def test_the_page_fits_and_says_what_to_do_when(shown):
    page = shown("--set-up", "2h")
    assert page.startswith("Demo: ")
    assert max(map(cells, page.splitlines())) <= 80
    for word in ("set-up", "Dew heaters on", "ready", "point", "start", "stop", "wide"):
        assert word in page
    assert "DEMO STATION" in page
    assert "Times are Europe/Madrid (UTC+1)" in page


def test_every_ready_line_says_what_for(shown):
    rows = [line for line in shown().splitlines() if re.search(r"\bready\b", line)]
    assert rows
    assert all(re.search(r"best \d\d:\d\d", row) for row in rows)


def test_the_document_and_the_lines_keep_their_schemas(shown, tmp_path):
    document = json.loads(shown("--json"))
    validator("schedule.json").validate(document)
    assert document["demo"] is True
    lines = [json.loads(line) for line in shown("--format", "jsonl").splitlines()]
    assert lines == document["steps"]
    for line in lines:
        validator("step.json").validate(line)
    assert {"ready", "point", "start", "stop"} <= {line["event"] for line in lines}
    starts = [line for line in lines if line["event"] == "start"]
    assert all(line["advice"]["exposure_s"] > 0 for line in starts)


def test_a_file_of_steps_reads_back_and_the_same_is_made_again(run, tmp_path):
    paths = [tmp_path / "one.jsonl", tmp_path / "two.jsonl"]
    for path in paths:
        assert run(*DEMO, "--output", str(path)).exit_code == 0
    assert paths[0].read_bytes() == paths[1].read_bytes()
    reading = read_schedule(paths[0])
    assert reading.problems == ()
    assert reading.schedule.demo
    assert len(reading.schedule.steps) == len(paths[0].read_bytes().splitlines())


def _whose(line):
    """The id of the pass that a step belongs to."""
    return line["id"].split("/")[0]


def test_starts_come_before_the_pass_is_seen_and_stops_after(run, shown):
    passes = json.loads(run("tonight", "--demo", "--json").stdout)["passes"]
    by_id = {one["id"]: one for one in passes}
    lines = [json.loads(line) for line in shown("--format", "jsonl").splitlines()]
    starts = {_whose(x): x["time"] for x in lines if x["event"] == "start"}
    stops = {_whose(x): x["time"] for x in lines if x["event"] == "stop"}
    assert len(starts) >= 3
    for name, start in starts.items():
        visible = by_id[name]["visible"]
        assert start < visible[0]["start"]
        assert stops[name] > visible[-1]["end"]


def test_csv_has_a_row_for_each_step_and_the_demo_marked(shown):
    rows = shown("--format", "csv").splitlines()
    assert rows[0].startswith("id,event,time,subject,catalog_number,rig,")
    assert rows[0].endswith(",demo")
    assert len(rows) - 1 == len(shown("--format", "jsonl").splitlines())
    assert all(row.endswith(",true") for row in rows[1:])


def test_a_calendar_is_chosen_by_its_suffix(run, tmp_path):
    path = tmp_path / "night.ics"
    assert run(*DEMO, "--output", str(path)).exit_code == 0
    assert path.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert b"BEGIN:VALARM" in path.read_bytes()


PLAN = session_plan(8)


CHORES = """
[overheads]
download_s = 6.0
dither_every = 3
settle_s = 20.0
focus_every_min = 15.0
focus_s = 90.0
[target]
"""


def of_field(page):
    """The lines of the plan's rig."""
    lines = [json.loads(line) for line in page.splitlines()]
    return [line for line in lines if line["rig"] == "field"]


@pytest.mark.parametrize(
    "text",
    [PLAN, PLAN.replace("gap_s = 6.0\n[target]", CHORES)],
    ids=["simple", "full"],
)
def test_a_plan_brings_its_subs_where_they_are_best_placed(run, shown, tmp_path, text):
    plan = tmp_path / "plan.toml"
    plan.write_text(text)
    args = ("--plan", str(plan))
    field = of_field(shown(*args, "--format", "jsonl"))
    alone = json.loads(run("streaks", "--demo", str(plan), "--place", "--json").stdout)
    starts = [line["time"] for line in field if line["event"] == "start"]
    assert starts == [sub["start"] for sub in alone["subs"]]
    assert len(starts) == 8
    # One wait, not two, for each crossing; the brightest is at 20:03:09.
    held = [line for line in field if line["event"] in ("hold", "resume")]
    assert [line["event"] for line in held] == ["hold", "resume"] * len(alone["holds"])
    assert [line["time"] for line in held[1::2]] == [x["until"] for x in alone["holds"]]
    assert held[0]["advice"]["for"] == "DEMO MIRROR"
    assert [line["advice"]["for"] for line in held[::2]] == [
        hold["name"] for hold in alone["holds"]
    ]
    chores = [
        line["advice"]["before"]
        for line in field
        if line["event"] == "ready" and "before" in line["advice"]
    ]
    assert chores == [sub["before"] for sub in alone["subs"] if sub["before"]]
    assert re.search(r"expose +M 81 field +field +\d subs? until", shown(*args))


def test_a_placed_plan_gives_the_same_schedule(run, shown, tmp_path):
    plan, placed = tmp_path / "plan.toml", tmp_path / "placed.toml"
    plan.write_text(PLAN)
    placed.write_text(run("streaks", "--demo", str(plan), "--place").stdout)
    first, second = (
        [
            (line["event"], line["time"])
            for line in of_field(shown("--plan", str(path), "--format", "jsonl"))
            if line["event"] in ("start", "stop")
        ]
        for path in (plan, placed)
    )
    assert first == second


def test_the_demo_has_a_session_of_its_own_where_its_rig_is_asked_for(run):
    def starts(*args):
        result = run("schedule", "--demo", "--limit", "1", "--format", "jsonl", *args)
        assert result.exit_code == 0, result.output
        lines = [json.loads(line) for line in result.stdout.splitlines()]
        found = [line for line in lines if line["event"] in ("start", "hold")]
        return [x["event"] for x in found if x["subject"] == "M 81 field"]

    whole = starts()
    assert (whole.count("start"), whole.count("hold")) == (120, 1)
    assert "start" in starts("--rig", "field")
    assert starts("--rig", "wide") == []
    assert starts("--object", "80001") == []
    assert starts("--date", "2029-03-20") == []
    assert starts("--site", "emberpan") == []


def test_without_a_placing_subs_are_held_for_what_would_spoil_them(
    shown, tmp_path, monkeypatch
):
    monkeypatch.setattr(
        "passes_plugins.streaks.placing_report.report",
        lambda briefing: Report(kind="placing"),
    )
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN)
    field = of_field(shown("--plan", str(plan), "--format", "jsonl"))
    assert sum(line["event"] == "start" for line in field) == 8
    held = [line for line in field if line["event"] in ("hold", "resume")]
    assert [line["event"] for line in held[:2]] == ["hold", "resume"]
    assert held[0]["time"] < "2029-03-17T20:03:14" < held[1]["time"]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--set-up", "soon"), "want a time such as 2h"),
        (("--lead", "-1"), "--lead"),
        (("--plan", "nowhere.toml"), "nowhere.toml"),
        (("--rig", "lost"), "no rig named 'lost'"),
        (("--format", "paper"), "icalendar-steps, jsonl"),
        (("--output", "night.xyz"), "no format has the suffix .xyz"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line_or_two(run, args, words):
    result = run("schedule", "--demo", *args)
    assert result.exit_code == 2
    assert words in result.stderr
    assert len(result.stderr.splitlines()) <= 2
    assert result.stdout == ""


def test_an_empty_night_says_so(run):
    result = run("schedule", "--demo", "--limit", "0", "--object", "80041")
    assert result.exit_code == 0
    assert "DEMO" not in result.stdout.replace("Demo", "")


def test_a_transit_is_recorded_like_anything_else_and_says_what_it_is(run):
    # The demo's station crosses the Moon at 18:21:53 on 20 March.
    window = ("--from", "2029-03-20T18:00Z", "--to", "2029-03-20T18:40Z")
    args = ("schedule", "--demo", "--rig", "long", *window)
    result = run(*args, "--format", "jsonl")
    assert result.exit_code == 0, result.output
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    by_event = {x["event"]: x for x in lines if "-moon-" in x["id"]}
    assert list(by_event) == ["ready", "point", "start", "stop"]
    assert by_event["start"]["advice"]["kind"] == "transit"
    assert by_event["start"]["advice"]["best"].startswith("2029-03-20T18:21:5")
    assert by_event["start"]["time"] < "2029-03-20T18:21:44"
    assert by_event["stop"]["time"] > "2029-03-20T18:22:02"
    assert re.search(r"ready +DEMO STATION +long +transit, moon", run(*args).stdout)


def test_a_plan_brings_its_night_and_its_site(run, tmp_path):
    plan = tmp_path / "plan.toml"
    later = PLAN.replace("2029-03-17T20", "2029-03-20T20").replace(
        "quillmoor", "emberpan"
    )
    plan.write_text(later)
    result = run("schedule", "--demo", "--limit", "0", "--plan", str(plan), "--json")
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    assert document["site"]["name"] == "emberpan"
    assert document["window"]["start"].startswith("2029-03-20")
    assert {x["rig"] for x in document["steps"] if x["event"] == "start"} == {"field"}
