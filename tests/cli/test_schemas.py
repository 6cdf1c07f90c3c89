"""Every command that offers JSON has a schema, and keeps to it."""

import json
from collections.abc import Callable, Iterator
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import click
import cue_help
import jsonschema
import pytest

import passes
import passes_plugins
from passes.cli import cli
from passes.options import program
from passes.testing.elements import element_text

Json = dict[str, Any]
CORE = "passes.cli"
STREAKS, IMAGING = "passes_plugins.streaks", "passes_plugins.imaging"
SCHEDULING, TRANSITS = "passes_plugins.scheduling", "passes_plugins.transits"
_GATE = ("--demo", "--exposure", "180", "--now", "2029-03-17T20:02:00Z", "--json")
_STREAK = ("--radec", "148.1,69.0", "149.9,69.6", "--cut", "both", "--demo")
_WHEN = ("--from", "2029-03-17T20:03:06Z", "--to", "2029-03-17T20:06:06Z")

#: Command lines, the package with the schema, its name.  KEPT stands for a
#: configuration with a site, a rig and a source, OLD for an archive with element sets.
PROMISES = (
    ("advise --demo --object 80001", IMAGING, "advise"),
    ("advise --demo --best", IMAGING, "best"),
    ("check --config KEPT --archive OLD", CORE, "check"),
    ("check --config absent.toml --archive absent.sqlite", CORE, "check"),
    ("elements add SETS --archive NEW", CORE, "elements_add"),
    ("elements check SETS", CORE, "elements_check"),
    ("elements check --demo", CORE, "elements_check"),
    ("elements fetch --config KEPT --archive NEW", CORE, "elements_fetch"),
    ("elements list --archive OLD", CORE, "elements_list"),
    ("elements show 80001 --archive OLD", CORE, "elements_show"),
    ("elements sources --config KEPT", CORE, "elements_sources"),
    ("elements sources --usual --config usual.toml", CORE, "elements_sources"),
    ("identify " + " ".join((*_STREAK, *_WHEN)), STREAKS, "identification"),
    ("plugins", CORE, "plugins"),
    ("plugins --verbose", CORE, "plugins"),
    ("rig list --config KEPT", CORE, "rigs"),
    ("rig list --config absent.toml", CORE, "rigs"),
    ("rig show long --config KEPT", CORE, "rigs"),
    ("schedule --demo", SCHEDULING, "schedule"),
    ("site list --config KEPT", CORE, "sites"),
    ("site show quillmoor --config KEPT", CORE, "sites"),
    ("streaks --demo", STREAKS, "streaks"),
    ("streaks PLAN --demo --all", STREAKS, "streaks"),
    ("streaks --demo --place", STREAKS, "placing"),
    ("streaks --demo --try-exposures 60 --try-exposures 180", STREAKS, "lengths"),
    ("streaks PLAN --demo --compare PLAN", STREAKS, "comparison"),
    ("tonight --demo", CORE, "tonight"),
    ("tonight --demo --all", CORE, "tonight"),
    ("tonight --demo --site emberpan --magnitude -20", CORE, "tonight"),
    ("track --demo --step 30", CORE, "track"),
    ("transits --demo --reach 100 --rig long", TRANSITS, "transits"),
    ("transits --demo --body jupiter", TRANSITS, "transits"),
)
#: What speaks JSON without ``--json``, tested below.
OTHERS = {"cue", "gate"}


def commands(
    command: click.Command, ctx: click.Context, path: tuple[str, ...] = ()
) -> Iterator[tuple[str, click.Command]]:
    """Every command of the program and of the bundled plugins."""
    if not isinstance(command, click.Group):
        yield " ".join(path), command
        return
    for name in command.list_commands(ctx):
        below = command.get_command(ctx, name)
        assert below is not None
        inner = click.Context(below, info_name=name, parent=ctx)
        yield from commands(below, inner, (*path, name))


def every_command() -> dict[str, click.Command]:
    ctx = click.Context(cli, info_name="passes")
    program(ctx)
    return dict(commands(cli, ctx))


