"""The built wheel in a fresh venv, made once, as the tutorial says; and no network.

``PASSES_WHEEL_FOLDER`` names a folder to make it in, or one where it stands already.
"""

import fcntl
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from pages import TUTORIAL, blocks, chapter

#: Fallback for systems without network namespaces: Python refuses to connect.
_GUARD = """
import socket

def refuse(self, *args):
    if self.family in (socket.AF_INET, socket.AF_INET6):
        raise OSError("the test allows no network")
    return _connect(self, *args)

_connect = socket.socket.connect
socket.socket.connect = socket.socket.connect_ex = refuse
"""
#: How an outcome begins that is nobody's fault here.
_UNREACHED = "pip cannot get what a wheel and its venv need"
#: What belongs to the venv and stays when the folder is emptied.
_MADE = ("guard", "home", "lock", "outcome", "venv")


@cache
def cut() -> tuple[str, ...]:
    """Words before a command that take the network away; none if the system can't."""
    for words in (("unshare", "-n"), ("unshare", "-rn")):
        if (
            shutil.which(words[0])
            and not subprocess.run(
                [*words, "true"], capture_output=True, check=False
            ).returncode
        ):
            return words
    return ()


@dataclass(frozen=True)
class Wheel:
    """A folder with a wheel, a venv that has it installed, and an empty home."""

    folder: Path

    @property
    def file(self) -> Path:
        """The wheel itself."""
        (found,) = self.folder.glob("passes-*.whl")
        return found

    def empty(self) -> None:
        """Leave nothing in the folder but what was made at first."""
        for path in self.folder.iterdir():
            if path.suffix != ".whl" and path.name not in _MADE:
                shutil.rmtree(path) if path.is_dir() else path.unlink()

    def type(
        self,
        command: str,
        cwd: Path | None = None,
        *,
        offline: bool = True,
        **variables: str,
    ) -> subprocess.CompletedProcess[str]:
        """Type a line into a shell, in the folder itself unless told otherwise."""
        before = cut() if offline else ()
        return subprocess.run(
            [*before, "sh", "-c", command],
            cwd=cwd or self.folder,
            env=self._environment(offline) | variables,
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )

    def _environment(self, offline: bool) -> dict[str, str]:
        kept = ("LANG", "LC_ALL", "TMPDIR", "SSL_CERT_FILE")
        pip = [name for name in os.environ if name.startswith("PIP_")]
        here = {name: os.environ[name] for name in (*kept, *pip) if name in os.environ}
        python = Path(sys.executable).parent
        here |= {
            "PATH": f"{python}{os.pathsep}{os.environ['PATH']}",
            "HOME": str(self.folder / "home"),
            "TZ": "UTC",
            "PASSES": str(self.file),
            "PASSES_STRICT_PLUGINS": "1",
        }
        if offline:
            here["PIP_NO_INDEX"] = "1"
        if offline and not cut():
            here["PYTHONPATH"] = str(self.folder / "guard")
        return here


@pytest.fixture(scope="session")
def made(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Wheel:
    """The wheel and its venv; skips where pip cannot get what they need."""
    if not (root / "passes" / "__init__.py").exists():
        pytest.skip("no source here to build a wheel from")
    folder = _shared(tmp_path_factory)
    folder.mkdir(parents=True, exist_ok=True)
    with _alone(folder):
        if not (folder / "outcome").exists():
            (folder / "outcome").write_text(_make(root, folder))
    outcome = (folder / "outcome").read_text()
    if outcome.startswith(_UNREACHED):
        pytest.skip(outcome)
    assert outcome == "made", outcome
    return Wheel(folder)


@pytest.fixture
def wheel(
    made: Wheel, record_property: Callable[[str, object], None]
) -> Iterator[Wheel]:
    """The venv for one test alone, even where tests run side by side."""
    how = " ".join(cut()) or "a socket module that refuses, for want of unshare"
    record_property("no network by", how)  # told at the end of the run
    with _alone(made.folder):
        yield made


def _shared(factory: pytest.TempPathFactory) -> Path:
    """One folder for all workers of a run."""
    if named := os.environ.get("PASSES_WHEEL_FOLDER"):
        return Path(named).absolute()
    base = factory.getbasetemp()
    return (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "wheel"


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    with open(folder / "lock", "w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _make(root: Path, folder: Path) -> str:
    """Build the wheel, type the first commands of the tutorial; made, or why not."""
    build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps"]
    built = subprocess.run(
        [*build, "--wheel-dir", folder, root],
        capture_output=True,
        text=True,
        check=False,
    )
    if built.returncode:
        return _why("pip wheel", built.stderr)
    (folder / "home").mkdir()
    (folder / "guard").mkdir()
    (folder / "guard" / "sitecustomize.py").write_text(_GUARD)
    page = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    first = next(one for one in blocks(chapter(page, TUTORIAL)) if one.kind)
    for command, _ in first.typed():
        done = Wheel(folder).type(command, offline=False)
        if done.returncode:
            return _why(command, done.stderr)
    return "made"


def _why(command: str, told: str) -> str:
    """What went wrong, and whether only because pip could not get something."""
    errors = [line for line in told.splitlines() if "ERROR: " in line] or [told[-300:]]
    signs = ("No matching distribution", "Could not find a version", "onnection")
    start = _UNREACHED if any(sign in told for sign in signs) else "failed"
    return f"{start}: {command}: {errors[-1].strip()}"
