"""What was renamed serves on for a while, and says so."""

import sys
import types
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import passes.api
import passes.model
import passes.testing
from passes import renamed
from passes.config import load
from passes.config.records import FORMER_KEYS
from passes.errors import ConfigError
from passes.model import Site
from passes.options import renamed_options


@pytest.mark.parametrize("module", [passes.api, passes.model, passes.testing])
def test_a_former_name_is_found_and_warns(
    module: types.ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    new = module.__all__[-1]
    monkeypatch.setitem(module.FORMER, "old_name", new)
    with pytest.warns(DeprecationWarning, match=rf"old_name is now .*\.{new}; the"):
        found = module.old_name
    assert found is getattr(module, new)
    with pytest.raises(AttributeError, match="no attribute 'never_there'"):
        _ = module.never_there


def test_the_warning_points_at_who_used_the_name() -> None:
    module = types.ModuleType("made_up")
    module.__dict__.update(present=1)
    module.__dict__["__getattr__"] = renamed.former_names("made_up", {"old": "present"})
    sys.modules["made_up"] = module
    try:
        with pytest.warns(DeprecationWarning, match="made_up.old is") as caught:
            assert module.old == 1
    finally:
        del sys.modules["made_up"]
    assert caught[0].filename == __file__


@pytest.fixture
def command() -> click.Command:
    @renamed_options({"--depth": "--limit"})
    @click.command("list")
    @click.option("--limit", type=int, default=5)
    @click.argument("rest", nargs=-1)
    def listed(limit: int, rest: tuple[str, ...]) -> None:
        click.echo(f"{limit} {' '.join(rest)}")

    return listed


@pytest.mark.parametrize("args", [["--depth", "7"], ["--depth=7"]])
def test_a_former_option_serves_and_is_told(
    command: click.Command, args: list[str]
) -> None:
    result = CliRunner().invoke(command, args)
    assert result.exit_code == 0, result.output
    assert result.stdout == "7 \n"
    assert result.stderr.startswith("passes: --depth is now --limit; ")
    assert len(result.stderr.splitlines()) == 1


def test_present_options_and_arguments_are_left_alone(command: click.Command) -> None:
    result = CliRunner().invoke(command, ["--limit", "7", "--", "--depth"])
    assert (result.stdout, result.stderr) == ("7 --depth\n", "")
    assert "--depth" not in CliRunner().invoke(command, ["--help"]).stdout


def test_a_former_key_of_the_configuration_serves_and_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from passes.cli import cli

    monkeypatch.setitem(FORMER_KEYS, Site, {"altitude_m": "height_m"})
    path = tmp_path / "passes.toml"
    text = "[sites.ridge]\nlatitude_deg = 1\nlongitude_deg = 2\naltitude_m = 900\n"
    path.write_text(text)
    with pytest.warns(DeprecationWarning, match="altitude_m is now height_m"):
        assert load(path).site("ridge").height_m == 900.0
    result = CliRunner().invoke(cli, ["site", "show", "ridge", "--config", str(path)])
    assert result.exit_code == 0
    assert "900 m" in result.stdout
    (line,) = result.stderr.splitlines()
    assert line.startswith(f"passes: {path}: [sites.ridge].altitude_m is now height_m")
    path.write_text(text + "height_m = 900\n")
    with pytest.raises(ConfigError, match="'altitude_m' and 'height_m' say the same"):
        load(path)
