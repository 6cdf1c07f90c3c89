"""DEVELOPERS.md keeps its word: each command it names is run, by whom it says."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from pages import chapter

COMMAND = re.compile(
    r"`((?:pytest|ruff|mypy|lint-imports|python|pip|\.ci/run)\b[^`]*)`"
)
#: Commands in the page's sentences, and what stands behind each.
ELSEWHERE = {
    "pip install -e .": "what .ci/run does, with extras",
    "pip install -e '.[test,dev,fits,fast]'": "see the test of the extras",
    "pip uninstall passes-hilltop": "the tutorial's test does it at its end",
    "python fixtures/build/make_pictures.py": "run by hand, loaded below",
    "python tests/contract.py": "run below",
}


@pytest.fixture(scope="module")
def page(root: Path) -> str:
    return (root / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def table(page: str) -> dict[str, str]:
    """Commands of the table, and who runs each."""
    rows = re.findall(
        r"^\| [^|]+ \| (.+) \| ([^|]+) \|$", chapter(page, "Running things"), re.M
    )
    return {c: who for cell, who in rows for c in COMMAND.findall(cell)}


def test_every_command_of_the_page_is_accounted_for(
    page: str, table: dict[str, str]
) -> None:
    prose = re.sub(r"^ *```.*?^ *```", "", page, flags=re.MULTILINE | re.DOTALL)
    assert set(COMMAND.findall(prose)) == set(table) | set(ELSEWHERE)


def test_what_ci_is_said_to_run_it_runs(root: Path, table: dict[str, str]) -> None:
    script = (root / ".ci" / "run").read_text(encoding="utf-8")
    script += (root / "README.md").read_text(encoding="utf-8")  # whose command it runs
    said = [command for command, who in table.items() if who == "CI"]
    assert len(said) == 5
    for command in said:
        assert f".venv/bin/{command}" in script, command


def test_the_tests_of_one_part_can_be_asked_for(
    root: Path, table: dict[str, str]
) -> None:
    (said,) = (command for command, who in table.items() if "collecting" in who)
    words = [*said.split(), "--collect-only", "-p", "no:cacheprovider"]
    done = subprocess.run(
        [sys.executable, "-m", *words], cwd=root, capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert "tests/cli/test_tonight.py::" in done.stdout


def test_what_is_promised_can_be_compared_as_the_page_says(root: Path) -> None:
    done = subprocess.run(
        [sys.executable, "tests/contract.py"], cwd=root, capture_output=True,
        text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_extras_named_are_there(root: Path, page: str) -> None:
    import tomllib

    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    named = re.findall(r"pip install -e '\.\[([a-z,]+)\]'", page)
    assert named
    for extras in named:
        known = set(project["project"]["optional-dependencies"])
        assert set(extras.split(",")) <= known


@pytest.mark.parametrize("folder", ["tests/benchmarks", "fixtures/build"])
def test_what_is_run_by_hand_can_be_loaded(
    folder: str, root: Path, table: dict[str, str]
) -> None:
    if not (root / "passes").is_dir():
        pytest.skip("they read and write a source tree, and there is none here")
    said = f"python {folder}/<name>.py"
    assert table[said].startswith("hand")
    scripts = sorted((root / folder).glob("*.py"))
    assert len(scripts) > 5
    load = (
        "import runpy, sys\n"
        "for script in sys.argv[1:]:\n"
        "    sys.path[0] = script.rpartition('/')[0]\n"
        "    runpy.run_path(script, run_name='loaded')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", load, *map(str, scripts)],
        cwd=root, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
