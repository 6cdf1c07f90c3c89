"""Programs run where something is wrong with the machine: disks, users, homes, network.

Each way of making it so is skipped, with the reason, where the system cannot.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest

#: A user that owns nothing.
NOBODY = 65534
#: They may read everything, the interpreter too, wherever it stands.
_AS = (
    *("setpriv", "--reuid", str(NOBODY), "--regid", str(NOBODY), "--clear-groups"),
    *("--inh-caps=+dac_read_search", "--ambient-caps=+dac_read_search"),
)
_LIMITED = (
    "import os, resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0));"
    " os.execvp(sys.argv[1], sys.argv[1:])"
)
_FULL = (
    'mount -t tmpfs -o size=1m none "$0" && cp -a "$1/." "$0/" || exit 99\n'
    'dd if=/dev/zero of="$0/filling" bs=4k 2> /dev/null\n'
    'kept="$1"; shift; "$@"; code=$?\n'
    'rm "$0/filling"; rm -r "$kept"; cp -a "$0" "$kept"; exit $code\n'
)
_READ_ONLY = (
    'mount --bind "$0" "$0" && mount -o remount,ro,bind "$0" || exit 99; exec "$@"'
)

_UNWANTED = (
    *("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "MPLCONFIGDIR"),
    "PASSES_DEBUG",
)


def passes(*args: object) -> list[str]:
    """The command line of the program."""
    return [sys.executable, "-m", "passes", *map(str, args)]


def ran(
    command: Sequence[str], home: Path | None, **more: str
) -> subprocess.CompletedProcess[str]:
    """Run to the end with this home folder, or with none that is named."""
    environment = {**os.environ, "NO_PROXY": "127.0.0.1", **more}
    for name in _UNWANTED:
        environment.pop(name, None)
    if home is not None:
        environment["HOME"] = str(home)
    return subprocess.run(
        command, env=environment, capture_output=True, text=True, timeout=120
    )


def told_in_a_line(
    done: subprocess.CompletedProcess[str], *words: str, code: int = 1
) -> None:
    """The run ended with a line that says all of these, or one and a hint."""
    assert done.returncode == code, done.stderr
    lines = done.stderr.splitlines()
    assert 1 <= len(lines) <= 2, done.stderr
    assert lines[0].startswith("passes: "), done.stderr
    for word in words:
        assert word in done.stderr


@cache
def _mounts() -> bool:
    """Whether this process may mount in a name space of its own."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        return False
    tried = ["unshare", "-m", "mount", "-t", "tmpfs", "none", "/mnt"]
    return subprocess.run(tried, capture_output=True, check=False).returncode == 0


def on_a_full_disk(folder: Path, command: Sequence[str]) -> list[str]:
    """Run a command with the folder on a disk of 1 MB that is full.

    Where nothing can be mounted, with no file that may hold anything.
    """
    if not _mounts():
        return [sys.executable, "-c", _LIMITED, *command]
    place = folder.with_name(f"{folder.name}-full")
    place.mkdir()
    moved = [word.replace(str(folder), str(place)) for word in command]
    return ["unshare", "-m", "sh", "-c", _FULL, str(place), str(folder), *moved]


def on_a_read_only_disk(folder: Path, command: Sequence[str]) -> list[str]:
    """Run a command with the folder mounted for reading only."""
    if not _mounts():
        pytest.skip("mounting for reading only needs root and unshare")
    return ["unshare", "-m", "sh", "-c", _READ_ONLY, str(folder), *command]


def as_another(folder: Path, command: Sequence[str]) -> list[str]:
    """Run a command as a user who may read the folder, and write nothing."""
    tried = [*_AS, "true"]
    if shutil.which("setpriv") is None or subprocess.run(tried, check=False).returncode:
        pytest.skip("becoming another user needs root and setpriv")
    return [*_AS, *command]


def without_network(command: Sequence[str]) -> list[str]:
    """Run a command in a name space without a network."""
    tried = ["unshare", "-n", "true"]
    if shutil.which("unshare") is None or subprocess.run(tried, check=False).returncode:
        pytest.skip("a name space without a network needs root and unshare")
    return ["unshare", "-n", *command]
