"""How long the searches for transits take, by the clock and in processor time.

Run it from the top of the repository with nothing else running::

    python tests/benchmarks/bench_transits.py

Fourteen days of Moon and Sun, ten objects, strips within 150 km; and every object of a
full public catalogue in front of the Moon for one night.  Both are also given against
a loop of skyfield for one station over the same time, measured in the same run.
"""

from __future__ import annotations

import sys
import time
from datetime import timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.made_catalogue import START, real_file
from brute_crossings import EarthSatellite, Sky, angle_deg, timescale

from passes.config import Config
from passes.constants import MOON_RADIUS_KM
from passes.forecast import Request, build
from passes.model import Site
from passes.registry import Registry
from passes_plugins.transits.finding import find
from passes_plugins.transits.wanted import Wanted

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
#: Two stations, and as many other low objects as make ten.
STATIONS, TEN = (25544, 48274), 10


def services(**fields):
    """Services on the real file, at the time of its elements."""
    request = Request(site=SITE, element_files=(str(real_file()),), now=START, **fields)
    made = build(request, Registry.from_entry_points(), Config())
    return made.for_plugin("transits")


def ten_low() -> tuple[str, ...]:
    """The stations, and the first low objects of the file."""
    catalogue = services().catalogue()
    low = catalogue.mean_motion_rad_min * 1440.0 / (2.0 * np.pi) > 14.0
    others = catalogue.catalog_number[
        low & ~np.isin(catalogue.catalog_number, STATIONS)
    ]
    numbers = (*STATIONS, *others[: TEN - len(STATIONS)].tolist())
    return tuple(str(number) for number in numbers)


def timed(what: str, run) -> float:
    """Run twice, the second is told."""
    run()
    wall, cpu = time.perf_counter(), time.process_time()
    found = run()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    print(f"{what}: {wall:.2f} s, {cpu:.2f} s CPU, {len(found.events)} events")
    return wall


def skyfield_loop() -> float:
    """One station in front of the Moon, one day in steps of a second, by skyfield."""
    catalogue = services().catalogue(objects=("25544",))
    satellite = EarthSatellite.from_satrec(catalogue.satrec(0), timescale())
    begun = time.perf_counter()
    seen = Sky(SITE, START, size=MOON_RADIUS_KM, body="moon")
    vector, t = seen.seen(satellite, np.arange(86_400.0))
    angle_deg(vector, seen.aim(t)[0])
    return time.perf_counter() - begun


def main() -> None:
    """Print the figures."""
    ten = services(objects=ten_low())
    until = START + timedelta(days=14)
    wanted = Wanted(named=True, reach_km=150.0, until=until, anyway=True)
    found = timed(
        "14 days, Moon and Sun, ten objects, 150 km", lambda: find(ten, wanted)
    )
    night = services(start=START, end=START + timedelta(hours=12))
    everything = Wanted(bodies=("moon",), everything=True)
    whole = timed("one night, Moon, all objects", lambda: find(night, everything))
    loop = skyfield_loop()
    print(f"skyfield, one station, one body, one day: {loop:.2f} s")
    print(f"ratio, 14 days of ten objects and two bodies: {280 * loop / found:,.0f} ×")
    many = len(night.catalogue())
    print(f"ratio, one night of {many:,} objects: {0.5 * many * loop / whole:,.0f} ×")


if __name__ == "__main__":
    main()
