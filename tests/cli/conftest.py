"""Running the program as a user types it, with a home folder of its own."""

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result

from passes.cli import cli
from passes.registry import Origin, Registry

Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def home(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """A home folder with nothing in it, and no choices from the environment."""
    folder = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(folder / ".config"))
    for name in ("PASSES_DEBUG", "NO_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    return folder


@pytest.fixture
def run() -> Run:
    """Type a command line; ``obj`` stands in for the services."""

    def typed(*args: str, obj: Any = None, **more: Any) -> Result:
        return CliRunner().invoke(cli, args, obj=obj, prog_name="passes", **more)

    return typed


@pytest.fixture
def with_plugin(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Registry]:
    """Install an invented plugin: hooks by name, each giving its contributions."""

    def install(**hooks: list[Any]) -> Registry:
        from passes.hookspecs import hookimpl

        marked = {
            name: hookimpl(_giving(name, offers)) for name, offers in hooks.items()
        }
        registry = Registry()
        origin = Origin("zoo", "passes-zoo", "9.9")
        assert registry.add(lambda: SimpleNamespace(**marked), origin)
        monkeypatch.setattr(Registry, "from_entry_points", lambda **_: registry)
        return registry

    return install


def _giving(name: str, offers: list[Any]) -> Callable[[], list[Any]]:
    def hook() -> list[Any]:
        return offers

    hook.__name__ = name
    return hook
