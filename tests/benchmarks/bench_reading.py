"""Reading element sets, as ratios to the sgp4 package's bare parser in the same run.

    python tests/benchmarks/bench_reading.py [COUNT]

Text to catalogue is held against ``twoline2rv`` over lines already cut; OMM as JSON is
stated apart, against the same loop and against the package's own OMM reader.
"""

from __future__ import annotations

import gzip
import json
import statistics
import sys
import time
import tracemalloc
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

from made_catalogue import made_catalogue, real_file
from sgp4 import omm
from sgp4.api import Satrec
from sgp4.exporter import export_omm, export_tle

from passes.elements import read_text

ROUNDS = 7


def made_text(count: int) -> tuple[bytes, list[Any]]:
    """A made catalogue as named two-line sets, and its SGP4 records."""
    catalogue = made_catalogue(count)
    lines, satrecs = [], []
    for row in range(count):
        satrec = catalogue.satrec(row)
        satrec.intldesg = "25901A"
        lines += [catalogue.name[row].ljust(24), *export_tle(satrec)]
        satrecs.append(satrec)
    return "".join(f"{line}\r\n" for line in lines).encode(), satrecs


def timed(*works: Callable[[], object]) -> list[float]:
    """Median seconds of each, taken in turns so that all meet the same machine."""
    times: list[list[float]] = [[] for _ in works]
    for _ in range(ROUNDS):
        for work, mine in zip(works, times, strict=True):
            start = time.perf_counter()
            kept = work()
            mine.append(time.perf_counter() - start)
            del kept
    return [statistics.median(mine) for mine in times]


def peak_mb(work: Callable[[], object]) -> float:
    """What Python and numpy take at most while working, MB (not C++ records)."""
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def two_lines(what: str, data: bytes) -> None:
    """State the ratio for one text."""
    lines = [line.rstrip() for line in data.decode("ascii").splitlines()]
    pairs = [
        (first, second)
        for first, second in pairwise(lines)
        if first.startswith("1 ") and second.startswith("2 ")
    ]

    def bare() -> list[Any]:
        return [Satrec.twoline2rv(first, second) for first, second in pairs]

    reading = read_text(data)
    assert len(reading.catalogue) == len(pairs), reading.rejected[:3]
    base, ours = timed(bare, lambda: read_text(data))
    peak = peak_mb(lambda: read_text(data))
    print(
        f"{what}: {len(pairs)} sets, bare loop {base:.3f} s, text to catalogue"
        f" {ours:.3f} s: {ours / base:.2f} x; peak {peak:.0f} MB"
    )


def omm_json(satrecs: list[Any]) -> None:
    """State OMM as JSON apart."""
    records = [export_omm(satrec, "INVENTED") for satrec in satrecs]
    data = json.dumps(records).encode()
    pairs = [export_tle(satrec) for satrec in satrecs]

    def bare() -> list[Any]:
        return [Satrec.twoline2rv(first, second) for first, second in pairs]

    def package() -> None:
        for record in json.loads(data):
            omm.initialize(Satrec(), record)

    def ours() -> None:
        read_text(data)

    def ours_and_records() -> None:
        catalogue = read_text(data).catalogue
        for row in range(len(catalogue)):
            catalogue.satrec(row)

    base, theirs, mine, both = timed(bare, package, ours, ours_and_records)
    print(
        f"OMM as JSON: {len(records)} records, {len(data) / 1e6:.1f} MB, text to"
        f" catalogue {mine:.3f} s: {mine / base:.2f} x the bare two-line loop;"
        f" peak {peak_mb(ours):.0f} MB"
    )
    print(
        f"  with SGP4 records {both:.3f} s: {both / theirs:.2f} x json and the"
        f" package's OMM reader ({theirs:.3f} s)"
    )


def other_forms(count: int) -> None:
    """State the other forms of messages, against the same records as JSON."""
    folder = Path(__file__).parents[2] / "fixtures" / "elements" / "readers"
    times = count // 6
    records = json.loads((folder / "list.json").read_text())
    texts = {"JSON": json.dumps(records * times)}
    heading, *rows = (folder / "six.csv").read_text().splitlines(keepends=True)
    texts["CSV"] = heading + "".join(rows) * times
    texts["KVN"] = (folder / "six.kvn").read_text() * times
    head, body = (folder / "six.xml").read_text().split("<ndm>\n")
    messages = body.removesuffix("</ndm>\n") * times
    texts["XML"] = f"{head}<ndm>\n{messages}</ndm>\n"
    as_json = texts["JSON"]
    for form, text in texts.items():
        base, ours = timed(lambda: read_text(as_json), lambda t=text: read_text(t))
        peak = peak_mb(lambda t=text: read_text(t))
        print(
            f"OMM as {form}: {6 * times} records, {len(text) / 1e6:.1f} MB,"
            f" {ours:.2f} s: {ours / base:.2f} x JSON; peak {peak:.0f} MB"
        )


def main() -> None:
    """Print every figure."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30_000
    data, satrecs = made_text(count)
    two_lines("made", data)
    path = real_file()
    if path.is_file():
        two_lines("real", gzip.decompress(path.read_bytes()))
    else:
        print(f"real: none at {path} (set PASSES_REAL_DATA)")
    omm_json(satrecs)
    other_forms(count // 5)


if __name__ == "__main__":
    main()
