"""The search for crossings held against looking everywhere, at length.

    python tests/benchmarks/compare_crossings.py [CASE ...] [--objects 500] [--seed 1]

Cases: see CASES.  Objects are drawn from a real catalogue where there is one, else
from an invented one.  Every stay that looking everywhere finds must be found, and no
other; entry and exit must agree to a millisecond.
"""

import argparse
import sys
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from brute_crossings import EarthSatellite, Sky, stays, timescale
from made_catalogue import START, made_catalogue, real_catalogue, real_file

from passes.crossings import search_crossings
from passes.model import LineOfSight, Site

#: Latitude, longitude, hours, RA, Dec, and a radius or width, height and angle.
CASES = {
    "high": (37.1, -3.4, 8.0, 310.0, 40.0, 1.0),
    "horizon": (37.1, -3.4, 4.0, 275.0, -52.0, 3.0),
    "pole": (52.0, 5.0, 4.0, 37.0, 89.3, 2.0),
    "frame": (37.1, -3.4, 8.0, 310.0, 20.0, (3.0, 2.0, 25.0)),
    "low frame": (37.1, -3.4, 4.0, 275.0, -45.0, (6.0, 4.0, 10.0)),
    "wide": (37.1, -3.4, 2.0, 300.0, 35.0, 12.0),
    "belt": (10.0, 20.0, 4.0, 300.0, -1.0, 4.0),
}


def compare(case: str, catalogue) -> None:
    """Print what one case gives."""
    latitude, longitude, hours, ra, dec, size = CASES[case]
    site = Site(latitude_deg=latitude, longitude_deg=longitude, height_m=1900)
    shape = {"radius_deg": size}
    if not isinstance(size, float):
        names = ("width_deg", "height_deg", "position_angle_deg")
        shape = dict(zip(names, size, strict=True))
    line = LineOfSight.of_field(ra, dec, **shape)
    end = START + timedelta(hours=hours)
    table = search_crossings(catalogue, site, line, START, end)
    sky = Sky(site, START, ra_deg=ra, dec_deg=dec, size=size)
    wrong, offs, shorter = 0, [0.0], 0
    for row in range(len(catalogue)):
        satellite = EarthSatellite.from_satrec(catalogue.satrec(row), timescale())
        true = stays(sky, satellite, hours * 3600.0)
        mine = np.flatnonzero(table.row == row)
        shorter += sum(stay.end_s - stay.begin_s < 1.0 for stay in true)
        if len(true) != mine.size:
            wrong += 1
            print("  differs:", catalogue.name[row], true, table.entry.time_s[mine])
            continue
        for stay, i in zip(true, mine, strict=True):
            offs.append(abs(stay.begin_s - table.entry.time_s[i]))
            offs.append(abs(stay.end_s - table.exit.time_s[i]))
    print(
        f"{case}: {len(catalogue)} objects, {hours:g} h: {len(table)} crossings, "
        f"{shorter} under a second, {wrong} objects differ, "
        f"largest difference {max(offs) * 1e3:.4f} ms",
        flush=True,
    )


def main() -> None:
    """Compare the cases named, or all."""
    parser = argparse.ArgumentParser()
    parser.add_argument("cases", nargs="*", default=list(CASES))
    parser.add_argument("--objects", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    whole = real_catalogue() if real_file().exists() else made_catalogue(12_000)
    rng = np.random.default_rng(asked.seed)
    some = np.sort(rng.choice(len(whole), asked.objects, replace=False))
    for case in asked.cases or CASES:
        compare(case, whole.take(some))


if __name__ == "__main__":
    main()
