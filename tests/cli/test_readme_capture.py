"""The README's three ways to put a camera behind a schedule, run as they stand."""

import os
import re
import subprocess
import sys
from importlib import resources
from pathlib import Path

import pytest

GATE = """#!/bin/sh
# Answers open, wait and dither in turn, as a gate would.
case "$1" in
  gate)
    echo x >> asked
    case $(wc -l < asked) in
      2) echo "wait 0"; exit 10 ;;
      3) echo "dither 0"; exit 11 ;;
      *) echo "open" ;;
    esac ;;
  *) exec {python} -m passes "$@" ;;
esac
"""


@pytest.fixture
def examples(root):
    text = (root / "README.md").read_text(encoding="utf-8")
    part = text.split("## Feeding a capture script")[1].split("\n## ")[0]
    return [
        code for kind, code in re.findall(r"```(python|bash)\n(.*?)```", part, re.S)
    ]


@pytest.fixture
def desk(root, tmp_path, monkeypatch):
    """A folder as the README has it, with ``passes`` on the path."""
    (tmp_path / "fixtures").symlink_to(root / "fixtures")
    program = tmp_path / "bin" / "passes"
    program.parent.mkdir()
    program.write_text(GATE.format(python=sys.executable))
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setenv("CAMERA_LOG", str(tmp_path / "camera.log"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def shell(code):
    return subprocess.run(
        ["sh", "-c", code], capture_output=True, text=True, timeout=120, check=False
    )


def taken(desk: Path):
    return (desk / "camera.log").read_text().splitlines()


def test_a_night_made_and_rehearsed(examples, desk):
    code = next(one for one in examples if "--speed 600 " in one)
    done = shell(
        code.replace("--demo --", "--demo --rig wide --limit 2 --").replace(
            "600", "9000"
        )
    )
    assert done.returncode == 0, done.stderr
    told = [line.split(" | ")[:2] for line in taken(desk)]
    assert ["start", "DEMO STATION"] in told
    assert ["stop", "DEMO STATION"] in told
    assert len(done.stdout.splitlines()) == len(told)


def test_the_script(examples, desk):
    code = next(one for one in examples if "import json" in one)
    assert len(code.strip().splitlines()) <= 14
    make = "passes schedule --demo --rig wide --limit 2 --output night.jsonl"
    assert shell(make).returncode == 0
    done = subprocess.run(
        [sys.executable, "-c", code, "--rehearse", "--speed", "9000"],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    words = [line.split(" | ")[0] for line in taken(desk)]
    assert words == ["start", "stop"] * (len(words) // 2)
    assert words
    assert "DEMO STATION" in done.stdout


def test_the_pipeline(examples, desk):
    code = next(one for one in examples if "grep -E" in one)
    done = shell(code)
    assert done.returncode == 0, done.stderr
    assert {line.split(" | ")[0] for line in taken(desk)} == {"start", "stop"}


def test_the_loop_that_asks_the_gate(examples, desk):
    code = next(one for one in examples if "passes gate" in one)
    done = shell(code)
    assert done.returncode == 0, done.stderr
    words = [line.split(" | ")[:2] for line in taken(desk)]
    assert words == [
        ["start", "sub 0"],
        ["dither", "sub 1"],
        ["start", "sub 1"],
        ["start", "sub 2"],
    ]
    assert len((desk / "asked").read_text().splitlines()) == 5


def test_the_loop_asks_the_real_gate(examples, desk):
    passes = desk / "bin" / "passes"
    real = f'exec {sys.executable} -m passes "$@"'
    if subprocess.run(
        ["sh", "-c", real, "sh", "gate", "--help"], check=False
    ).returncode:
        pytest.skip("this installation has no passes gate")
    demo = "--demo --now 2029-03-17T20:05:00Z"
    passes.write_text(f"#!/bin/sh\n# On the invented night.\n{real} {demo}\n")
    plan = Path(str(resources.files("passes") / "data" / "demo" / "session.toml"))
    (desk / "plan.toml").write_text(plan.read_text(encoding="utf-8"))
    done = shell(next(one for one in examples if "passes gate" in one))
    assert done.returncode == 0, done.stderr
    assert [line.split(" | ")[1] for line in taken(desk)] == ["sub 0", "sub 1", "sub 2"]
    # An answer that is none opens nothing.
    passes.write_text("#!/bin/sh\necho no such file >&2\nexit 2\n")
    again = shell(next(one for one in examples if "passes gate" in one))
    assert again.returncode == 1
    assert len(taken(desk)) == 3
