"""Commands about the archive stopped half-way, as separate programs."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import loopback
import pytest

from passes.testing.elements import element_text

BODY = element_text().encode()


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """A home folder of its own."""
    return {
        **os.environ,
        "HOME": str(tmp_path),
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
        "NO_PROXY": "127.0.0.1",
    }


def passes(*args: str) -> list[str]:
    return [sys.executable, "-m", "passes", *args]


def kept(environment: dict[str, str]) -> int:
    done = subprocess.run(
        passes("elements", "list", "--json"),
        env=environment,
        capture_output=True,
        timeout=60,
        check=True,
    )
    return int(json.loads(done.stdout)["holds"]["sets"])


def add(environment: dict[str, str], *before: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*before, *passes("elements", "add", "-")],
        env=environment,
        input=element_text(),
        capture_output=True,
        text=True,
        timeout=60,
    )


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_stopped_while_fetching(environment: dict[str, str], how: int) -> None:
    first = "\n".join(element_text().splitlines()[:3])
    subprocess.run(
        passes("elements", "add", "-"),
        env=environment,
        input=first,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    with loopback.serving() as server:
        server.says(loopback.slowly(BODY, each_s=5.0))
        subprocess.run(
            passes("elements", "sources", "--add", "club", "--url", server.url),
            env=environment,
            capture_output=True,
            timeout=60,
            check=True,
        )
        fetching = subprocess.Popen(
            passes("elements", "fetch"),
            env=environment,
            stderr=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        end = time.monotonic() + 60
        while not server.seen and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(0.3)  # into the answer, most times; any time before it is as good
        fetching.send_signal(how)
        _, told = fetching.communicate(timeout=60)
    if how == signal.SIGINT:
        assert fetching.returncode == 130
        assert told.splitlines()[-1] == "passes: stopped"
        assert "Traceback" not in told
    assert kept(environment) == 1


def test_a_full_disk_is_one_clear_line(environment: dict[str, str]) -> None:
    assert add(environment).returncode == 0
    archive = Path(environment["XDG_DATA_HOME"]) / "passes" / "elements.sqlite"
    size = archive.stat().st_size
    made = element_text().replace("31284.5", "31285.5").replace("31284.2", "31285.2")
    limit = (
        "import os, resource, sys; "
        f"resource.setrlimit(resource.RLIMIT_FSIZE, ({size // 8}, {size // 8})); "
        "os.execv(sys.argv[1], sys.argv[1:])"
    )
    lines = [line[:68] for line in made.splitlines()]
    fresh = "\n".join(_summed(line) for line in lines) + "\n"
    done = subprocess.run(
        [sys.executable, "-c", limit, *passes("elements", "add", "-")],
        env=environment,
        input=fresh,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 1
    assert "nothing was added" in done.stderr
    assert len(done.stderr.splitlines()) <= 2
    assert kept(environment) == 2


def _summed(line: str) -> str:
    if line[:2] not in ("1 ", "2 "):
        return line
    total = sum(int(c) if c.isdigit() else c == "-" for c in line)
    return f"{line}{total % 10}"
