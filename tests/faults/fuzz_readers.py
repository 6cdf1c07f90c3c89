"""Fuzz every reader: what comes out, how slow the slowest was, how much memory it took.

    python tests/faults/fuzz_readers.py --inputs 50000            # every reader
    python tests/faults/fuzz_readers.py --inputs 50000 fits plan  # two of them
    python tests/faults/fuzz_readers.py --inputs 5000 all         # in one process

With atheris (extra ``fuzz``) inputs follow what they reach in the code; without it
they are spoilt seeds.  One reader after the other, each in a process of its own.
Whatever but the program's own errors comes out is kept under ``--found``, one file a
place in the code; exit code 1 says that there was something, or an input over 2 s, or
memory over 1 GB.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random
from typing import Any

#: What an input may take at most: time of the processor, and memory of the process.
SLOWEST_S, MOST_MB = 2.0, 1024
#: After so long an input is given up, s.
_PATIENCE_S = 10.0
#: Inputs are at most so long, or half as long again as the longest sound one, bytes.
_SHORT = 4096
_HERE = Path(__file__)
_ENGINES = ("atheris", "loop")
_HEAD = ("reader", "engine", "inputs", "read", "refused", "broken", "slowest", "memory")


class Hung(BaseException):
    """An input has taken too long; no reader may catch this."""


class Tally:
    """What has come of one reader's inputs so far; written down when it is enough."""

    def __init__(self, name: str, engine: str, most: int, found: Path) -> None:
        from fuzz_targets import named, outcome

        self._reader, self._outcome = named(name), outcome
        self._most, self._found = most, found
        self._begun = time.monotonic()
        signal.signal(signal.SIGVTALRM, _hang)
        self.counts: dict[str, Any] = {
            **{"reader": name, "engine": engine, "inputs": 0, "read": 0, "refused": 0},
            **{"broken": [], "slowest_s": 0.0, "memory_mb": 0.0, "took_s": 0.0},
        }

    def __call__(self, data: bytes) -> None:
        """Give one input to the reader."""
        begun = time.process_time()
        signal.setitimer(signal.ITIMER_VIRTUAL, _PATIENCE_S, 1.0)
        try:
            self.counts[self._outcome(self._reader, data)] += 1
        except (Exception, Hung) as error:  # whatever it is, it is a finding
            self._keep(data, _place_of(error))
        signal.setitimer(signal.ITIMER_VIRTUAL, 0.0)
        took_s = time.process_time() - begun
        if took_s > SLOWEST_S:
            self._keep(data, "slow")
        self.counts["slowest_s"] = max(self.counts["slowest_s"], took_s)
        self.counts["inputs"] += 1

    @property
    def enough(self) -> bool:
        """Whether all inputs have been given."""
        return bool(self.counts["inputs"] >= self._most)

    def _keep(self, data: bytes, place: str) -> None:
        if place not in self.counts["broken"]:
            self.counts["broken"].append(place)
            name = f"{self._reader.name} {place}".replace(" ", "-").replace("/", "_")
            (self._found / name).write_bytes(data)

    def written(self, path: Path) -> None:
        """Write the counts into a file."""
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        self.counts["memory_mb"] = peak / (1024 if sys.platform != "darwin" else 2**20)
        self.counts["took_s"] = time.monotonic() - self._begun
        path.write_text(json.dumps(self.counts))


def _hang(*_: object) -> None:
    raise Hung


