"""The frame: commands found by name, options anywhere, errors in one or two lines."""

import subprocess
import sys
from pathlib import Path

import click
import pytest

import passes.cli
from passes.cli import CORE, cli
from passes.contributions import Command
from passes.errors import ConfigError, InputError, PassesError, UnknownName
from passes.options import program

HEAVY = ("numpy", "skyfield", "sgp4", "matplotlib", "rich", "orjson", "httpx")


def command_that(act, name="act"):
    """A command whose body is ``act``."""
    return Command(
        name=name,
        summary="Acts as a test wants.",
        load=lambda: click.command(name)(click.pass_context(act)),
    )


@pytest.fixture
def typed(run, with_plugin):
    """Run ``passes act`` where the command does what the test says."""

    def type_it(act, *args, **more):
        with_plugin(passes_commands=[command_that(act)])
        return run("act", *args, **more)

    return type_it


def raising(error):
    def act(ctx):
        raise error

    return act


def lines(text):
    return text.strip().splitlines()


def test_help_lists_every_command_without_loading_any(run, with_plugin):
    def load():
        raise AssertionError("loaded for a list")

    with_plugin(passes_commands=[Command(name="far", summary="Goes far.", load=load)])
    result = run("--help")
    assert result.exit_code == 0
    assert "far" in result.output
    assert "Goes far." in result.output
    for name, summary in CORE.items():
        assert name in result.output
        assert summary in result.output


@pytest.mark.parametrize("name", CORE)
def test_the_summary_shown_is_what_the_command_says_of_itself(name, run):
    result = run(name, "--help")
    assert result.exit_code == 0, result.output
    said = cli.get_command(click.Context(cli), name).get_short_help_str(limit=200)
    assert said.rstrip(".") == CORE[name].rstrip(".")


@pytest.mark.parametrize("args", [["--help"], ["--version"], ["tonight", "--help"]])
def test_help_loads_nothing_heavy(args):
    code = (
        "import sys; from passes.cli import cli\n"
        f"try: cli.main({args!r}, prog_name='passes')\n"
        "except SystemExit as end: assert not end.code\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60
    )
    assert lines(done.stdout)[-1] == "[]", done.stdout + done.stderr


def test_every_file_of_commands_is_listed():
    folder = Path(passes.cli.__file__).parent
    files = [p.stem for p in folder.glob("*.py") if not p.stem.startswith("_")]
    assert sorted(files) == sorted(CORE)


def test_a_mistyped_command_is_answered_with_the_nearest(run):
    result = run("tonihgt")
    assert result.exit_code == 2
    assert result.stderr.startswith("passes: no command 'tonihgt'; did you mean ton")
    assert len(lines(result.stderr)) == 2


def test_a_command_like_no_other_is_answered_with_all(run):
    result = run("zzz")
    assert result.exit_code == 2
    assert "tonight" in lines(result.stderr)[0]


def test_a_mistyped_option_is_answered_with_the_nearest(run):
    result = run("tonight", "--elemnts", "x")
    assert result.exit_code == 2
    assert "--elements" in lines(result.stderr)[0]
    assert "passes tonight --help" in lines(result.stderr)[1]


def test_no_command_at_all_shows_the_help(run):
    result = run()
    assert result.exit_code == 2
    assert "tonight" in result.stderr


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (PassesError("it rains"), 1),
        (InputError("it rains"), 2),
        (ConfigError("it rains"), 1),
        (UnknownName("site", "it rains"), 2),
        (click.UsageError("it rains"), 2),
    ],
)
def test_errors_are_one_or_two_lines_and_an_exit_code(typed, error, code):
    result = typed(raising(error))
    assert result.exit_code == code
    assert result.stdout == ""
    assert 1 <= len(lines(result.stderr)) <= 2
    assert result.stderr.startswith("passes: ")
    assert "it rains" in result.stderr


def test_an_unexpected_fault_of_a_plugins_command_names_the_plugin(typed):
    result = typed(raising(ZeroDivisionError("oh")))
    assert result.exit_code == 1
    assert len(lines(result.stderr)) == 1
    assert "plugin zoo" in result.stderr
    assert "ZeroDivisionError: oh" in result.stderr


def test_an_unexpected_fault_of_our_own_is_named_without_a_traceback(run, monkeypatch):
    monkeypatch.setattr(passes.cli, "_offered", lambda ctx: 1 / 0)
    result = run("zzz")
    assert result.exit_code == 1
    assert "unexpected ZeroDivisionError" in lines(result.stderr)[0]
    assert "PASSES_DEBUG=1" in lines(result.stderr)[1]
    assert "Traceback" not in result.stderr


