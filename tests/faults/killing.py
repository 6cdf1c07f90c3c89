"""Programs killed at random moments: how they are started, killed and counted.

A program runs in a process that has imported everything before, so that the moments
fall into its work, not into its start.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload(
    [
        *("passes.cli", "passes.archive", "passes.elements", "passes.forecast"),
        *("passes_plugins.sheet", "passes_plugins.scheduling"),
        *("httpx", "matplotlib.figure", "skyfield.api"),
    ]
)


@dataclass(slots=True, kw_only=True)
class Toll:
    """What has come of the kills: how many fell before the work was done and after.

    ``faults`` says, a line each, what was lost, halved, repeated or forgotten.
    """

    kind: str
    kills: int = 0
    before: int = 0
    after: int = 0
    faults: list[str] = field(default_factory=list)

    def count(self, done: bool) -> None:
        """One more kill, before or after the work was done."""
        self.kills += 1
        self.after += done
        self.before += not done

    def fault(self, what: str) -> None:
        """Something that must not be."""
        self.faults.append(f"{self.kind}, kill {self.kills}: {what}")


# --- programs -----------------------------------------------------------------------


def _work(args: Sequence[str], environment: Mapping[str, str], log: str) -> None:
    """Be the program, its output in a file."""
    os.environ.clear()
    os.environ.update(environment)
    target = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o666)
    os.dup2(target, 1)
    os.dup2(target, 2)
    from passes.cli import cli

    cli.main(list(args), prog_name="passes")


def started(args: Sequence[str], home: Path, **more: str) -> Any:
    """A running program with a home folder of its own."""
    environment = {
        **os.environ,
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "NO_PROXY": "127.0.0.1",
        **more,
    }
    process = _CONTEXT.Process(
        target=_work, args=(list(args), environment, str(home / "told"))
    )
    process.start()
    return process


def killed(process: Any, when: Callable[[], bool] | None, after_s: float) -> bool:
    """Kill it so long after ``when`` holds; whether it had ended well by itself."""
    while when is not None and process.is_alive() and not when():
        time.sleep(2e-4)
    process.join(after_s)
    ended = not process.is_alive()
    process.kill()
    process.join()
    code = process.exitcode
    process.close()
    return ended and not code


def length_of_s(start: Callable[[], Any]) -> float:
    """How long the program takes when nobody kills it."""
    process = start()
    begun = time.monotonic()
    assert killed(process, None, 300.0)
    return time.monotonic() - begun
