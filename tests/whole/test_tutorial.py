"""The tutorial for plugin authors, typed as it is printed, on the built wheel."""

from pathlib import Path

import pytest
from pages import TUTORIAL, Block, blocks, chapter, shows

HOOKS = {
    "passes_element_sources",
    "passes_brightness_models",
    "passes_advisers",
    "passes_session_reporters",
    "passes_exporters",
    "passes_commands",
}


@pytest.fixture(scope="module")
def tutorial(root: Path) -> list[Block]:
    page = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    return list(blocks(chapter(page, TUTORIAL)))


def test_it_has_a_plugin_and_a_test_for_each_hook(tutorial: list[Block]) -> None:
    plugins = {
        hook: one.name
        for one in tutorial
        for hook in HOOKS
        if f"def {hook}(" in one.code
    }
    assert set(plugins) == HOOKS
    tests = {one.name for one in tutorial if one.name.startswith("tests/")}
    for name in plugins.values():
        assert f"tests/test_{Path(name).name}" in tests


def test_typed_as_it_is_printed_it_works(wheel, tutorial: list[Block]) -> None:
    beginning, *rest = tutorial
    assert "python3 -m venv venv" in beginning.code  # typed when the venv was made
    wheel.empty()
    try:
        for block in rest:
            if block.name:
                written(wheel.folder, block)
            else:
                assert block.kind == "console", block.code
                for command, shown in block.typed():
                    done = wheel.type(command)
                    assert done.returncode == 0, f"{command}\n{done.stderr}"
                    assert shows(done.stdout, shown), (
                        f"{command}\nprinted:\n{done.stdout}\nshown:\n{shown}"
                    )
    finally:
        wheel.type("venv/bin/pip uninstall -q -y passes-hilltop")


def written(folder: Path, block: Block) -> None:
    """Write a file of the page, or add to it."""
    path = folder / block.name
    path.parent.mkdir(parents=True, exist_ok=True)
    before = path.read_text(encoding="utf-8") if block.adds else ""
    assert before or not block.adds, f"{block.name} is added to before it is there"
    path.write_text(before + block.code, encoding="utf-8")


def test_what_is_shown_must_be_what_is_printed() -> None:
    assert shows("3 passed in 0.1s\n", "3 passed in …\n")
    assert not shows("4 passed in 0.1s\n", "3 passed in …\n")
    assert not shows("3 passed in\n1s\n", "3 passed in …\n")
    assert not shows("a.b\n", "a+b\n")
