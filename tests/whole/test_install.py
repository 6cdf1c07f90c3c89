"""README's first command as it stands, in a copy of the source; what a wheel holds."""

import re
import shutil
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def checkout(wheel: Any, root: Path, tmp_path: Path) -> Path:
    """The source alone, with a venv that has what the program depends on.

    So the command needs no network: pip finds everything but the program in place.
    """
    for name in ("passes", "plugins"):
        shutil.copytree(
            root / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__")
        )
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(root / name, tmp_path)
    assert wheel.type("python3 -m venv .venv", tmp_path).returncode == 0
    (there,) = wheel.folder.glob("venv/lib/python*/site-packages")
    (here,) = tmp_path.glob(".venv/lib/python*/site-packages")
    (here / "there.pth").write_text(f"{there}\n")
    return tmp_path


def test_one_line_leads_from_the_source_to_the_demo(wheel: Any, checkout: Path) -> None:
    page = (checkout / "README.md").read_text(encoding="utf-8")
    (line,) = re.findall(r"^python3 -m venv .*/passes tonight --demo$", page, re.M)
    done = wheel.type(line, checkout, PIP_NO_BUILD_ISOLATION="false")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Demo: ")
    assert "DEMO STATION" in done.stdout
    where = ".venv/bin/python -c 'import passes; print(passes.__file__)'"
    found = Path(wheel.type(f"cd / && {checkout}/{where}").stdout.strip())
    assert checkout / ".venv" in found.parents


def test_the_wheel_holds_both_packages_with_their_files(wheel: Any, root: Path) -> None:
    """Nothing that stands beside the code in the source is missing, or new."""
    (there,) = wheel.folder.glob("venv/lib/python*/site-packages")
    for source in (root / "passes", root / "plugins" / "passes_plugins"):
        assert files(there / source.name) == files(source)


def files(folder: Path) -> set[Path]:
    """Every file below a folder, by its place in it; compiled ones left out."""
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return {path for path in found if "__pycache__" not in path.parts}
