"""Every object of a catalogue, every second of a night, against the search.

    python tests/benchmarks/sweep_crossings.py [--hours 8] [--objects N]

SGP4 at every second for every object, and the straight line between two seconds
against several fields at once: slow, and sure to see all that the search must find.
Places are geometric, so what passes within a hundredth of a degree of an edge is left
undecided.  Prints, for each field, crossings seen, found, and missed either way.
"""

import argparse
import sys
import time
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from benchmarks.made_catalogue import START, made_catalogue, real_catalogue, real_file

from passes import sky
from passes.crossings import search_crossings
from passes.model import LineOfSight, Site

SITE = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900.0)
FIELDS = {
    "high": LineOfSight.of_field(310.0, 40.0, radius_deg=1.0),
    "wide": LineOfSight.of_field(330.0, 20.0, radius_deg=10.0),
    "horizon": LineOfSight.of_field(275.0, -52.0, radius_deg=3.0),
    "pole": LineOfSight.of_field(37.0, 89.3, radius_deg=2.0),
    "belt": LineOfSight.of_field(330.0, -6.0, radius_deg=2.0),
    "moon": LineOfSight.of_body("moon", radius_deg=0.5),
}
#: Too close to an edge to call, degrees: light time and the Earth's motion.
UNDECIDED_DEG = 0.01


class Fields:
    """Directions of all fields and the site, at every second, in TEME."""

    def __init__(self, hours: float) -> None:
        self.time_s = np.arange(0.0, hours * 3600.0 + 1.0)
        self.site_km = sky.site_teme_km(SITE, START, self.time_s)
        up = np.broadcast_to(sky.site_axes(SITE)[2], self.site_km.shape)
        angle = sky.gmst_rad(START, self.time_s)
        c, s = np.cos(angle), np.sin(angle)
        self.up = np.stack(
            [c * up[:, 0] - s * up[:, 1], s * up[:, 0] + c * up[:, 1], up[:, 2]], axis=1
        )
        to_teme = np.swapaxes(sky.teme_to_icrs(START, self.time_s), 1, 2)
        self.toward = {}
        for name, line in FIELDS.items():
            if line.body:
                icrs = sky.body_icrs(line.body, SITE, START, self.time_s)[0]
            else:
                ra, dec = np.radians([line.ra_deg[0], line.dec_deg[0]])
                one = [np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)]
                icrs = np.broadcast_to(one, self.site_km.shape)
            self.toward[name] = np.einsum("nij,nj->ni", to_teme, icrs)

    def seen(self, satrec) -> dict[str, list[tuple[float, float]]]:
        """For each field, runs of seconds surely and possibly inside: begin, end."""
        days = np.full(self.time_s.size, satrec_days(START)[0])
        fraction = satrec_days(START)[1] + self.time_s / 86_400.0
        error, position, _ = satrec.sgp4_array(days, fraction)
        away = position - self.site_km
        height = (away * self.up).sum(axis=1)
        good = (error == 0) & (height > 0.0)
        found = {}
        for name, toward in self.toward.items():
            radius = np.radians(FIELDS[name].radius_deg)
            ahead = (away * toward).sum(axis=1)
            near = good & (ahead > 0.9 * np.linalg.norm(away, axis=1))
            index = np.flatnonzero(near[:-1] & near[1:])
            aside = away[index] - ahead[index, None] * toward[index]
            after = away[index + 1] - ahead[index + 1, None] * toward[index + 1]
            moved = after - aside
            share = -(aside * moved).sum(axis=1) / (moved * moved).sum(axis=1)
            share = np.clip(share, 0.0, 1.0)
            least = np.linalg.norm(aside + share[:, None] * moved, axis=1)
            angle = np.arctan2(least, ahead[index] + share * np.diff(ahead)[index])
            sure = index[angle < radius - np.radians(UNDECIDED_DEG)]
            found[name] = runs(sure)
        return found


def satrec_days(start) -> tuple[float, float]:
    """Julian date of a time in two parts."""
    since = (start - START.replace(year=2000, month=1, day=1, hour=12)).total_seconds()
    return 2451545.0, since / 86_400.0


def runs(index) -> list[tuple[float, float]]:
    """First and last of runs of consecutive seconds."""
    if not index.size:
        return []
    cut = np.flatnonzero(np.diff(index) > 1)
    firsts, lasts = (
        np.append(index[0], index[cut + 1]),
        np.append(index[cut], index[-1]),
    )
    return [(float(a), float(b + 1)) for a, b in zip(firsts, lasts, strict=True)]


def main() -> None:
    """Sweep, then compare."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--objects", type=int)
    parser.add_argument("--made", action="store_true")
    asked = parser.parse_args()
    real = real_file().exists() and not asked.made
    catalogue = real_catalogue() if real else made_catalogue(12_000)
    catalogue = catalogue[: asked.objects]
    end = START + timedelta(hours=asked.hours)
    tables, took = {}, {}
    for name, line in FIELDS.items():
        begun = time.perf_counter()
        tables[name] = search_crossings(catalogue, SITE, line, START, end)
        took[name] = time.perf_counter() - begun
    fields = Fields(asked.hours)
    missed = dict.fromkeys(FIELDS, 0)
    total = dict.fromkeys(FIELDS, 0)
    met = {name: np.zeros(len(table), bool) for name, table in tables.items()}
    for row in range(len(catalogue)):
        for name, spans in fields.seen(catalogue.satrec(row)).items():
            table = tables[name]
            mine = np.flatnonzero(table.row == row)
            for begin, last in spans:
                total[name] += 1
                hit = mine[
                    (table.entry.time_s[mine] < last + 0.1)
                    & (table.exit.time_s[mine] > begin - 0.1)
                ]
                met[name][hit] = True
                if not hit.size:
                    missed[name] += 1
                    print("  missed:", name, catalogue.name[row], begin, last)
    for name, table in tables.items():
        edge = np.abs(table.closest_deg - FIELDS[name].radius_deg) < 3 * UNDECIDED_DEG
        edge |= table.altitude_deg < 0.05
        length = table.exit.time_s - table.entry.time_s
        alone = int((~met[name] & ~edge).sum())
        print(
            f"{name:8} {len(catalogue)} objects, {asked.hours:g} h: "
            f"seen {total[name]}, "
            f"found {len(table)} ({int((length < 1.0).sum())} under a second, in "
            f"{took[name]:.2f} s), missed {missed[name]}, not seen by the sweep {alone}"
        )


if __name__ == "__main__":
    main()
