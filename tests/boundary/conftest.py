"""Plugins by outsiders: distributions faked by a folder on the path, found for real."""

import sys
import textwrap
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from passes.registry import Registry

Install = Callable[..., str]

#: What most plugins of the zoo begin with.
IMPORTS = """
from passes.contributions import *
from passes.hookspecs import hookimpl
"""


@pytest.fixture(autouse=True)
def _no_variables(monkeypatch: pytest.MonkeyPatch) -> None:
    """A developer's own choice of plugins changes no test."""
    monkeypatch.delenv("PASSES_STRICT_PLUGINS", raising=False)
    monkeypatch.delenv("PASSES_DISABLE_PLUGINS", raising=False)


@pytest.fixture
def install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Install]:
    """A function that lays a distribution with plugins on the path.

    ``install(distribution, plugins={name: source})`` gives the distribution's name;
    each source is a module that begins with IMPORTS.
    """
    made: list[str] = []

    def lay(
        distribution: str = "passes-menagerie",
        plugins: dict[str, str] | None = None,
        *,
        version: str = "9.9",
        entry_points: str | None = None,
        metadata: str | None = None,
    ) -> str:
        folder = tmp_path / f"path{len(made)}"
        info = folder / f"{distribution.replace('-', '_')}-{version}.dist-info"
        info.mkdir(parents=True)
        lines = ["[passes.plugins]"]
        for name, source in (plugins or {}).items():
            module = f"zoo_{len(made)}_{name.replace('-', '_')}"
            text = IMPORTS + textwrap.dedent(source)
            (folder / f"{module}.py").write_text(text, encoding="utf-8")
            lines.append(f"{name} = {module}")
            made.append(module)
        head = f"Metadata-Version: 2.1\nName: {distribution}\nVersion: {version}\n"
        (info / "METADATA").write_text(head if metadata is None else metadata)
        (info / "entry_points.txt").write_text(entry_points or "\n".join(lines))
        monkeypatch.syspath_prepend(folder)
        made.append("")
        return distribution

    yield lay
    for module in made:
        sys.modules.pop(module, None)


@pytest.fixture
def load(install: Install) -> Callable[..., Registry]:
    """Install plugins and load them, and nobody else's: ``load(name=source)``."""

    def loaded(plugins: dict[str, str], **choices: object) -> Registry:
        return Registry.from_entry_points(only=[install(plugins=plugins)], **choices)  # type: ignore[arg-type]

    return loaded
