"""The examples of every ``--help``, run; and the pages name only what there is."""

import re
from pathlib import Path

import click
import pytest
from cue_help import steps, written
from loopback import sends, serving
from typed import enter, lines, settle, stock, stop_the_clock

from passes.cli import cli


def commands(command=cli, path=("passes",)):
    """Every command of the program with the words that call it."""
    yield path, command
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            yield from commands(below, (*path, name))


COMMANDS = dict(commands())


def examples(command):
    """The lines below ``Examples:`` of a command's help."""
    found = re.search(r"Examples?:\n(.*?)(?:\n\s*\n|\Z)", command.help or "", re.S)
    return [line for line, _ in lines(found[1])] if found else []


HELP = {line for command in COMMANDS.values() for line in examples(command)}
#: Examples that make what is there already, so that they start from nothing.
FRESH = {("passes", "site"), ("passes", "site", "add"), ("passes", "rig", "add")}
#: Exit codes other than 0, by a part of the line, and why.
CODES = {
    "--nmea /dev/ttyUSB0": (1, "the recording is of another time than the clock's"),
    "gate --demo": (10, "something bright crosses first"),
}
#: What else must be typed, for a test to end.
MORE = {"passes cue - --rehearse": " --speed 60000"}


@pytest.mark.parametrize(
    "path", [p for p in COMMANDS if p != ("passes",)], ids=" ".join
)
def test_the_examples_of_the_help_work(path, root, home, tmp_path, monkeypatch):
    typed = examples(COMMANDS[path])
    assert typed, f"{' '.join(path)} --help has no example"
    monkeypatch.chdir(tmp_path)
    stop_the_clock(monkeypatch)
    stock(tmp_path, root)
    written(tmp_path / "night.jsonl", steps([-100, -40], first=1_600_000_000))
    with serving() as server:
        server.says(sends((tmp_path / "tonight.tle").read_bytes()))
        if path not in FRESH:
            settle(home, f'\n[sources.stations]\nkind = "http"\nurl = "{server.url}"\n')
        for line in typed:
            want = next((n for part, (n, _) in CODES.items() if part in line), 0)
            more = next((m for words, m in MORE.items() if line.endswith(words)), "")
            assert enters(line + more, want) or ">" in line, line


def enters(line, want):
    """What a line says, if it ends as it should and writes what it says it writes."""
    code, out, err = enter(line, "180\n" if "--serve" in line else "y\n")
    assert code == want, f"{line}\n{out}{err}"
    for option in ("--chart", "--output"):
        if option in line:
            file = line.partition(option)[2].split()[0]
            assert Path(file).stat().st_size > 0, line
    return out or err


# --- README ------------------------------------------------------------------

FENCE = re.compile(r"^ *```(?:bash|sh)\n(.*?)^ *```", re.MULTILINE | re.DOTALL)
#: What a remark beside a line promises: the first words said, and the exit code.
PROMISE = re.compile(r'says "([^"]+)" and exits with (\d+)')
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def shell_blocks():
    """README's lines to type, but for those that other tests run as whole scripts."""
    for code in FENCE.findall(README):
        scripts = ("python3 -m venv", "camera_stand_in.py")
        if not any(word in code for word in scripts):
            yield code


def title(code):
    return " ".join(code.split()[:3])


@pytest.mark.parametrize("code", list(shell_blocks()), ids=title)
def test_what_the_page_says_to_type_works(code, root, home, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    stop_the_clock(monkeypatch)
    stock(tmp_path, root)
    if not code.startswith("passes site add"):
        settle(home)
    for line, remark in lines(code):
        if line not in HELP:
            said, exits = (
                PROMISE.search(remark).groups() if "says" in remark else ("", 0)
            )
            assert enters(line, int(exits)).startswith(said), line


def test_all_of_the_page_s_shell_is_typed_somewhere():
    """Nothing on the page is left to chance: here, or as a script, or by CI."""
    here = set(shell_blocks())
    rest = [code for code in FENCE.findall(README) if code not in here]
    scripts = README.split("## Feeding a capture script")[1].split("\n## ")[0]
    assert len(here) >= 5
    for code in rest:
        assert code.startswith("python3 -m venv") or code in scripts


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_what_stands_in_a_sentence_names_what_there_is(page, root):
    text = (root / page).read_text(encoding="utf-8")
    text = re.sub(r"^ *```.*?^ *```", "", text, flags=re.MULTILINE | re.DOTALL)
    found = [" ".join(one.split()) for one in re.findall(r"`(passes [^`]+)`", text)]
    assert found
    for line in found:
        missing = unknown(line)
        assert not missing, f"{page}: {line}: there is no {missing}"


def unknown(line):
    """Words of a command line that name no command or option; nothing if all do."""
    command, path, missing = cli, ["passes"], []
    words = re.split(r" -- ", line)[0].split()[1:]
    for word in words:
        if isinstance(command, click.Group) and re.fullmatch(r"[a-z]+", word):
            path.append(word)
            command = COMMANDS.get(tuple(path), command)
            missing += [] if tuple(path) in COMMANDS else [word]
    options = {o for param in command.params for o in param.opts + param.secondary_opts}
    options |= {"--help", "--version"}
    typed = {re.match(r"-+[a-z0-9-]+", word)[0] for word in words if word[:2] == "--"}
    return missing + sorted(typed - options)


def test_a_wrong_name_is_seen():
    assert unknown("passes tonight --demo --magnitude 3") == []
    assert unknown("passes tonight --brightest") == ["--brightest"]
    assert unknown("passes elements polish FILE") == ["polish"]