def test_the_traceback_is_there_for_whoever_asks(typed, monkeypatch):
    monkeypatch.setenv("PASSES_DEBUG", "1")
    result = typed(raising(PassesError("it rains")))
    assert result.exit_code == 1
    assert "Traceback" in result.stderr
    assert lines(result.stderr)[-1] == "passes: it rains"


def test_control_characters_in_an_error_stay_off_the_terminal(typed):
    result = typed(raising(PassesError("no object \x1b[2Jx\x07\n\x1b]0;t\x07\nthird")))
    assert "\x1b" not in result.stderr
    assert "\x07" not in result.stderr
    assert len(lines(result.stderr)) == 2


def test_stopping_by_hand_is_said_and_has_its_own_code(typed):
    result = typed(raising(KeyboardInterrupt()))
    assert result.exit_code == 130
    assert lines(result.stderr)[-1] == "passes: stopped"


def test_a_command_may_choose_its_exit_code(typed):
    assert typed(lambda ctx: ctx.exit(3)).exit_code == 3
    assert typed(lambda ctx: 5).exit_code == 0


@pytest.mark.parametrize(
    "args",
    [
        ["--config", "c.toml", "--archive", "a.db", "--theme", "red", "-v", "act"],
        ["act", "--config", "c.toml", "--archive", "a.db", "--theme", "red", "-v"],
        [
            "--config",
            "other",
            "-v",
            "act",
            "--config",
            "c.toml",
            "--archive",
            "a.db",
            "--theme",
            "red",
        ],
    ],
)
def test_options_of_the_whole_run_stand_before_or_after_the_command(
    args, run, with_plugin
):
    seen = []
    with_plugin(passes_commands=[command_that(lambda ctx: seen.append(program(ctx)))])
    result = run(*args)
    assert result.exit_code == 0, result.output
    (found,) = seen
    assert (found.config_path, found.archive) == (Path("c.toml"), Path("a.db"))
    assert (found.theme, found.verbose) == ("red", True)


def test_they_reach_the_commands_of_a_group_too(run, with_plugin):
    seen = []

    def load():
        group = click.Group("herd")
        group.command("one")(lambda: seen.append(program().theme))
        return group

    with_plugin(passes_commands=[Command(name="herd", summary="Many.", load=load)])
    result = run("herd", "one", "--theme", "dark")
    assert result.exit_code == 0, result.output
    assert seen == ["dark"]


def test_what_plugins_did_wrong_is_told_in_one_line_each_at_the_end(run, with_plugin):
    with_plugin(passes_commands=["not a command"])
    result = run("--help")
    assert result.exit_code == 0
    assert len(lines(result.stderr)) == 1
    assert "plugin zoo (passes-zoo 9.9): collect" in result.stderr


def test_a_command_that_cannot_be_loaded_names_the_plugin(run, with_plugin):
    def load():
        raise RuntimeError("no such camera")

    with_plugin(passes_commands=[Command(name="far", summary="Goes far.", load=load)])
    result = run("far")
    assert result.exit_code == 1
    assert "plugin zoo (passes-zoo 9.9)" in result.stderr
    assert "no such camera" in result.stderr


def test_completion_knows_the_commands(run, monkeypatch):
    monkeypatch.setenv("_PASSES_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", "passes ton")
    monkeypatch.setenv("COMP_CWORD", "1")
    assert "tonight" in run().stdout


@pytest.mark.parametrize(
    "environment",
    [
        {"PATH": "/usr/bin:/bin"},
        {"PATH": "/usr/bin:/bin", "LC_ALL": "POSIX", "PYTHONCOERCECLOCALE": "0"},
        {
            "PATH": "/usr/bin:/bin",
            "HOME": "/nonexistent",
            "TERM": "dumb",
            "COLUMNS": "20",
        },
    ],
)
def test_it_runs_with_no_home_no_locale_and_a_narrow_terminal(environment):
    done = subprocess.run(
        [sys.executable, "-m", "passes", "--help"],
        capture_output=True,
        env=environment,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert b"tonight" in done.stdout


def test_the_group_may_be_called_by_other_programs():
    with pytest.raises(click.UsageError, match="no command"):
        cli.main(["zzz"], standalone_mode=False)