def test_every_command_that_offers_json_promises_a_shape() -> None:
    offering = {
        path
        for path, command in every_command().items()
        if any("--json" in option.opts for option in command.params)
    }
    promised = {path for line, _, _ in PROMISES for path in _paths(line)}
    assert offering - promised - OTHERS == set()
    assert len(offering) > 15


def _paths(line: str) -> tuple[str, str]:
    words = line.split()
    return words[0], " ".join(words[:2])


# --- the schemas themselves ------------------------------------------------------


def all_schemas() -> dict[str, Json]:
    folders = [Path(passes.__file__).parent / "cli" / "schemas"]
    folders += Path(next(iter(passes_plugins.__path__))).glob("*/schemas")
    return {
        f"{path.parent.parent.name}/{path.stem}": json.loads(path.read_text("utf-8"))
        for folder in folders
        for path in sorted(folder.glob("*.json"))
    }


@pytest.mark.parametrize("name", all_schemas())
def test_a_schema_is_one_and_says_what_each_thing_is(name: str) -> None:
    schema = all_schemas()[name]
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["title"]
    assert "passes " in schema["title"] + schema.get("description", "")
    saying = {"type", "enum", "const", "$ref", "anyOf", "oneOf", "allOf"}
    vague = [
        key
        for part in parts(schema)
        for key, inner in part.get("properties", {}).items()
        if inner is True or not saying.intersection(inner)
    ]
    assert vague == []


def test_every_schema_is_kept_by_some_command() -> None:
    kept = {f"{where.rsplit('.', 1)[-1]}/{name}" for _, where, name in PROMISES}
    kept |= {"scheduling/cue", "scheduling/step", "streaks/gate"}
    assert set(all_schemas()) == kept


