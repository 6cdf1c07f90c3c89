"""Catalogues for tests and benchmarks: invented ones of any size, and real files.

An invented catalogue has 91 % near-Earth and 9 % deep-space objects, mixed like a
full public one: shells of constellations, Sun-synchronous and scattered low orbits,
eccentric ones, navigation and geostationary satellites, transfer and very eccentric
half-day orbits.  Numbers from 80001 up; nothing in it is a real object.
"""

from __future__ import annotations

import gzip
import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM
from passes.elements import Catalogue

Floats = NDArray[np.float64]

FIRST_NUMBER = 80001
DEEP_SHARE = 0.09
#: The evening before the benchmarks' window.
EPOCH_JD = 2460931.5
START = datetime(2025, 9, 13, 18, 0, tzinfo=UTC)
_ROOT = Path(__file__).resolve().parents[2]

#: Share, perigee height low and high (km), eccentricity low and high, inclination
#: low and high (degrees), logarithm (base 10) of the middle drag term.
_NEAR = (
    (0.36, 480, 570, 0.0, 0.0003, 53.0, 53.3, -3.6),
    (0.12, 520, 580, 0.0, 0.0003, 43.0, 43.1, -3.6),
    (0.08, 550, 575, 0.0, 0.0003, 70.0, 97.8, -3.6),
    (0.05, 1150, 1220, 0.0, 0.0005, 87.8, 88.0, -3.3),
    (0.14, 450, 900, 0.0, 0.004, 96.5, 99.5, -3.7),
    (0.13, 400, 1500, 0.0, 0.02, 20.0, 110.0, -3.5),
    (0.04, 250, 420, 0.0, 0.003, 28.0, 98.0, -3.3),
    (0.05, 300, 900, 0.02, 0.30, 5.0, 100.0, -3.4),
    (0.03, 1500, 4500, 0.0, 0.02, 30.0, 110.0, -4.0),
)
#: The same with mean motion low and high (revolutions a day) in place of a height; no
#: perigee lies lower than LOWEST_KM.
_DEEP = (
    (0.52, 1.0022, 1.0034, 0.0, 0.0008, 0.0, 15.0),
    (0.08, 0.97, 1.05, 0.0, 0.02, 0.0, 16.0),
    (0.18, 1.7, 2.14, 0.0, 0.01, 54.0, 66.0),
    (0.14, 2.1, 4.8, 0.5, 0.735, 2.0, 50.0),
    (0.06, 2.0, 2.012, 0.66, 0.745, 61.0, 65.0),
    (0.02, 0.3, 0.9, 0.2, 0.8, 10.0, 80.0),
)
LOWEST_KM = 180.0


def made_catalogue(count: int, *, seed: int = 1) -> Catalogue:
    """An invented catalogue of so many objects, the same for the same seed."""
    rng = np.random.default_rng(seed)
    deep_count = round(count * DEEP_SHARE)
    near = _shells(rng, count - deep_count, _NEAR, by_height=True)
    deep = _shells(rng, deep_count, _DEEP, by_height=False)
    motion, eccentricity, inclination, bstar = np.concatenate([near, deep], axis=1)
    order = rng.permutation(count)
    angles = rng.uniform(0.0, 2 * np.pi, (3, count))
    return Catalogue(
        catalog_number=np.arange(FIRST_NUMBER, FIRST_NUMBER + count),
        name=tuple(f"INVENTED {i}" for i in range(count)),
        designator=("",) * count,
        epoch_jd=np.full(count, EPOCH_JD),
        epoch_fraction=np.round(rng.uniform(-1.0, 0.6, count), 8),
        inclination_rad=inclination[order],
        raan_rad=angles[0],
        eccentricity=eccentricity[order],
        argument_rad=angles[1],
        mean_anomaly_rad=angles[2],
        mean_motion_rad_min=motion[order],
        bstar=bstar[order],
        ndot=np.zeros(count),
        nddot=np.zeros(count),
    )


def _shells(
    rng: np.random.Generator, count: int, shells: Sequence[Any], *, by_height: bool
) -> Floats:
    """Mean motion (rad/min), eccentricity, inclination, drag term: ``(4, count)``."""
    shares = np.array([shell[0] for shell in shells])
    table = np.array([shell[1:] for shell in shells], dtype=np.float64)
    of = table[rng.choice(len(shells), count, p=shares / shares.sum())].T
    eccentricity = rng.uniform(of[2], of[3])
    inclination = np.radians(rng.uniform(of[4], of[5]))
    if by_height:
        axis = (EARTH_RADIUS_KM + rng.uniform(of[0], of[1])) / (1.0 - eccentricity)
        motion = 60.0 * np.sqrt(EARTH_MU_KM3_S2 / axis**3)
        bstar = 10.0 ** rng.normal(of[6], 0.4)
    else:
        motion = rng.uniform(of[0], of[1]) * 2 * np.pi / 1440.0
        axis = (EARTH_MU_KM3_S2 / (motion / 60.0) ** 2) ** (1 / 3)
        eccentricity = np.minimum(
            eccentricity, 1.0 - (EARTH_RADIUS_KM + LOWEST_KM) / axis
        )
        bstar = np.zeros(count)
    return np.stack([motion, eccentricity, inclination, bstar])


def real_file(day: str = "2025-09-13") -> Path:
    """Where a real catalogue would be; it need not be there."""
    folder = os.environ.get("PASSES_REAL_DATA", str(_ROOT.parent / "shared" / "data"))
    return Path(folder) / f"active_{day}.tle.gz"


def real_catalogue(day: str = "2025-09-13") -> Catalogue:
    """A real catalogue, SGP4 records made, straight through the sgp4 package."""
    from sgp4.api import Satrec

    with gzip.open(real_file(day), "rt") as file:
        lines = [line.rstrip("\r\n") for line in file]
    satrecs = [
        Satrec.twoline2rv(first, second)
        for first, second in zip(lines[1::3], lines[2::3], strict=True)
    ]
    return catalogue_of(satrecs, [name.strip() for name in lines[::3]])


def catalogue_of(
    satrecs: Sequence[Any], names: Sequence[str] | None = None
) -> Catalogue:
    """A catalogue around SGP4 records."""
    names = [f"OBJECT {s.satnum}" for s in satrecs] if names is None else names
    return Catalogue(
        catalog_number=np.array([s.satnum for s in satrecs]),
        name=tuple(names),
        designator=tuple(s.intldesg for s in satrecs),
        epoch_jd=np.array([s.jdsatepoch for s in satrecs]),
        epoch_fraction=np.array([s.jdsatepochF for s in satrecs]),
        inclination_rad=np.array([s.inclo for s in satrecs]),
        raan_rad=np.array([s.nodeo for s in satrecs]),
        eccentricity=np.array([s.ecco for s in satrecs]),
        argument_rad=np.array([s.argpo for s in satrecs]),
        mean_anomaly_rad=np.array([s.mo for s in satrecs]),
        mean_motion_rad_min=np.array([s.no_kozai for s in satrecs]),
        bstar=np.array([s.bstar for s in satrecs]),
        ndot=np.array([s.ndot for s in satrecs]),
        nddot=np.array([s.nddot for s in satrecs]),
        satrecs=list(satrecs),
    )
