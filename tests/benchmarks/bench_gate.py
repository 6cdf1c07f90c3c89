"""What the gate's answers cost once it runs: one line in, one line out.

Prints the time of an answer over that of a bare interpreter which only echoes lines
(so the pipes themselves), and the slowest answer in seconds; wanted: under 0.2 s.

Run: ``python tests/benchmarks/bench_gate.py``.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

LINES = 500
ECHO = "import sys\nfor line in sys.stdin: print(line, end='', flush=True)"


def asked(process, line):
    """Seconds from a line to its answer."""
    begun = time.perf_counter()
    process.stdin.write(line)
    process.stdin.flush()
    answer = process.stdout.readline()
    assert answer
    return time.perf_counter() - begun


def times(words, line):
    """The first answer's time (start-up in it), then each of the others'."""
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        first = asked(process, line)
        rest = [asked(process, line) for _ in range(LINES)]
        process.stdin.close()
    return first, rest


def main():
    gate = [sys.executable, "-m", "passes", "gate", "--demo", "--serve", "--list"]
    line = '{"exposure_s": 180, "time": "2029-03-17T20:02:00Z"}\n'
    with tempfile.TemporaryDirectory() as folder:
        words = [*gate, str(Path(folder) / "demo.gate")]
        made, _ = times(words, line)
        first, rest = times(words, line)
    _, bare = times([sys.executable, "-c", ECHO], line)
    middle = sorted(rest)[LINES // 2]
    print(f"an answer over an echo: {middle / sorted(bare)[LINES // 2]:.1f}")
    print(f"slowest of {LINES} answers: {max(rest):.4f} s (wanted under 0.2 s)")
    print(f"first answer, start-up in it: {first:.2f} s; list made too: {made:.2f} s")


if __name__ == "__main__":
    main()
