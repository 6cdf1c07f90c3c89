"""How fast the archive takes and gives 30,000 sets, against the bare parsing loop.

Prints ratios measured in one run: each figure is the best of several, beside the best
of as many bare loops over the same text.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sgp4.api import Satrec

from passes import elements
from passes.archive import Archive

SETS, REPEATS = 30_000, 7
NOW = datetime(2025, 9, 20, 12, tzinfo=UTC)


def made_text(first_day: int) -> str:
    """Invented sets, one an object, laid out and summed like published ones."""
    lines = []
    for i in range(SETS):
        number = f"{i + 1:05d}"
        day = first_day + i % 1000 / 1000
        one = f"1 {number}U 20001A   25{day:012.8f}  .00001234  00000+0  12345-4 0  999"
        two = (
            f"2 {number} {i % 100 + 1:8.4f} {i % 360:8.4f} 0001000 "
            f"{i * 7 % 360:8.4f} {i * 13 % 360:8.4f} {13 + i % 2000 / 1000:11.8f}12345"
        )
        lines.append(f"MADE {number}")
        for line in (one, two):
            total = sum(int(c) if c.isdigit() else c == "-" for c in line)
            lines.append(f"{line}{total % 10}")
    return "\n".join(lines) + "\n"


def best(run: Callable[[], object]) -> float:
    """The quickest of several runs, seconds."""
    took = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        run()
        took.append(time.perf_counter() - begun)
    return min(took)


def main() -> None:
    """Measure and print."""
    text = made_text(260)
    lines = text.splitlines()
    ones, twos = lines[1::3], lines[2::3]
    loop_s = best(lambda: [*map(Satrec.twoline2rv, ones, twos)])
    print(f"bare twoline2rv loop over {SETS:,} sets: {loop_s * 1e3:.0f} ms")
    with tempfile.TemporaryDirectory() as folder:
        count = iter(range(1000))

        def add() -> None:
            archive = Archive(Path(folder) / f"{next(count)}.sqlite")
            archive.add(elements.read_text(text).catalogue, NOW)

        _say("adding the text to a new archive", best(add), loop_s, 4.0)
        archive = Archive(Path(folder) / "0.sqlite")
        assert len(archive.nearest(NOW)) == SETS
        _say("archive to Catalogue", best(lambda: archive.nearest(NOW)), loop_s, 1.2)

        def again() -> None:
            archive.add(elements.read_text(text).catalogue, NOW)

        _say("adding the same again", best(again), loop_s, 4.0)
        for day in range(231, 260):
            catalogue = elements.read_text(made_text(day)).catalogue
            archive.add(catalogue, NOW)
        month_ago = NOW - timedelta(days=20)
        given_s = best(lambda: archive.nearest(month_ago))
        _say("the same from a history of 30 sets an object", given_s, loop_s, None)
        size = os.path.getsize(archive.path) / 2**20
        print(f"size with {30 * SETS:,} sets: {size:.0f} MiB")


def _say(what: str, took_s: float, loop_s: float, limit: float | None) -> None:
    wanted = f" (want ≤ {limit:g})" if limit else ""
    print(f"{what}: {took_s * 1e3:.0f} ms, {took_s / loop_s:.2f} × the loop{wanted}")


if __name__ == "__main__":
    sys.exit(main())
