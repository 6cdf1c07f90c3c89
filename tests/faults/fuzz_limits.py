"""The largest files that are read without asking: how long, and how much memory.

    python tests/faults/fuzz_limits.py

Each reader gets one sound file of the size that it just lets in, in a process of its
own, and does with it what the program does next.  Exit code 1 says that one took more
than 1 GB of memory.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

MEBIBYTE, MOST_MB = 2**20, 1024
#: What is left for a beginning and an end, bytes.
_ROOM = 4096


def repeated(one: bytes, size: int, between: bytes = b"") -> bytes:
    """So often the same that it fills a size."""
    return between.join([one] * ((size - _ROOM) // (len(one) + len(between))))


def _tle(records: int) -> bytes:
    from passes import elements
    from passes.testing.elements import element_sets

    like = element_sets()[0]
    made = [replace(like, catalog_number=10_000 + i) for i in range(2000)]
    text = elements.tle_text(elements.as_catalogue(made)).encode()
    return text * (records // 2000)


def _omm(suffix: str, first: bytes, last: bytes, size: int, end: bytes = b"") -> bytes:
    """A fixture with the stretch from ``first`` to ``last`` again and again."""
    import fuzz_seeds as seeds

    (whole,) = seeds.of(seeds.FIXTURES / "elements" / "readers", f"six.{suffix}")
    start = whole.index(first)
    stop = whole.index(last, start) + len(last) if last else len(whole)
    return whole[:start] + repeated(whole[start:stop], size) + end


def _json(size: int) -> bytes:
    import fuzz_seeds as seeds

    (one,) = seeds.of(seeds.FIXTURES / "elements" / "readers", "one.json")
    return b"[" + repeated(one.strip(), size, b",") + b"]"


def _oem(states: int) -> bytes:
    import fuzz_seeds as seeds

    head = seeds.of(seeds.FIXTURES / "ephemerides", "*.oem")[0].split(b"META_STOP")[0]
    first = datetime(2025, 9, 13, 18)
    place = "5215.5651773 4334.6804291 422.2275776 -3.3435603 3.4193696 5.9871402"
    lines = (
        f"{(first + timedelta(seconds=0.1 * i)).isoformat('T', 'microseconds')} {place}"
        for i in range(states)
    )
    return head + b"META_STOP\n" + "\n".join(lines).encode() + b"\n"


def _sites(size: int) -> bytes:
    made = (
        b"[sites.s%d]\nlatitude_deg = 41\nlongitude_deg = -2\n" % i
        for i in range(size // 51)
    )
    return b"".join(made)


def _other(name: str, first: bytes, size: int, between: bytes, end: bytes) -> bytes:
    """A seed with one piece of it again and again."""
    import fuzz_seeds as seeds

    seed: bytes = getattr(seeds, name)
    before, _ = seed.split(first, 1)
    return before + repeated(first, size, between) + end


#: What fills each reader, by its name; sizes are the readers' own limits.
CASES: dict[str, Callable[[], bytes]] = {
    "tle": lambda: _tle(300_000),
    "omm json": lambda: _json(64 * MEBIBYTE),
    "omm xml": lambda: _omm("xml", b"<omm", b"</omm>", 64 * MEBIBYTE, b"</ndm>"),
    "omm kvn": lambda: _omm("kvn", b"CCSDS_OMM_VERS", b"", 64 * MEBIBYTE),
    "oem kvn": lambda: _oem(299_999),
    "nmea": lambda: _other("RECEIVED", b"$GPZDA", 16 * MEBIBYTE, b"\n", b""),
    "config": lambda: _sites(256 * 1024),
    "config edit": lambda: _sites(256 * 1024),
    "plan": lambda: _other(
        "SUBS",
        b"[[sub]]\nstart = 2029-03-17T20:00:00Z\nexposure_s = 300\n",
        2_000_000,
        b"",
        b"",
    ),
    "schedule": lambda: _other("STEPS", _line("STEPS"), 16_000_000, b"\n", b"\n"),
    "cue state": lambda: _other("STATE", _line("STATE"), 64_000_000, b"\n", b"\n"),
    "gate list": lambda: _other(
        "GATE", b'[200,210,"LAMP 2",80002,"faint"]', 16_000_000, b",", b'],"two":[]}}'
    ),
    "area": lambda: (
        b'{"type":"Polygon","coordinates":[['
        + repeated(b"[10,44],[12,44]", 4 * MEBIBYTE, b",")
        + b",[10,44]]]}"
    ),
}


def _line(name: str) -> bytes:
    import fuzz_seeds as seeds

    return bytes(getattr(seeds, name).split(b"\n")[0])


def _tried(name: str) -> None:
    """Read one file, in this process."""
    from fuzz_targets import named, outcome

    data = CASES[name]()
    begun = time.process_time()
    came = outcome(named(name), data)
    took_s = time.process_time() - begun
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    size = f"{len(data) / MEBIBYTE:.1f} MB"
    print(f"{name:12}{size:>11}  {came:8}{took_s:7.1f} s{memory:7.0f} MB")
    sys.exit(came != "read" or memory > MOST_MB)


def main() -> int:
    """Every reader, one after the other."""
    codes = []
    for name in CASES:
        done = subprocess.run([sys.executable, __file__, name], check=False)
        codes.append(done.returncode)
    return int(any(codes))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        _tried(sys.argv[1])
    sys.exit(main())
