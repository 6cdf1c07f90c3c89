"""The zoo of bad plugins as a person meets it: installed, and the program typed.

Each is laid on ``PYTHONPATH`` with the metadata that an installer writes, and meets a
process of its own.  What it breaks is named; every answer is the same as without it.
"""

import json
import os
import signal
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

IMPORTS = """
from passes.contributions import *
from passes.hookspecs import hookimpl
"""
ADVISER = """
@hookimpl
def passes_advisers():
    yield Adviser(name="odd", summary="Odd.", advise=advise)
"""
EXPORTER = """
@hookimpl
def passes_exporters():
    yield Exporter(name="odd", summary="Odd.", export=export, accepts=["passes"])
"""
REPORTER = """
@hookimpl
def passes_session_reporters():
    yield SessionReporter(name="odd", summary="Odd.", report=report, kinds=["twilight"])
"""
MODEL = """
@hookimpl
def passes_brightness_models():
    yield BrightnessModel(name="odd", summary="Odd.", magnitude=magnitude)
"""
TONIGHT = ("tonight", "--demo", "--json")
ADVISE = ("advise", "--demo", "--json")
HELP = ("--help",)

#: What it does, its source, what is typed, and what must be said; nothing else changes.
AMBIENT = {
    "fails on import": (
        "raise RuntimeError('no luck')",
        TONIGHT,
        "RuntimeError: no luck",
    ),
    "exits on import": ("raise SystemExit(0)", TONIGHT, "import: SystemExit: 0"),
    "is no Python": ("def broken(:", TONIGHT, "import: SyntaxError"),
    "fails on register": (
        "@hookimpl\ndef passes_exporters(services): return []",
        TONIGHT,
        "register: passes_exporters must take no arguments",
    ),
    "has a misspelt hook": (
        "@hookimpl\ndef passes_exporter(): return []",
        TONIGHT,
        "did you mean passes_exporters?",
    ),
    "dies half-way through a hook": (
        "def advise(b): pass" + ADVISER + "    1 / 0",
        ADVISE,
        "collect: ZeroDivisionError",
    ),
    "dies half-way through an answer": (
        "def advise(b): b.track.altitude_deg[0] = 1" + ADVISER,
        ADVISE,
        "run: ValueError: assignment destination is read-only",
    ),
    "answers with the wrong type": (
        "def advise(b): return '1/500 s'" + ADVISER,
        ADVISE,
        "run: TypeError: advise gave str, want Advice",
    ),
    "offers the wrong type": (
        "@hookimpl\ndef passes_advisers(): return [print]",
        ADVISE,
        "offered builtin_function_or_method, want Adviser",
    ),
    "takes a name of another": (
        '@hookimpl\ndef passes_advisers():\n    yield Adviser(name="imaging", '
        'summary="Mine.", advise=print)',
        ADVISE,
        "clash: adviser imaging is taken by plugin imaging (passes ",
    ),
    "takes a command of the program": (
        '@hookimpl\ndef passes_commands():\n    yield Command(name="tonight", '
        'summary="Mine.", load=print)',
        HELP,
        "clash: command tonight is the program's own",
    ),
    "prints to stdout": (
        "print('{')\n@hookimpl\ndef passes_exporters():\n    print('}')\n    return []",
        TONIGHT,
        "{",
    ),
}
#: The same where the user named it: nothing is answered, and the culprit is told.
NAMED = {
    "gives the wrong shape": (
        "def magnitude(i):\n    import numpy as np\n    return Brightness(magnitude="
        "np.zeros(1), sigma=np.ones(1), basis=(), class_average=())" + MODEL,
        ("tonight", "--demo", "--brightness", "odd"),
        "brightness model odd, from plugin odd-one (passes-menagerie 9.9), failed",
    ),
    "gives bytes for text": (
        "def export(a): return b'x'" + EXPORTER,
        ("tonight", "--demo", "--format", "odd"),
        "exporter odd, from plugin odd-one (passes-menagerie 9.9), failed: TypeError",
    ),
    "exits when it is asked": (
        "def export(a): raise SystemExit(0)" + EXPORTER,
        ("tonight", "--demo", "--format", "odd"),
        "exporter odd, from plugin odd-one (passes-menagerie 9.9), failed: SystemExit",
    ),
    "loads no command": (
        '@hookimpl\ndef passes_commands():\n    yield Command(name="odd", '
        'summary="Odd.", load=lambda: print)',
        ("odd",),
        "command odd, from plugin odd-one (passes-menagerie 9.9), failed: TypeError",
    ),
    "has a command that fails": (
        "import click\n@click.command()\ndef command(): 1 / 0\n@hookimpl\n"
        'def passes_commands():\n    yield Command(name="odd", summary="Odd.", '
        "load=lambda: command)",
        ("odd",),
        "the command of plugin odd-one failed: ZeroDivisionError",
    ),
}

Installed = Callable[[str], dict[str, str]]


