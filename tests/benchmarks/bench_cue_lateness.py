"""How late 1,000 cues are, while the other core is busy.

Run from the top of the repository: ``python tests/benchmarks/bench_cue_lateness.py``.
Three rows: steps as lines only; with a state file synced before and after each; and
with a program started for each.  ``written`` is what cue itself says, ``read`` is
measured by the reader of its output with the machine's clock, ``running`` by the
program as its first act (a shell, the fastest to start).
"""

import argparse
import json
import multiprocessing
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np


def spin() -> None:
    """Keep one core busy until killed."""
    while True:
        sum(range(10_000))


def schedule(path: Path, count: int, spacing_s: float) -> list[float]:
    """Steps from a few seconds on; their times in seconds since 1970."""
    first = round(time.time() + 4.0, 3)
    times = [round(first + i * spacing_s, 3) for i in range(count)]
    lines = (
        {
            "id": f"cue-{i}",
            "event": "start" if i % 2 == 0 else "stop",
            "time": datetime.fromtimestamp(t, UTC).isoformat(timespec="milliseconds"),
            "subject": "TEST LAMP",
            "catalog_number": 80001,
            "rig": "test",
            "advice": {"exposure_s": 0.01},
            "demo": True,
        }
        for i, t in enumerate(times)
    )
    path.write_text("".join(f"{json.dumps(line)}\n" for line in lines))
    return times


def measured(count: int, spacing_s: float, *options: str) -> dict[str, np.ndarray]:
    """Lateness in milliseconds, as cue says and as its reader sees."""
    with tempfile.TemporaryDirectory() as folder:
        path, ran = Path(folder, "night.jsonl"), Path(folder, "ran")
        times = schedule(path, count, spacing_s)
        filled = [one.replace("FOLDER", folder) for one in options]
        command = [sys.executable, "-m", "passes", "cue", str(path), *filled]
        written, read = [], []
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        ) as cue:
            assert cue.stdout is not None
            for line, due in zip(cue.stdout, times, strict=False):
                read.append(time.time() - due)
                written.append(json.loads(line)["lateness_s"])
        assert cue.returncode == 0, cue.returncode
        assert len(written) == count, f"{len(written)} of {count} cues"
        found = {"written": written, "read": read}
        if ran.exists():
            started = (line.split() for line in ran.read_text().splitlines())
            by_name = {name: float(at) for name, at in started}
            assert len(by_name) == count
            found["running"] = [by_name[f"cue-{i}"] - t for i, t in enumerate(times)]
        return {name: np.array(values) * 1e3 for name, values in found.items()}


def main() -> None:
    """Print the three rows."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=1000)
    count = parser.parse_args().count
    busy = multiprocessing.Process(target=spin, daemon=True)
    busy.start()
    note = 'echo "$1 $(date +%s.%N)" >> "$2"'
    run = ("--run", "/bin/sh", "--", "-c", note, "sh", "{id}", "FOLDER/ran")
    rows = (
        ("lines only", 0.01, ()),
        ("with --state", 0.05, ("--state", "FOLDER/state")),
        ("with --run", 0.05, run),
        ("--state and --run", 0.05, ("--state", "FOLDER/state", *run)),
    )
    print(f"{count} cues, lateness in ms     median     99 %    worst")
    for name, spacing_s, options in rows:
        for what, late_ms in measured(count, spacing_s, *options).items():
            middle, most = np.percentile(late_ms, [50, 99])
            print(
                f"{name:<18} {what:<9} {middle:9.2f} {most:8.2f} {late_ms.max():8.2f}"
            )
    busy.kill()


if __name__ == "__main__":
    main()
