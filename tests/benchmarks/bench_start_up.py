"""How long ``passes --help`` takes, beside an interpreter that only imports its tools.

Run it by hand: ``python tests/benchmarks/bench_start_up.py``.  The figure to reach is
a ratio of at most 3.  Runs alternate, so that a busy machine slows both alike; the
medians are compared.  An editable install adds its import hook to both sides.
"""

import os
import statistics
import subprocess
import sys
import time

RUNS = 25
BARE = "bare: import click, pluggy"
CASES = {
    BARE: "import click, pluggy",
    "passes --help": "import sys; sys.argv = ['passes', '--help']; "
    "from passes.cli import main; main()",
    "passes plugins": "import sys; sys.argv = ['passes', 'plugins']; "
    "from passes.cli import main; main()",
    "no plugins at all": "import sys; sys.argv = ['passes', '--help']; "
    "from passes.registry import Registry; "
    "Registry.from_entry_points = lambda **_: Registry(); "
    "from passes.cli import main; main()",
}


def run_s(code: str) -> float:
    """Wall time of a fresh interpreter that runs some code, seconds."""
    began = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=True,
    )
    return time.perf_counter() - began


def main() -> None:
    """Print a table of medians and ratios."""
    taken: dict[str, list[float]] = {name: [] for name in CASES}
    for code in CASES.values():
        run_s(code)  # warm the disk and the compiled files
    for _ in range(RUNS):
        for name, code in CASES.items():
            taken[name].append(run_s(code))
    bare_s = statistics.median(taken[BARE])
    print(f"{RUNS} runs each, {os.cpu_count()} CPUs, Python {sys.version.split()[0]}")
    for name, times in taken.items():
        median_s = statistics.median(times)
        print(f"{name:28} {median_s * 1e3:7.1f} ms   {median_s / bare_s:5.2f} ×")


if __name__ == "__main__":
    main()