def _place_of(error: BaseException) -> str:
    """The kind of error and the last line of ours that it went through."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [f for f in frames if "/passes" in f.filename and "/fuzz_" not in f.filename]
    last = (ours or frames)[-1]
    return f"{type(error).__name__} {Path(last.filename).name}:{last.lineno}"


# --- one reader, in a process of its own ----------------------------------------


def _loop(tally: Tally, seed: int) -> None:
    from fuzz_targets import named, spoilt_seed

    reader = named(tally.counts["reader"])
    rnd = Random(seed)
    while not tally.enough:
        tally(spoilt_seed(reader, rnd))


def _atheris(tally: Tally, seed: int, written: Callable[[], None]) -> None:
    """Inputs guided by coverage; half of the changes know the form's shape,
    and half of those begin with a sound file.
    """
    import atheris
    from fuzz_targets import named

    reader = named(tally.counts["reader"])

    def one(data: bytes) -> None:
        tally(data)
        if tally.enough:
            written()
            os._exit(0)

    def changed(data: bytes, most: int, number: int) -> bytes:
        rnd = Random(number)
        way = rnd.randint(0, 3)
        if way == 0:  # not to go astray among what is refused anyway
            data = rnd.choice(reader.seeds)
        if way < 2:
            return reader.mutate(data, rnd)[:most]
        return bytes(atheris.Mutate(data, most))[:most]

    with tempfile.TemporaryDirectory() as corpus:
        for i, sound in enumerate(reader.seeds):
            (Path(corpus) / str(i)).write_bytes(sound)
        longest = max(_SHORT, *(len(sound) * 3 // 2 for sound in reader.seeds))
        limits = (f"-max_len={longest}", "-rss_limit_mb=0", "-timeout=3000")
        options = (sys.argv[0], *limits, "-verbosity=0", f"-seed={seed}", corpus)
        atheris.Setup(list(options), one, custom_mutator=changed)
        atheris.Fuzz()


def _instrumented() -> None:
    """Import the readers so that atheris sees which of their lines run."""
    import atheris

    with atheris.instrument_imports(
        include=["passes", "passes_plugins", "tomllib"], enable_loader_override=False
    ):
        import fuzz_targets  # noqa: F401


def _child(args: argparse.Namespace, result: Path) -> None:
    if args.engine == "atheris":
        _instrumented()
    tally = Tally(args.readers[0], args.engine, args.inputs, args.found)

    def written() -> None:
        tally.written(result)

    if args.engine == "atheris":
        _atheris(tally, args.seed, written)
    _loop(tally, args.seed)
    written()


# --- all of them ----------------------------------------------------------------


def _run(name: str, args: argparse.Namespace, folder: Path) -> dict[str, Any]:
    """Fuzz one reader in a process; what it counted."""
    result = folder / name.replace(" ", "-")
    command = [sys.executable, str(_HERE), name, "--result", str(result)]
    command += ["--engine", args.engine, "--inputs", str(args.inputs)]
    command += ["--seed", str(args.seed), "--found", str(args.found)]
    log = folder / "stderr"
    with log.open("wb") as stderr:
        more = {**os.environ, "TMPDIR": str(folder)}  # removed here, whatever ends it
        done = subprocess.run(command, stderr=stderr, env=more, check=False)
    if not result.exists():
        told = log.read_text("utf-8", "replace")[-3000:]
        raise SystemExit(f"{name}: the process ended with {done.returncode}\n{told}")
    counts: dict[str, Any] = json.loads(result.read_text())
    return counts


def _row(c: dict[str, Any]) -> str:
    slowest, memory = f"{c['slowest_s'] * 1e3:.0f} ms", f"{c['memory_mb']:.0f} MB"
    cells = (c["inputs"], c["read"], c["refused"], len(c["broken"]), slowest, memory)
    return _cells(c["reader"], c["engine"], *map(str, cells))


def _cells(*cells: str) -> str:
    widths = (-12, -8, 9, 8, 8, 7, 9, 8)
    return "".join(
        cell.ljust(-width) if width < 0 else cell.rjust(width)
        for cell, width in zip(cells, widths, strict=True)
    )


def _arguments(given: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("readers", nargs="*", help="readers to try (all, if none)")
    parser.add_argument("--inputs", type=int, default=1000, help="for each reader")
    parser.add_argument("--engine", choices=_ENGINES, default=_usual_engine())
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--found", type=Path, default=Path("fuzz-found"))
    parser.add_argument("--result", type=Path, help=argparse.SUPPRESS)
    return parser.parse_args(given)


def _usual_engine() -> str:
    from importlib.util import find_spec

    return "atheris" if find_spec("atheris") else "loop"


def main(given: Sequence[str]) -> int:
    """Fuzz the readers asked for, and print a table."""
    args = _arguments(given)
    args.found.mkdir(parents=True, exist_ok=True)
    if args.result is not None:
        _child(args, args.result)
        return 0
    from fuzz_targets import readers

    print(_cells(*_HEAD))
    rows = []
    memory = Path("/dev/shm")  # where the system has such a place
    base = memory if os.access(memory, os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="passes-fuzz-", dir=base) as folder:
        for name in args.readers or readers():
            rows.append(_run(name, args, Path(folder)))
            print(_row(rows[-1]), flush=True)
    return _told(rows)


def _told(rows: Sequence[dict[str, Any]]) -> int:
    total = sum(row["inputs"] for row in rows)
    slowest = max(row["slowest_s"] for row in rows)
    memory = max(row["memory_mb"] for row in rows)
    broken = [(row["reader"], place) for row in rows for place in row["broken"]]
    print(f"{total:,} inputs; slowest {slowest * 1e3:.0f} ms; peak {memory:.0f} MB")
    for name, place in broken:
        print(f"{name}: {place}")
    return int(bool(broken) or slowest > SLOWEST_S or memory > MOST_MB)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
