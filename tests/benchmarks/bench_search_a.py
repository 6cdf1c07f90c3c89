"""Search A against the loops one would write with skyfield or sgp4 alone.

Run it with nothing else running::

    python tests/benchmarks/bench_search_a.py          # a few minutes
    python tests/benchmarks/bench_search_a.py --quick  # the first rows only

Every row is measured in a process of its own, together with the ``find_events`` loop
on some of the same objects, half of them before and half after, so that both meet the
same machine.  Elements are loaded and SGP4's records made before any clock starts.

``first`` is the first search of a process (with heyoka: its import and its compiler);
``seconds`` the median of the next ones.  ``ratio`` is by the clock on the wall; where
other work disturbs the machine, the same in processor time (``CPU``) says more.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.made_catalogue import (
    START,
    made_catalogue,
    real_catalogue,
    real_file,
)

from passes import sky
from passes.elements import Catalogue
from passes.finder import PassTable, sample, search_passes
from passes.model import Site

SITE = Site(name="sierra", latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
LIMIT_DEG = 10.0
#: Objects of the find_events loop, and how often our own search is repeated.
LOOPED, REPEATS = 300, 3


@dataclass(frozen=True)
class Row:
    """One line of the table: which catalogue, how long, and how it is searched."""

    name: str
    objects: int
    hours: float
    processes: int = 1
    fast: bool = False

    def catalogue(self) -> Catalogue:
        """The catalogue, with SGP4's records."""
        made = real_catalogue() if not self.objects else made_catalogue(self.objects)
        for row in range(len(made)):
            made.satrec(row)
        return made


ROWS = (
    Row("made", 30_000, 12.0),
    Row("made, two processes", 30_000, 12.0, processes=2),
    Row("made, heyoka", 30_000, 12.0, fast=True),
    Row("made, heyoka, two", 30_000, 12.0, processes=2, fast=True),
    Row("made, a day", 30_000, 24.0),
    Row("made, half the objects", 15_000, 12.0),
    Row("made, 100,000", 100_000, 12.0),
    Row("made, 100,000, heyoka", 100_000, 12.0, fast=True),
    Row("real", 0, 12.0),
    Row("real, two processes", 0, 12.0, processes=2),
    Row("real, heyoka", 0, 12.0, fast=True),
)
QUICK = 4


# --- in a process of its own ---------------------------------------------------


def measure(row: Row) -> dict[str, Any]:
    """Search, and loop over some of the same objects before and after."""
    catalogue = row.catalogue()
    end = START + timedelta(hours=row.hours)
    sky.gmst_rad(START, [0.0])

    def ours() -> PassTable:
        return search_passes(
            catalogue,
            SITE,
            START,
            end,
            min_altitude_deg=LIMIT_DEG,
            processes=row.processes,
            fast=row.fast,
        )

    cold_s, _ = clocked(ours)
    own_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    child_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    chosen = np.linspace(0, len(catalogue) - 1, LOOPED).astype(int)
    before = FindEvents(catalogue, chosen[0::2], row.hours)
    after = FindEvents(catalogue, chosen[1::2], row.hours)
    looped_s = before.run()
    times = [clocked(ours) for _ in range(REPEATS)]
    looped_s += after.run()
    ours_cpu_s, loop_cpu_s = busy(ours), busy(after.run) * 2.0
    table = times[-1][1]
    sampled_s, samples = clocked(lambda: sample(table, fast=row.fast))
    missed = before.missed(table) + after.missed(table)
    return {
        "objects": len(catalogue),
        "passes": len(table),
        "cold_s": cold_s,
        "ours_s": statistics.median(seconds for seconds, _ in times),
        "loop_s": looped_s * len(catalogue) / LOOPED,
        "cpu_ratio": loop_cpu_s * len(catalogue) / LOOPED / ours_cpu_s,
        "events": before.events + after.events,
        "missed": missed,
        "peak_mb": max(own_kb, child_kb) / 1024.0,
        "samples_us": sampled_s / samples.time_s.size * 1e6,
    }


