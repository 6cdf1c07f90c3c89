"""The common options: what they ask the engine for, and what they refuse."""

import io
from datetime import UTC, date, datetime
from pathlib import Path

import click
import pytest

import passes.forecast
from passes.contributions import Command
from passes.options import Program, Progress, asks, writes
from passes.options.asking import expanded

CONFIG = """
[defaults]
site = "ridge"
brightness = "mine"
archive = "/tmp/there.sqlite"
[sites.ridge]
latitude_deg = 37.1
longitude_deg = -3.4
[sites.coast]
latitude_deg = 36.7
longitude_deg = -4.4
[plugins.zoo]
colour = "grey"
"""


@pytest.fixture
def asked(run, evening, monkeypatch, tmp_path):
    """Run ``passes tonight`` with these options; what was asked of the engine."""
    (tmp_path / "passes.toml").write_text(CONFIG)
    seen = []

    class Stand:
        def tonight(self, **choice):
            seen.append(choice)
            return evening

    def build(request, registry, config):
        seen.append((request, config))
        return Stand()

    monkeypatch.setattr(passes.forecast, "build", build)

    def ask(*args):
        result = run("tonight", "--config", str(tmp_path / "passes.toml"), *args)
        assert result.exit_code == 0, result.output
        return seen[0][0]

    ask.seen = seen
    return ask


def test_unasked_it_is_this_night_at_the_usual_site_with_the_usual_limits(asked):
    request = asked()
    assert (request.site, request.site_name, request.date) == (None, "", None)
    assert (request.min_altitude_deg, request.sun_below_deg) == (10.0, None)
    assert (request.processes, request.strict, request.demo) == (1, False, False)
    assert request.brightness == "mine"
    assert request.archive == Path("/tmp/there.sqlite")
    config = asked.seen[0][1]
    assert config.default_site.name == "ridge"
    assert asked.seen[1] == {
        "limit": 12,
        "magnitude": None,
        "min_visible_altitude_deg": 15.0,
        "everything": False,
    }


def test_every_option_arrives(asked):
    line = (
        "--at 36.7,-4.4,12 --elements a.tle --elements - --strict --date 2025-09-14"
        " --object 80001 --object LAMP --late-by -2.5 --min-altitude 5 --sun-below -8"
        " --brightness other --processes 2 --archive b.sqlite --limit 3 --magnitude 2.5"
        " --min-visible-altitude 20"
    )
    request = asked(*line.split())
    assert (request.site.latitude_deg, request.site.height_m) == (36.7, 12.0)
    assert request.element_files == ("a.tle", "-")
    assert request.strict is True
    assert request.date == date(2025, 9, 14)
    assert request.objects == ("80001", "LAMP")
    assert (request.late_by_s, request.min_altitude_deg) == (-2.5, 5.0)
    assert (request.sun_below_deg, request.brightness) == (-8.0, "other")
    assert (request.processes, request.archive) == (2, Path("b.sqlite"))
    choice = {"limit": 3, "magnitude": 2.5, "min_visible_altitude_deg": 20.0}
    assert asked.seen[1] == {**choice, "everything": False}


def test_a_window_takes_the_place_of_the_night(asked):
    request = asked("--from", "2025-09-14T22:00+02:00", "--to", "2025-09-15T02:00Z")
    assert request.start == datetime(2025, 9, 14, 20, tzinfo=UTC)
    assert request.end == datetime(2025, 9, 15, 2, tzinfo=UTC)
    assert request.date is None


def test_a_site_is_asked_for_by_name(asked):
    assert asked("--site", "coast").site_name == "coast"


