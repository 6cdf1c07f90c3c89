"""Search B against the loop one would write with skyfield alone.

Run it with nothing else running::

    python tests/benchmarks/bench_search_b.py          # some minutes
    python tests/benchmarks/bench_search_b.py --quick  # the first rows only

The loop is ``(satellite - place).at(t)`` on a grid of a second, for some of the same
objects, scaled to all of them; it only makes places, and to compare these with the
field would come on top.  Every row is measured in a process of its own together with
the loop, half of it before and half after.  Elements are loaded and SGP4's records
made before any clock starts.

``first`` is the first search of a process, with every table still to be made;
``seconds`` the median of the next ones; ``ratio`` is by the clock on the wall, and
``CPU`` the same in processor time, which says more where other work disturbs.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.made_catalogue import START, made_catalogue, real_catalogue, real_file
from one_satellite import moments, seen_by_skyfield

from passes.crossings import search_crossings
from passes.model import LineOfSight, Site

SITE = Site(name="sierra", latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
#: Objects of the skyfield loop, and how often our own search is repeated.
LOOPED, REPEATS = 20, 7


@dataclass(frozen=True)
class Row:
    """One line of the table: which catalogue (0: real), how long, which field."""

    name: str
    objects: int
    hours: float
    line: LineOfSight
    numbers: int = 0


DISC = LineOfSight.of_field(310.0, 40.0, radius_deg=1.0)
ROWS = (
    Row("made, 1° disc", 30_000, 8.0, DISC),
    Row("real, 1° disc", 0, 8.0, DISC),
    Row("made, half the hours", 30_000, 4.0, DISC),
    Row("made, half the objects", 15_000, 8.0, DISC),
    Row("made, 100,000", 100_000, 8.0, DISC),
    Row("made, a day", 30_000, 24.0, DISC),
    Row("made, low field", 30_000, 8.0, LineOfSight.of_field(20.0, 60.0, radius_deg=1)),
    Row("made, 10° disc", 30_000, 8.0, LineOfSight.of_field(310.0, 40, radius_deg=10)),
    Row(
        "real, 2 × 1.4° frame",
        0,
        8.0,
        LineOfSight.of_field(310, 40, width_deg=2, height_deg=1.4),
    ),
    Row("real, the Moon's disc", 0, 12.0, LineOfSight.of_body("moon")),
    Row("ten objects, Moon, 14 days", 30_000, 336.0, LineOfSight.of_body("moon"), 10),
    Row("ten objects, Sun, 14 days", 30_000, 336.0, LineOfSight.of_body("sun"), 10),
)


def measure(row: Row) -> dict[str, Any]:
    """Figures of one row, in this process."""
    catalogue = made_catalogue(row.objects) if row.objects else real_catalogue()
    if row.numbers:
        catalogue = catalogue.take(np.arange(row.numbers))
    for i in range(len(catalogue)):
        catalogue.satrec(i)
    end = START + timedelta(hours=row.hours)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    walls, cpus = [], []
    loops = []
    for turn in range(REPEATS + 1):
        if turn in (1, REPEATS // 2 + 1):
            loops.append(loop(catalogue, min(row.hours, 8.0)))
        wall, cpu = time.perf_counter(), time.process_time()
        table = search_crossings(catalogue, SITE, row.line, START, end)
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
        if not turn:
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    scale = len(catalogue) * row.hours / min(row.hours, 8.0)
    seconds, cpu = statistics.median(walls[1:]), statistics.median(cpus[1:])
    return {
        "found": len(table),
        "first": walls[0],
        "seconds": seconds,
        "ratio": scale * statistics.mean(one[0] for one in loops) / seconds,
        "cpu": scale * statistics.mean(one[1] for one in loops) / cpu,
        "peak_mb": peak / 1024,
        "loaded_mb": before / 1024,
    }


def loop(catalogue: Any, hours: float) -> tuple[float, float]:
    """Seconds an object of the skyfield loop, by the wall and of the processor."""
    t = moments(START, np.arange(0.0, hours * 3600.0))
    rows = np.linspace(0, len(catalogue) - 1, LOOPED).astype(int).tolist()
    made = [seen_by_skyfield(catalogue, row, SITE) for row in rows]
    (made[0][0] - made[0][1]).at(t)  # what depends on the times alone is made once
    wall, cpu = time.perf_counter(), time.process_time()
    for satellite, place in made:
        (satellite - place).at(t)
    return (
        (time.perf_counter() - wall) / len(made),
        (time.process_time() - cpu) / len(made),
    )


def main() -> None:
    """Print the table, each row from a process of its own."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--row", type=int)
    asked = parser.parse_args()
    if asked.row is not None:
        print(json.dumps(measure(ROWS[asked.row])))
        return
    print(
        f"{'search':28} {'found':>6} {'first':>7} {'seconds':>8} {'ratio':>7} "
        f"{'CPU':>7} {'peak MB':>8} {'loaded':>7}"
    )
    for i, row in enumerate(ROWS[:2] if asked.quick else ROWS):
        if not row.objects and not real_file().exists():
            print(f"{row.name:28} no real catalogue here")
            continue
        told = subprocess.run(
            [sys.executable, __file__, "--row", str(i)],
            check=True,
            capture_output=True,
            text=True,
        )
        one = json.loads(told.stdout)
        print(
            f"{row.name:28} {one['found']:6d} {one['first']:7.2f} "
            f"{one['seconds']:8.3f} {one['ratio']:7.0f} {one['cpu']:7.0f} "
            f"{one['peak_mb']:8.0f} {one['loaded_mb']:7.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