def clocked(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds that something takes, and what it gives."""
    begin = time.perf_counter()
    result = work()
    return time.perf_counter() - begin, result


def busy(work: Callable[[], Any]) -> float:
    """Processor seconds that something takes in this process, all threads."""
    begin = time.process_time()
    work()
    return time.process_time() - begin


class FindEvents:
    """The loop over skyfield's find_events, on some rows."""

    def __init__(self, catalogue: Catalogue, rows: Any, hours: float) -> None:
        from skyfield.api import EarthSatellite, load, wgs84

        scale = load.timescale(builtin=True)
        self.rows = rows.tolist()
        self.satellites = [
            EarthSatellite.from_satrec(catalogue.satrec(row), scale)
            for row in self.rows
        ]
        self.place = wgs84.latlon(
            SITE.latitude_deg, SITE.longitude_deg, elevation_m=SITE.height_m
        )
        self.begin = scale.from_datetime(START)
        self.end = scale.from_datetime(START + timedelta(hours=hours))
        self.found: list[Any] = []

    def run(self) -> float:
        """Seconds for all rows."""
        seconds, self.found = clocked(
            lambda: [
                satellite.find_events(self.place, self.begin, self.end, LIMIT_DEG)
                for satellite in self.satellites
            ]
        )
        return seconds

    @property
    def events(self) -> int:
        """How many events were found."""
        return sum(len(kinds) for _, kinds in self.found)

    def missed(self, table: PassTable) -> int:
        """Rises and sets of the loop that the table has not, to a second."""
        lost = 0
        for row, (times, kinds) in zip(self.rows, self.found, strict=True):
            theirs = np.array([(time - self.begin) * 86400.0 for time in times])
            for kind, points in ((0, table.rise), (2, table.set)):
                ours = np.append(points.time_s[table.row == row], np.inf)
                for event in theirs[np.asarray(kinds) == kind]:
                    lost += not np.nanmin(np.abs(ours - event)) < 1.0
        return lost


def sweep(row: Row) -> dict[str, Any]:
    """Every tenth object at every minute, by SatrecArray and nothing more."""
    from sgp4.api import SatrecArray

    catalogue = row.catalogue()
    satrecs = [catalogue.satrec(i) for i in range(0, len(catalogue), 10)]
    minutes = np.arange(0.0, row.hours * 60.0 + 1.0) / 1440.0
    days = np.full(minutes.size, 2460931.5)

    def all_of_it() -> None:
        for low in range(0, len(satrecs), 256):
            SatrecArray(satrecs[low : low + 256]).sgp4(days, 0.75 + minutes)

    seconds, _ = clocked(all_of_it)
    return {"sweep_s": seconds * len(catalogue) / len(satrecs)}


# --- the table -----------------------------------------------------------------


def ask(kind: str, index: int) -> dict[str, Any]:
    """Measure in a fresh process."""
    command = [sys.executable, __file__, f"--{kind}", str(index)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def show(rows: tuple[Row, ...]) -> None:
    """Measure and print every row."""
    print(
        f"{'search A, ≥ 10°':26}{'objects':>8}{'hours':>6}{'passes':>8}"
        f"{'seconds':>9}{'first':>7}{'find_events':>12}{'ratio':>7}{'CPU':>6}"
        f"{'sweep':>7}{'ratio':>6}{'peak MB':>8}{'missed':>12}{'µs/sample':>10}"
    )
    sweeps: dict[tuple[int, float], float] = {}
    for row in rows:
        if row.fast and find_spec("heyoka") is None:
            print(f"{row.name:26}heyoka is not installed")
            continue
        if not row.objects and not real_file().exists():
            print(f"{row.name:26}no real elements at {real_file()}")
            continue
        index = ROWS.index(row)
        result = ask("measure", index)
        key = (row.objects, row.hours)
        if key not in sweeps:
            sweeps[key] = ask("sweep", index)["sweep_s"]
        ours_s, loop_s = result["ours_s"], result["loop_s"]
        missed = f"{result['missed']}/{result['events']}"
        cpu = f"{result['cpu_ratio']:.0f}×" if row.processes == 1 else ""
        print(
            f"{row.name:26}{result['objects']:8d}{row.hours:6g}{result['passes']:8d}"
            f"{ours_s:9.2f}{result['cold_s']:7.2f}{loop_s:12.1f}"
            f"{loop_s / ours_s:6.0f}×{cpu:>6}"
            f"{sweeps[key]:7.1f}{sweeps[key] / ours_s:5.0f}×"
            f"{result['peak_mb']:8.0f}{missed:>12}{result['samples_us']:10.2f}",
            flush=True,
        )


def main() -> None:
    """Print the table, or measure one row for the parent."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="the first rows only")
    parser.add_argument("--measure", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--sweep", type=int, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.measure is not None:
        print(json.dumps(measure(ROWS[chosen.measure])))
    elif chosen.sweep is not None:
        print(json.dumps(sweep(ROWS[chosen.sweep])))
    else:
        show(ROWS[:QUICK] if chosen.quick else ROWS)


if __name__ == "__main__":
    main()
