"""What starting costs, held by what a fresh interpreter has loaded."""

import subprocess
import sys

import pytest

#: What only work needs; most of these cost a tenth of a second or more.
HEAVY = {
    *("numpy", "skyfield", "sgp4", "heyoka", "matplotlib", "astropy", "httpx", "rich"),
    *("jinja2", "pytest", "passes.forecast", "passes.elements", "passes.sky"),
}


def loaded_by(code: str) -> set[str]:
    """The modules that a fresh interpreter has after running some code."""
    report = "\nimport sys\nsys.stderr.write(' '.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code + report],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return set(done.stderr.splitlines()[-1].split())


LIST = """
from passes.registry import Registry
listed = Registry.from_entry_points(only=["passes"]).listing()
assert all(one.state == "working" for one in listed), listed
"""
HELP = """
import contextlib, io, sys
from passes.cli import main
sys.argv = ["passes", "--help"]
with contextlib.redirect_stdout(io.StringIO()) as page, contextlib.suppress(SystemExit):
    main()
assert "plugins" in page.getvalue()
"""


@pytest.mark.parametrize("code", [LIST, HELP], ids=["listing", "help"])
def test_listing_plugins_and_help_load_nothing_heavy(code: str) -> None:
    loaded = loaded_by(code)
    assert loaded.isdisjoint(HEAVY), loaded.intersection(HEAVY)


def test_listing_needs_no_records() -> None:
    assert "passes.model" not in loaded_by(LIST)


def test_the_kit_needs_no_pytest_and_no_numpy() -> None:
    assert loaded_by("import passes.testing").isdisjoint(("pytest", "numpy"))