def test_the_demo_looks_at_no_configuration(run, evening, monkeypatch, tmp_path):
    (tmp_path / "broken.toml").write_text("[[[")
    seen = []

    class Stand:
        def tonight(self, **_):
            return evening

    def build(request, registry, config):
        seen.append((request, config))
        return Stand()

    monkeypatch.setattr(passes.forecast, "build", build)
    result = run("tonight", "--demo", "--config", str(tmp_path / "broken.toml"))
    assert result.exit_code == 0, result.output
    request, config = seen[0]
    assert request.demo is True
    assert not config.sites
    assert request.archive is None
    result = run("tonight", "--config", str(tmp_path / "broken.toml"))
    assert result.exit_code == 1
    assert "broken.toml" in result.stderr


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("--site a --at 1,2", "--site and --at are two places"),
        ("--date 2025-09-14 --from 2025-09-14T20:00Z", "leave out --from and --to"),
        ("--from 2025-09-14T20:00Z", "belong together"),
        ("--from 2025-09-14T20:00Z --to 2025-09-14T19:00Z", "--to is not after --from"),
        ("--from 2025-09-14T20:00 --to 2025-09-14T21:00Z", "no zone; add Z"),
        ("--late-by 3", "name it by --object"),
        ("--demo --elements a.tle", "--demo brings its own"),
        ("--demo --at 1,2", "--demo brings its own"),
        ("--elements no-such-*.tle", "no file matches"),
        ("--all --limit 3", "leave out --limit"),
        ("--all --magnitude 3", "leave out --magnitude"),
        ("--limit 0", "--limit"),
        ("--processes 0", "--processes"),
        ("--min-altitude 90", "90° is impossible (0 to 89)"),
        ("--magnitude nan", "impossible"),
        ("--at 91,0", "latitude 91° is impossible"),
    ],
)
def test_contradictions_are_refused_in_two_lines(line, why, run):
    result = run("tonight", *line.split())
    assert result.exit_code == 2
    assert why in result.stderr
    assert len(result.stderr.strip().splitlines()) == 2
    assert result.stdout == ""


def test_patterns_the_shell_left_alone_are_expanded(tmp_path, monkeypatch):
    for name in ("b.tle", "a.tle", "[c].tle"):
        (tmp_path / name).write_text("")
    monkeypatch.chdir(tmp_path)
    assert expanded(["*.tle"]) == ("[c].tle", "a.tle", "b.tle")
    assert expanded(["[c].tle", "-", "plain"]) == ("[c].tle", "-", "plain")


def probe(**how):
    """A plugin's command with the common options."""
    seen = []

    def load():
        @click.command("probe")
        @writes("probe")
        @asks(**how)
        @click.pass_obj
        def command(services, output):
            seen.append(services)

        return command

    return Command(name="probe", summary="Looks.", load=load), seen


def test_services_handed_in_take_the_place_of_the_engine(run, with_plugin):
    command, seen = probe()
    with_plugin(passes_commands=[command])
    result = run("probe", obj="a stand-in")
    assert result.exit_code == 0, result.output
    assert seen == ["a stand-in"]


def test_a_plugins_command_gets_services_that_know_its_settings(
    run, with_plugin, tmp_path
):
    (tmp_path / "passes.toml").write_text(CONFIG)
    command, seen = probe(rigs=True, one_pass=True, search=True)
    with_plugin(passes_commands=[command])
    line = "probe --rig long --rig wide --pass 80001-20250914T2120"
    result = run(*line.split(), "--config", str(tmp_path / "passes.toml"))
    assert result.exit_code == 0, result.output
    assert dict(seen[0].settings) == {"colour": "grey"}
    request = seen[0].request
    assert request.rigs == ("long", "wide")
    assert request.objects == ("80001",)
    assert seen[0].clock() == datetime(2025, 9, 14, 21, 20, tzinfo=UTC)


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_progress_is_shown_only_to_a_person_who_has_waited(monkeypatch):
    clock = iter([0.0, 0.5, 2.0, 2.05, 3.0])
    monkeypatch.setattr("passes.options.running.time.monotonic", lambda: next(clock))
    monkeypatch.setattr("sys.stderr", Terminal())
    import sys

    whole = Program()
    progress = whole.progress = Progress(whole)
    for done in (10, 20, 30, 40):
        progress("searching", done, 40)
    said = sys.stderr.getvalue()
    assert "25 %" not in said
    assert "searching 50 %" in said
    assert "75 %" not in said
    assert said.count("\r") == 2
    whole.say("done")
    assert sys.stderr.getvalue().endswith("\r\x1b[Kdone\n")


def test_progress_is_no_part_of_a_log(monkeypatch):
    monkeypatch.setattr("passes.options.running._PATIENCE_S", -1.0)
    log = io.StringIO()
    monkeypatch.setattr("sys.stderr", log)
    progress = Progress(Program())
    progress("searching", 1, 2)
    progress.clear()
    assert log.getvalue() == ""
