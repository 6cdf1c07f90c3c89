"""Kill programs at random moments, and count what became of their files.

    python tests/faults/kill_programs.py                  # 200 times each
    python tests/faults/kill_programs.py --kills 50 cueing

Exit code 1 says that something was lost, halved, repeated or forgotten.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from random import Random

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from kill_archive import adding, fetching  # noqa: E402
from kill_cues import cueing  # noqa: E402
from kill_outputs import writing  # noqa: E402
from killing import Toll  # noqa: E402

KINDS: dict[str, Callable[[Path, int, Random], Toll]] = {
    "adding": adding,
    "fetching": fetching,
    "writing": writing,
    "cueing": cueing,
}


def main(given: Sequence[str]) -> int:
    """Kill what was asked for, and print a table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("kinds", nargs="*", choices=[*KINDS, []], help="all, if none")
    parser.add_argument("--kills", type=int, default=200, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(given)
    print(f"{'':18}{'kills':>8}{'before':>8}{'after':>8}{'faults':>8}")
    faults: list[str] = []
    for kind in args.kinds or KINDS:
        with tempfile.TemporaryDirectory() as folder:
            toll = KINDS[kind](Path(folder), args.kills, Random(args.seed))
        numbers = (toll.kills, toll.before, toll.after, len(toll.faults))
        print(f"{toll.kind:18}" + "".join(f"{n:8}" for n in numbers), flush=True)
        faults += toll.faults
    for one in faults:
        print(one)
    return int(bool(faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
