"""How often ``passes identify`` ranks who made a streak first, and how often it errs.

Streaks of real objects on one night, ends measured to 1.5 px and clocks off by 0.3 s,
asked of the element sets of another day.

Run: ``python tests/benchmarks/rate_identify.py [STREAKS]`` (PASSES_REAL_DATA as for
the tests).
"""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from made_streaks import asked, made, services  # noqa: E402

DATA = ROOT / os.environ.get("PASSES_REAL_DATA", "../shared/data")
#: The night's day of September 2025, and that of the sets that are asked.
CASES = ((14, 13), (17, 14))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for night, day in CASES:
        host = services(DATA, day, night)
        first = right = wrong = absent = 0
        for one in made(DATA, night, count, seed=night):
            rank, found = asked(one, host)
            named = found.named
            first += rank == 1
            absent += rank == 0
            right += named is not None and named.crossing.catalog_number == one.number
            wrong += named is not None and named.crossing.catalog_number != one.number
        print(f"{count} streaks, sets {night - day} days older than the night's own:")
        print(f"  first {first / count:.1%}, named rightly {right / count:.1%}")
        print(f"  another named {wrong / count:.1%}, not found {absent / count:.1%}")


if __name__ == "__main__":
    main()
