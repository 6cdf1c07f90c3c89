"""Transits of real stations against skyfield alone, fourteen days at two sites.

Run it from the top of the repository::

    python tests/benchmarks/compare_transits.py [--days 14]

Every closest approach within two degrees of the Moon and the Sun must be found by both;
printed are the largest differences in time of entry, exit and closest approach, and in
the distance from the centre.
"""

from __future__ import annotations

import argparse
import sys
import time
from datetime import timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.made_catalogue import START, real_catalogue
from brute_crossings import EarthSatellite, timescale
from transit_brute import passings

from passes.constants import MOON_RADIUS_KM, SUN_RADIUS_KM
from passes.crossings import search_crossings
from passes.model import LineOfSight, Site

SITES = (
    Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0),
    Site(latitude_deg=-30.5, longitude_deg=19.5, height_m=900.0),
)
STATIONS, RADII = (25544, 48274), {"moon": MOON_RADIUS_KM, "sun": SUN_RADIUS_KM}
WITHIN_DEG = 2.0


def main() -> None:
    """Compare, and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=14.0)
    days = parser.parse_args().days
    catalogue = real_catalogue()
    rows = np.flatnonzero(np.isin(catalogue.catalog_number, STATIONS))
    catalogue = catalogue.take(rows)
    for site in SITES:
        for body in RADII:
            compare(catalogue, site, body, days)


def compare(catalogue, site: Site, body: str, days: float) -> None:
    """One site and body; prints a line."""
    end = START + timedelta(days=days)
    begun = time.perf_counter()
    near = search_crossings(
        catalogue, site, LineOfSight.of_body(body, radius_deg=WITHIN_DEG), START, end
    )
    disc = search_crossings(catalogue, site, LineOfSight.of_body(body), START, end)
    own_s = time.perf_counter() - begun
    begun = time.perf_counter()
    edges_s, times_s, apart, transits, seen = [0.0], [0.0], [0.0], 0, 0
    for row in range(len(catalogue)):
        satellite = EarthSatellite.from_satrec(catalogue.satrec(row), timescale())
        true = passings(satellite, site, body, RADII[body], START, days, WITHIN_DEG)
        mine = near.take(near.row == row)
        assert len(true) == len(mine), (catalogue.name[row], len(true), len(mine))
        for i, one in enumerate(true):
            seen += 1
            times_s.append(abs(mine.closest.time_s[i] - one.time_s))
            apart.append(3600.0 * abs(mine.closest_deg[i] - one.closest_deg))
        hits = [one for one in true if one.closest_deg < one.radius_deg]
        own = disc.take(disc.row == row)
        assert len(hits) == len(own), (catalogue.name[row], len(hits), len(own))
        transits += len(hits)
        for i, one in enumerate(hits):
            edges_s.append(abs(own.entry.time_s[i] - one.begin_s))
            edges_s.append(abs(own.exit.time_s[i] - one.end_s))
    slow_s = time.perf_counter() - begun
    print(
        f"{body} at {site.latitude_deg:+.1f}: {seen} approaches, {transits} transits, "
        f"the same; edges within {1e3 * max(edges_s):.3f} ms, closest within "
        f"{1e3 * max(times_s):.3f} ms and {max(apart):.5f}″; "
        f"{own_s:.2f} s against {slow_s:.0f} s"
    )


if __name__ == "__main__":
    main()
