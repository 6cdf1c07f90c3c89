"""README keeps its word: what it shows is what the program prints."""

import re
import shlex

import pytest
from click.testing import CliRunner
from pages import blocks, chapter

from passes.cli import cli
from passes.registry import Registry

SHOWN = re.compile(r"```console\n(.*?)```", re.DOTALL)


@pytest.fixture
def readme(root):
    return (root / "README.md").read_text(encoding="utf-8")


def sessions(text):
    """Commands and what is shown below each, from the console blocks."""
    for block in SHOWN.findall(text):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            yield command, output.rstrip("\n")


def test_two_commands_start_a_fresh_machine(readme, root):
    lines = [line for line in readme.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    demo, tests = lines
    assert demo.endswith("passes tonight --demo")
    assert "pytest" in tests
    assert "[test]" in tests
    check = (root / ".ci" / "run").read_text()
    assert "grep -m 1 '^python3 -m venv .*pytest' README.md" in check


def test_the_first_paragraph_states_the_job(readme):
    heading, first = readme.split("\n\n")[:2]
    assert heading == "# passes"
    first = " ".join(first.split())
    for words in (
        *("satellite passes", "when", "where", "bright", "trusted", "no network"),
        *("how to shoot", "Moon or the Sun", "may streak", "capture script"),
    ):
        assert words in first


def test_what_is_shown_is_what_is_printed(readme, root, monkeypatch, tmp_path):
    monkeypatch.setattr("passes.options.types.machine_zone", lambda: "Europe/Madrid")
    only_ours = Registry.from_entry_points(only=["passes"])
    monkeypatch.setattr(Registry, "from_entry_points", lambda **_: only_ours)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    shown = list(sessions(readme))
    assert len(shown) >= 5
    for command, output in shown:
        name, *args = shlex.split(command)
        assert name == "passes"
        result = CliRunner().invoke(cli, args, prog_name="passes")
        assert result.exit_code == 0, result.output
        printed = result.output.rstrip("\n")
        if output.endswith("\n…"):
            output, printed = output[:-2], printed[: len(output) - 2]
        assert printed == output


def test_the_command_shown_to_developers_works(root, run, with_plugin):
    import click

    from passes.contributions import Command, Services
    from passes.options import Output, asks, writes
    from passes.testing import FakeServices

    page = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    (code,) = [one.code for one in blocks(chapter(page, "How to add a command"))]
    names = {
        **{"click": click, "writes": writes, "asks": asks, "Output": Output},
        "Services": Services,
        "brightness": lambda passage: passage.brightest.magnitude,
        "page": lambda found, screen: f"{len(found)} on {screen.width}\n",
    }
    exec(code, names)
    shown = Command(name="brightest", summary="It.", load=lambda: names["command"])
    with_plugin(passes_commands=[shown])
    result = run("brightest", "--limit", "1", obj=FakeServices())
    assert result.exit_code == 0, result.output
    assert result.stdout == "1 on 80\n"