def parts(schema: Any) -> Iterator[Json]:
    """A schema and every schema within it."""
    if isinstance(schema, dict):
        yield schema
        for inner in schema.values():
            yield from parts(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from parts(inner)


def undescribed(document: Any, schema: Json) -> set[str]:
    """Keys of a document, by place, of which its schema knows neither name nor type.

    Published schemas let keys come that older readers do not know; what is written now
    must be described.  Objects of which no key is named hold what they like.
    """
    return set(_undescribed(document, [schema], schema, "$"))


def _undescribed(
    value: Any, schemas: list[Json], root: Json, where: str
) -> Iterator[str]:
    meant = [part for one in schemas for part in _branches(one, root)]
    if isinstance(value, list):
        inside = [part["items"] for part in meant if "items" in part]
        for inner in value:
            yield from _undescribed(inner, inside, root, f"{where}[]")
    if isinstance(value, dict) and any("properties" in part for part in meant):
        for key, inner in value.items():
            found = [sub for part in meant for sub in _of_key(part, key)]
            if found:
                yield from _undescribed(inner, found, root, f"{where}.{key}")
            else:
                yield f"{where}.{key}"


def _branches(schema: Json, root: Json) -> Iterator[Json]:
    """A schema, what it refers to, and every branch of it."""
    yield schema
    for name in schema.get("$ref", "").removeprefix("#/").split("/")[1:]:
        yield from _branches(root["$defs"][name], root)
    for word in ("allOf", "anyOf", "oneOf"):
        for one in schema.get(word, ()):
            yield from _branches(one, root)


def _of_key(part: Json, key: str) -> Iterator[Json]:
    """What an object's schema says of one key."""
    if key in part.get("properties", {}):
        yield part["properties"][key]
    elif isinstance(part.get("additionalProperties"), dict):
        yield part["additionalProperties"]


_TIMES = jsonschema.FormatChecker(formats=())


@_TIMES.checks("date-time", raises=ValueError)
def _is_utc(value: object) -> bool:
    """UTC, in the form that the program writes."""
    if not isinstance(value, str):
        return True
    datetime.fromisoformat(value)
    return value.endswith("Z")


def held(document: Any, where: str, name: str) -> None:
    """Validate a document; every key in it must be described."""
    text = (files(where) / "schemas" / f"{name}.json").read_text("utf-8")
    schema = json.loads(text)
    validator = jsonschema.Draft202012Validator(schema, format_checker=_TIMES)
    errors = validator.iter_errors(document)
    assert [f"{one.json_path}: {one.message}" for one in errors][:10] == []
    assert undescribed(document, schema) == set()


# --- what the commands write -----------------------------------------------------


@pytest.fixture
def scene(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Any
) -> Callable[[str], list[str]]:
    """Fills in the files of a command line."""
    monkeypatch.chdir(tmp_path)
    demo = Path(passes.__file__).parent / "data" / "demo"
    kept = tmp_path / "kept.toml"
    source = '[sources.club]\nurl = "http://127.0.0.1:9/sets"\ntries = 1\n'
    kept.write_text(
        (demo / "sites.toml").read_text() + (demo / "rigs.toml").read_text() + source
    )
    (tmp_path / "sets.tle").write_text(element_text())
    (tmp_path / "bad.tle").write_text("TAME\n1 80001U\n" + element_text())
    words = {
        "KEPT": str(kept),
        "SETS": "bad.tle",
        "NEW": "new.sqlite",
        "OLD": "old.sqlite",
        "PLAN": str(demo / "session.toml"),
    }

    def filled(line: str) -> list[str]:
        if "OLD" in line:
            added = run("elements", "add", "sets.tle", "--archive", "old.sqlite")
            assert added.exit_code == 0, added.output
        return [words.get(word, word) for word in line.split()]

    return filled


@pytest.mark.parametrize(("line", "where", "name"), PROMISES, ids=lambda v: str(v)[:40])
def test_what_is_written_keeps_to_its_schema(
    line: str, where: str, name: str, run: Any, scene: Any
) -> None:
    result = run(*scene(line), "--json")
    assert result.exit_code in (0, 1), result.output
    assert result.stdout, result.stderr
    held(json.loads(result.stdout, parse_constant=_no_json), where, name)


def _no_json(word: str) -> None:
    raise AssertionError(f"{word} is no JSON")


def test_the_gate_keeps_to_its_schema(run: Any) -> None:
    result = run("gate", *_GATE)
    assert result.exit_code in (0, 10, 11), result.output
    held(json.loads(result.stdout), STREAKS, "gate")


def test_served_answers_of_the_gate_keep_to_its_schema(
    run: Any, tmp_path: Path
) -> None:
    asked = '180\n{"exposure_s": 60, "time": "2029-03-17T20:12:00Z"}\nnonsense\n'
    result = run("gate", "--demo", "--serve", input=asked)
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    assert len(lines) == 3
    for line in lines[:2]:
        held(line, STREAKS, "gate")
    assert lines[2]["error"]


def test_steps_and_what_cue_writes_keep_to_their_schemas(
    run: Any, tmp_path: Path
) -> None:
    steps = run("schedule", "--demo", "--format", "jsonl").stdout
    for line in steps.splitlines():
        held(json.loads(line), SCHEDULING, "step")
    path = tmp_path / "steps.jsonl"
    path.write_text(steps)
    code, given, err = cue_help.ran(path, "--rehearse", "--quiet", "--speed", "100000")
    assert code == 0, err
    assert given
    for line in given:
        held(line, SCHEDULING, "cue")


def test_what_is_not_described_is_seen() -> None:
    inner = {"type": "object", "properties": {"b": {"type": "number"}}}
    schema = {"properties": {"a": inner, "values": {"type": "object"}}}
    assert (
        undescribed({"a": [{"b": 1}], "values": {"any": {"thing": 1}}}, schema) == set()
    )
    assert undescribed({"a": {"b": 1, "c": 2}, "d": 3}, schema) == {"$.a.c", "$.d"}


def test_times_are_utc() -> None:
    schema = {"format": "date-time"}
    times = jsonschema.Draft202012Validator(schema, format_checker=_TIMES)
    assert times.is_valid("2029-03-17T20:00:00.000Z")
    assert not times.is_valid("2029-03-17T20:00:00+01:00")
    assert not times.is_valid("tomorrow, Z")
