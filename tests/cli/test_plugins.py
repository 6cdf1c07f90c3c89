"""``passes plugins``, as a user types it."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import passes.cli
from passes.contributions import Adviser, Exporter, SessionReporter
from passes.registry import Origin, Registry

SCHEMA = json.loads(
    (Path(passes.cli.__file__).parent / "schemas" / "plugins.json").read_text()
)


pytestmark = pytest.mark.usefixtures("only_ours")


@pytest.fixture
def zoo(with_plugin) -> Registry:
    """A plugin of which one hook works and one does not, and one that is absent."""

    def absent() -> object:
        raise RuntimeError("no \x1b[31mluck\nat all")

    registry = with_plugin(
        passes_exporters=[
            Exporter(
                name="tally",
                summary="Counts.",
                export=lambda answer: "1",
                accepts=("passes",),
                suffixes=(".tally",),
            )
        ],
        passes_advisers=[
            Adviser(name="x", summary="=1+1", advise=print),
            "not an adviser",
        ],
        passes_session_reporters=[
            SessionReporter(name="r", summary="R.", report=print, kinds=("k",))
        ],
    )
    registry.add(absent, Origin("absentee", "passes-zoo", "9.9"))
    return registry


def test_the_table_lists_plugins_versions_and_what_they_add(run) -> None:
    result = run("plugins", env={"COLUMNS": "120"})
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert " ".join(lines[0].split()) == "plugin from state adds name what it is for"
    (twilight,) = [line for line in lines if line.startswith("twilight")]
    assert f"passes {passes.__version__}  working  session reporter" in twilight
    assert "What went wrong" not in result.stdout
    assert result.stderr == ""


@pytest.mark.parametrize("width", [40, 60, 80, 100, 200])
def test_the_table_fits_the_terminal(run, zoo, width: int) -> None:
    result = run("plugins", env={"COLUMNS": str(width)})
    table, _ = result.stdout.split("\n\n")
    longest = max(len(line) for line in table.splitlines())
    assert longest <= max(width, 50)  # below that, names are not cut
    assert "tally" in table


def test_faults_are_marked_by_a_word_and_told_in_full(run, zoo) -> None:
    result = run("plugins", env={"COLUMNS": "200"})
    assert result.exit_code == 0
    table, faults = result.stdout.split("\n\n")
    states = [line.split()[3] for line in table.splitlines()[1:] if line[0] != " "]
    assert states == ["faulty", "absent"]
    assert faults.splitlines() == [
        "What went wrong",
        "plugin zoo (passes-zoo 9.9): collect: TypeError: passes_advisers offered str, "
        "want Adviser",
        "plugin absentee (passes-zoo 9.9): import: RuntimeError: no �[31mluck at all",
    ]
    assert "collect" not in result.stderr  # told once


def test_tracebacks_and_load_times_on_demand(run, zoo) -> None:
    plain = run("plugins").stdout
    verbose = run("plugins", "--verbose").stdout
    assert "Traceback" not in plain
    assert " load " not in plain
    assert "Traceback (most recent call last):" in verbose
    assert " load " in verbose
    assert "\x1b" not in verbose


@pytest.mark.parametrize("verbose", [(), ("-v",)])
def test_json_follows_its_schema(run, zoo, verbose: tuple[str, ...]) -> None:
    result = run("plugins", "--json", *verbose)
    document = json.loads(result.stdout)
    Draft202012Validator(SCHEMA).validate(document)
    zoo_plugin, absentee = document["plugins"]
    assert (zoo_plugin["state"], absentee["state"]) == ("faulty", "absent")
    by_name = {one["name"]: one for one in zoo_plugin["contributions"]}
    assert by_name["tally"]["suffixes"] == [".tally"]
    assert by_name["r"]["kinds"] == ["k"]
    assert ("traceback" in absentee["problems"][0]) == bool(verbose)
    assert "passes: plugin absentee" in result.stderr  # talk, beside the data


def test_bundled_plugins_as_json(run) -> None:
    document = json.loads(run("plugins", "--json").stdout)
    Draft202012Validator(SCHEMA).validate(document)
    assert {"imaging", "twilight"} <= {one["name"] for one in document["plugins"]}
    assert {one["version"] for one in document["plugins"]} == {passes.__version__}


def test_csv_has_a_row_for_each_thing_and_no_formula(run, zoo) -> None:
    result = run("plugins", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["name"] for row in rows] == ["x", "r", "tally", ""]
    assert rows[0]["summary"] == "'=1+1"
    assert rows[-1]["plugin"] == "absentee"
    assert rows[-1]["problems"].startswith("import: RuntimeError")


def test_a_disabled_plugin_is_listed_and_a_misspelt_one_told(run) -> None:
    result = run("plugins", "--json", env={"PASSES_DISABLE_PLUGINS": "imaging,wrod"})
    document = json.loads(result.stdout)
    states = {one["name"]: one["state"] for one in document["plugins"]}
    assert (states["imaging"], states["twilight"]) == ("disabled", "working")
    assert document["unknown_disabled"] == ["wrod"]
    assert "no plugin is named 'wrod'" in result.stderr


def test_a_copy_without_plugins_says_that_it_is_not_installed(run, monkeypatch) -> None:
    monkeypatch.setattr(Registry, "from_entry_points", lambda **_: Registry())
    result = run("plugins")
    assert result.exit_code == 0
    assert result.stdout == "No plugins.\n"
    assert "not installed" in result.stderr


def test_strictness_stops_the_program(run, monkeypatch) -> None:
    def strict(**_: Any) -> Registry:
        registry = Registry(strict=True)
        registry.add(lambda: 1 / 0, Origin("zoo", "passes-zoo", "9.9"))
        return registry

    monkeypatch.setattr(Registry, "from_entry_points", strict)
    result = run("plugins")
    assert result.exit_code == 1
    assert "plugin zoo (passes-zoo 9.9): import: ZeroDivisionError" in result.stderr