@pytest.fixture
def installed(tmp_path: Path) -> Installed:
    """Lay one plugin on a path; the environment in which the program finds it."""

    def lay(source: str) -> dict[str, str]:
        info = tmp_path / "site" / "passes_menagerie-9.9.dist-info"
        info.mkdir(parents=True)
        (tmp_path / "site" / "odd_one.py").write_text(
            IMPORTS + textwrap.dedent(source) + "\n"
        )
        (info / "METADATA").write_text(
            "Metadata-Version: 2.1\nName: passes-menagerie\nVersion: 9.9\n"
        )
        (info / "entry_points.txt").write_text("[passes.plugins]\nodd-one = odd_one\n")
        return environment(tmp_path) | {"PYTHONPATH": str(tmp_path / "site")}

    return lay


def environment(home: Path) -> dict[str, str]:
    """Nobody's choices but the test's."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("PASSES_")}
    kept.pop("PYTHONPATH", None)
    return {**kept, "HOME": str(home), "XDG_CONFIG_HOME": str(home), "COLUMNS": "100"}


def typed(
    args: tuple[str, ...], env: dict[str, str]
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "passes", *args],
        capture_output=True,
        text=True,
        env=env,
        timeout=120,
    )


@pytest.fixture(scope="module")
def without(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, ...], str]:
    """What the program answers where no bad plugin is installed."""
    env = environment(tmp_path_factory.mktemp("home"))
    found = {}
    for args in (TONIGHT, ADVISE, HELP):
        done = typed(args, env)
        assert done.returncode == 0, done.stderr
        found[args] = done.stdout
    return found


@pytest.mark.parametrize("what", AMBIENT)
def test_one_that_nobody_named_is_named_and_the_rest_goes_on(
    what: str, installed: Installed, without: dict[tuple[str, ...], str]
) -> None:
    source, args, words = AMBIENT[what]
    done = typed(args, installed(source))
    assert done.returncode == 0, done.stderr
    assert done.stdout == without[args]
    assert words in done.stderr
    assert what == "prints to stdout" or (
        "passes: plugin odd-one (passes-menagerie 9.9): " in done.stderr
    )
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("what", NAMED)
def test_one_that_was_named_stops_with_its_name(
    what: str, installed: Installed
) -> None:
    source, args, words = NAMED[what]
    done = typed(args, installed(source))
    assert done.returncode == 1
    assert words in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("what", ["fails on import", "offers the wrong type"])
def test_strictness_makes_it_an_error_and_disabling_silences_it(
    what: str, installed: Installed
) -> None:
    source, args, words = AMBIENT[what]
    env = installed(source)
    strict = typed(args, {**env, "PASSES_STRICT_PLUGINS": "1"})
    assert (strict.returncode, strict.stdout) == (1, "")
    assert words in strict.stderr
    silent = typed(args, {**env, "PASSES_DISABLE_PLUGINS": "odd-one"})
    assert silent.returncode == 0
    assert "odd-one" not in silent.stderr


HANGS = {
    "on import": ("import time; time.sleep(600)", "import"),
    "when it is asked": (
        "def report(b):\n    import time; time.sleep(600)" + REPORTER,
        "session reporter odd",
    ),
}


@pytest.mark.parametrize("what", HANGS)
def test_one_that_hangs_is_named_with_the_way_to_disable_it(
    what: str, installed: Installed, tmp_path: Path
) -> None:
    """It is told while it hangs, and that what is told helps is tried."""
    source, doing = HANGS[what]
    env = installed(source)
    args = ("schedule", "--demo", "--json", "--plan", str(_plan()))
    running = subprocess.Popen(
        [sys.executable, "-m", "passes", *args],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env,
    )
    try:
        assert running.stderr is not None
        line = next((one for one in running.stderr if "odd-one" in one), "")
        assert running.poll() is None
        running.send_signal(signal.SIGINT)
        assert running.wait(30) == 130
    finally:
        running.kill()
        running.communicate()
    assert line == (
        f"plugin odd-one (passes-menagerie 9.9): {doing} is taking more than 10 s; "
        "PASSES_DISABLE_PLUGINS=odd-one leaves it out\n"
    )
    told = line.split("; ")[1].split()[0]
    name, _, value = told.partition("=")
    done = typed(args, {**env, name: value})
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["steps"]


def _plan() -> Path:
    import passes

    return Path(passes.__file__).parent / "data" / "demo" / "session.toml"


def test_the_listing_tells_each_fault_where_it_belongs(installed: Installed) -> None:
    source = "def advise(b): pass" + ADVISER + "    1 / 0"
    done = typed(("plugins", "--json"), installed(source))
    assert done.returncode == 0
    listed = {one["name"]: one for one in json.loads(done.stdout)["plugins"]}
    assert listed["odd-one"]["state"] == "faulty"
    assert listed["odd-one"]["problems"][0]["stage"] == "collect"
    states = {one["state"] for name, one in listed.items() if name != "odd-one"}
    assert states == {"working"}
