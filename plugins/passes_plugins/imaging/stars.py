"""The nearest bright star to a place on the sky, to hop from."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np

from passes import motion, vectors


@dataclass(frozen=True, slots=True)
class Star:
    """A star (J2000) and where a place lies as seen from it: how far, which way."""

    name: str
    ra_deg: float
    dec_deg: float
    magnitude: float
    separation_deg: float = 0.0
    position_angle_deg: float = 0.0


@lru_cache(maxsize=1)
def bright_stars() -> tuple[Star, ...]:
    """The packaged table."""
    folder = resources.files("passes_plugins.imaging") / "data"
    text = (folder / "bright_stars.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(x for x in text.splitlines() if not x.startswith("#"))
    return tuple(
        Star(
            row["name"],
            float(row["ra_deg"]),
            float(row["dec_deg"]),
            float(row["magnitude"]),
        )
        for row in rows
    )


def nearest_star(ra_deg: float, dec_deg: float) -> Star:
    """The nearest of them to a place (ICRS), with the way from it to the place."""
    table = bright_stars()
    ra = np.radians([star.ra_deg for star in table])
    dec = np.radians([star.dec_deg for star in table])
    place = vectors.direction(np.radians(ra_deg), np.radians(dec_deg))
    apart = vectors.separation_rad(vectors.direction(ra, dec), place)
    i = int(apart.argmin())
    east = np.cos(np.radians(dec_deg)) * np.sin(np.radians(ra_deg) - ra[i])
    north = np.sin(np.radians(dec_deg)) * np.cos(dec[i])
    north = north - np.cos(np.radians(dec_deg)) * np.sin(dec[i]) * np.cos(
        np.radians(ra_deg) - ra[i]
    )
    angle = motion.position_angle_rad(east, 0.0, north)
    star = table[i]
    return Star(
        star.name,
        star.ra_deg,
        star.dec_deg,
        star.magnitude,
        float(np.degrees(apart[i])),
        float(np.degrees(angle)),
    )
