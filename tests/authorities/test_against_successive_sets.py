"""Class values of error growth against real element sets carried to newer ones.

The truth is another element set of the same public catalogue, a lower bound on the
error; what must hold is that sigma covers about 68 % of the differences and the bound
about 95 %, in every class and at every age of which there are many.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from tolerances import BOUND_COVERS, SIGMA_COVERS

from passes import growth
from passes.elements import Catalogue, read
from passes.vectors import cross, dot, norm, unit

FLEETS = (
    "STARLINK",
    "ONEWEB",
    "KUIPER",
    "QIANFAN",
    "HULIANWANG",
    "IRIDIUM",
    "GLOBALSTAR",
)
PAIRS = (("13", "14"), ("13", "17"), ("14", "17"), ("14", "20"), ("13", "20"))
AGES = ((0.5, 1.5), (2.5, 4.5), (5.0, 8.0))
EVERY = 3


@cache
def catalogue(folder: Path, day: str) -> Catalogue:
    """The sets published on a day of September 2025, every third object."""
    whole = read([folder / f"active_2025-09-{day}.tle.gz"]).catalogue
    return whole.take(np.flatnonzero(whole.catalog_number % EVERY == 0))


def compare(old: Catalogue, new: Catalogue) -> dict[str, np.ndarray]:
    """Each older set at the epoch of the newer: age, lateness and miss, by class."""
    row_of = {int(number): i for i, number in enumerate(new.catalog_number)}
    rows = [
        (i, row_of[int(n)]) for i, n in enumerate(old.catalog_number) if n in row_of
    ]
    found = []
    for i, j in rows:
        epoch = float(new.epoch_jd[j]), float(new.epoch_fraction[j])
        wrong, r, _ = old.satrec(i).sgp4(*epoch)
        bad, r0, v0 = new.satrec(j).sgp4(*epoch)
        age = epoch[0] - old.epoch_jd[i] + epoch[1] - old.epoch_fraction[i]
        if not (wrong or bad) and age > 0.05:
            found.append((i, age, *r, *r0, *v0))
    columns = np.array(found)
    r, r0, v0 = columns[:, 2:5], columns[:, 5:8], columns[:, 8:]
    pole = unit(cross(r0, v0))
    ahead = np.arctan2(dot(r, cross(pole, unit(r0))), dot(r, unit(r0)))
    row = columns[:, 0].astype(int)
    fleet = np.array([name.startswith(FLEETS) for name in old.name])[row]
    motion = old.mean_motion_rad_min[row] * 1440.0 / (2 * np.pi)
    return {
        "age": columns[:, 1],
        "late_s": np.abs(ahead) * dot(r0, r0) / norm(cross(r0, v0)),
        "across_km": np.abs(dot(r - r0, pole)),
        "motion": motion,
        "eccentricity": old.eccentricity[row],
        "fleet": fleet,
    }


@pytest.fixture(scope="module")
def differences(real_data: Path) -> dict[str, np.ndarray]:
    """All pairs of days together."""
    parts = [
        compare(catalogue(real_data, a), catalogue(real_data, b)) for a, b in PAIRS
    ]
    return {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}


def test_sigma_and_bound_cover_what_they_promise(
    differences: dict[str, np.ndarray],
) -> None:
    d = differences
    arguments = (np.full(d["age"].shape, "payload"), d["motion"], d["eccentricity"])
    named = growth.orbit_class(*arguments, d["fleet"])
    c = growth.class_coefficients(*arguments, d["fleet"])
    sigma = growth.timing_s(d["age"], c["sigma0_s"], c["sigma1_s"], c["power"])
    bound = growth.timing_s(d["age"], c["bound0_s"], c["bound1_s"], c["power"])
    across = growth.cross_km(d["age"], c["cross0_km"], c["cross1_km"])
    judged = 0
    for name in growth.CLASSES:
        for young, old in AGES:
            some = (named == name) & (d["age"] >= young) & (d["age"] < old)
            if some.sum() < 100:
                continue
            judged += 1
            where = f"{name}, {young} to {old} days, {some.sum()} pairs"
            covered = (d["late_s"] <= sigma)[some].mean()
            assert SIGMA_COVERS[0] <= covered <= SIGMA_COVERS[1], where
            covered = (d["late_s"] <= bound)[some].mean()
            assert BOUND_COVERS[0] <= covered <= BOUND_COVERS[1], where
            covered = (d["across_km"] <= across)[some].mean()
            assert covered >= SIGMA_COVERS[0], where
    assert judged >= 12


def test_the_comparison_itself_gives_the_figures_on_record(
    differences: dict[str, np.ndarray],
) -> None:
    # Beside the data stand median / 90 % of such a comparison at 5 to 8 days: other low
    # orbits 1.1 / 7.8 s, the lowest 10 / 68 s, geostationary 4 / 21 s; ours are a third
    # of the objects and other pairs of days.
    d = differences
    named = growth.orbit_class("payload", d["motion"], d["eccentricity"], d["fleet"])
    for name, median, ninety in (
        ("low", 1.1, 7.8),
        ("lowest", 10.0, 68.0),
        ("geostationary", 4.0, 21.0),
    ):
        late = d["late_s"][(named == name) & (d["age"] >= 5.0)]
        assert np.median(late) == pytest.approx(median, rel=0.35)
        assert np.percentile(late, 90) == pytest.approx(ninety, rel=0.35)
