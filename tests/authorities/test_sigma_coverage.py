"""Sigma and bound against real element sets carried to newer ones of the same object.

The truth is another element set of the same public catalogue, so that what is covered
is an upper limit.  What must hold: sigma covers 60 to 76 % of the differences, the
bound 90 to 98 %, in every class of 300 objects or more, among objects that had no part
in the fit; smaller classes within two standard errors of that.
"""

import importlib.util
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from tolerances import BOUND_COVERS, SIGMA_COVERS

from passes import growth
from passes.elements import Catalogue, nearest
from passes.forecast.errors_in_time import growth_of
from passes.forecast.measured import measured_in
from passes.forecast.pairs import pairs_of
from passes.growth.classes import from_document

MANY = 300


@pytest.fixture(scope="module")
def maker(root: Path) -> ModuleType:
    """The script that made the coefficients."""
    path = root / "fixtures" / "build" / "fit_growth.py"
    spec = importlib.util.spec_from_file_location("fit_growth", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["fit_growth"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def sets(maker: ModuleType, real_data: Path) -> Catalogue:
    """Every real element set, equal ones once."""
    return maker.real_sets(real_data)


@pytest.fixture(scope="module")
def evidence(maker: ModuleType, sets: Catalogue) -> Any:
    """Differences between successive sets."""
    return maker.evidence(sets)


def within(band: tuple[float, float], objects: int) -> tuple[float, float]:
    """The band itself for many objects, else two standard errors wider."""
    if objects >= MANY:
        return band
    low, high = band
    return (
        low - 2.0 * (low * (1.0 - low) / objects) ** 0.5,
        high + 2.0 * (high * (1.0 - high) / objects) ** 0.5,
    )


def assert_covered(late: Any, sigma: Any, bound: Any, number: Any, what: str) -> int:
    """Hold shares covered to what is promised; how many objects there were."""
    objects = len(np.unique(number))
    said = f"{what}: {objects} objects, {late.size} pairs"
    low, high = within(SIGMA_COVERS, objects)
    assert low <= (late <= sigma).mean() <= high, said
    low, high = within(BOUND_COVERS, objects)
    assert low <= (late <= bound).mean() <= high, said
    return objects


def laws(classes: Any, e: Any) -> tuple[Any, Any, Any]:
    """Sigma, bound and cross-track sigma of every pair."""
    from types import SimpleNamespace

    record = SimpleNamespace(**classes.coefficients(e.name, e.drag, e.tilt))
    return growth.errors(record, e.age)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_objects_that_had_no_part_in_the_fit_are_covered(
    maker: ModuleType, evidence: Any, seed: int
) -> None:
    side = np.random.default_rng(seed).random(1_000_000) < 0.5
    fitted = side[evidence.number]
    classes = from_document(maker.fit(evidence.some(fitted)))
    judged = []
    for name in np.unique(evidence.name).tolist():
        e = maker.members(evidence.some(~fitted), name)
        sigma, bound, across = laws(classes, e)
        judged.append(assert_covered(e.late, sigma, bound, e.number, name))
        low, high = within(SIGMA_COVERS, judged[-1])
        assert low <= (e.across <= across).mean() <= high, f"{name}, across"
    assert sum(objects >= MANY for objects in judged) >= 4
    assert sum(judged) > 5000


def test_what_rocket_bodies_and_debris_borrow_is_on_the_safe_side(
    maker: ModuleType, evidence: Any
) -> None:
    # none of them is among the sets; of payloads that never steered, all that can be
    # held is that they stay within
    for name in ("passive low", "passive lowest"):
        e = maker.members(evidence, name)
        sigma, bound, _ = laws(growth.load(), e)
        assert SIGMA_COVERS[0] <= (e.late <= sigma).mean() <= SIGMA_COVERS[1], name
        assert (e.late <= bound).mean() >= 0.95, name


@pytest.fixture(scope="module")
def shipped(evidence: Any) -> tuple[Any, Any, Any]:
    """Sigma, bound, cross-track sigma of every pair by the coefficients that ship."""
    return laws(growth.load(), evidence)


def test_what_ships_covers_every_class_and_the_company_it_is_part_of(
    evidence: Any, shipped: tuple[Any, Any, Any]
) -> None:
    e, (sigma, bound, _) = evidence, shipped
    fleet = np.char.endswith(e.name, "constellation")
    low = np.isin(e.name, ["low", "lowest"])
    groups = {name: e.name == name for name in np.unique(e.name)} | {
        "all constellations": fleet,
        "all others in low orbit": low,
        "all about geosynchronous": np.char.startswith(e.name, "geo"),
        "everything": np.ones(e.age.shape, dtype=bool),
    }
    for what, some in groups.items():
        assert_covered(e.late[some], sigma[some], bound[some], e.number[some], what)


def test_no_age_is_left_out(evidence: Any, shipped: tuple[Any, Any, Any]) -> None:
    # pooled over age it could be right by two errors; by age the band is wider: one
    # law serves all ages, and in the first half the air was denser than expected
    e, (sigma, bound, _) = evidence, shipped
    judged = 0
    for name in np.unique(e.name).tolist():
        for young, old in ((0.7, 2.0), (2.0, 3.5), (3.5, 5.0), (5.0, 8.0)):
            some = (e.name == name) & (e.age >= young) & (e.age < old)
            if len(np.unique(e.number[some])) < MANY:
                continue
            judged += 1
            where = f"{name}, {young} to {old} days"
            assert 0.55 <= (e.late <= sigma)[some].mean() <= 0.82, where
            assert 0.90 <= (e.late <= bound)[some].mean() <= 0.985, where
    assert judged >= 15


def test_neither_the_restless_half_of_the_week_nor_the_quiet_one_falls_out(
    sets: Catalogue, evidence: Any, shipped: tuple[Any, Any, Any]
) -> None:
    # the nearest thing at hand to other years: until the 17th the air was a third
    # denser than expected, then much as expected (a law fitted to the second part alone
    # covers 35 to 47 % of the first in low orbits)
    e, (sigma, bound, _) = evidence, shipped
    pairs = pairs_of(sets)
    day = sets.epoch_s(datetime(2025, 9, 17, tzinfo=UTC)) / 86400.0
    judged = 0
    for part in (day[pairs.truth] < 0.6, day[pairs.row] > -1.0):
        for name in np.unique(e.name).tolist():
            some = part & (e.name == name)
            if len(np.unique(e.number[some])) < MANY:
                continue
            judged += 1
            assert (e.late <= sigma)[some].mean() >= 0.50, name
            assert (e.late <= bound)[some].mean() >= 0.90, name
    assert judged >= 8


def test_sets_from_after_the_night_err_no_more(maker: ModuleType, sets: Any) -> None:
    # the law takes both sides of the epoch alike; backwards it is on the safe side
    e = maker.evidence(sets, backwards=True)
    sigma, bound, _ = laws(growth.load(), e)
    for name in np.unique(e.name).tolist():
        some = e.name == name
        if len(np.unique(e.number[some])) >= MANY:
            assert (e.late <= sigma)[some].mean() >= SIGMA_COVERS[0], name
            assert (e.late <= bound)[some].mean() >= BOUND_COVERS[0], name


def test_strips_of_drag_are_covered_one_by_one(
    evidence: Any, shipped: tuple[Any, Any, Any]
) -> None:
    # drag is what other years have more or less of: sigma must follow it
    e, (sigma, bound, _) = evidence, shipped
    for name in ("constellation", "low", "lowest"):
        some = np.flatnonzero((e.name == name) & (e.age > 2.0))
        for part in np.array_split(some[np.argsort(e.drag[some])], 6):
            where = f"{name}, drag {e.drag[part[0]]:.3g} to {e.drag[part[-1]]:.3g}"
            assert (e.late <= sigma)[part].mean() >= 0.55, where
            assert (e.late <= bound)[part].mean() >= 0.90, where
            if sigma[part].mean() > 0.1:  # else what was published for age 0 rules
                assert (e.late <= sigma)[part].mean() <= 0.82, where


def test_strips_of_inclination_are_covered_across_the_path(
    evidence: Any, shipped: tuple[Any, Any, Any]
) -> None:
    e, across = evidence, shipped[2]
    judged = 0
    low = np.isin(e.name, ["constellation", "steady constellation", "low", "lowest"])
    for least, most in ((0, 30), (30, 47), (47, 60), (60, 80), (80, 94), (94, 110)):
        some = low & (e.tilt >= least) & (e.tilt < most) & (e.age > 2.0)
        if len(np.unique(e.number[some])) < 50:
            continue
        judged += 1
        share = (e.across <= across)[some].mean()
        assert 0.55 <= share <= 0.85, f"inclined {least} to {most}°: {share:.2f}"
    assert judged >= 5


def test_a_station_is_met_off_its_path_by_no_more_than_is_said(sets: Catalogue) -> None:
    # both stations of the week; cross-track errors are a drift, the same every time
    for name in ("ISS (ZARYA)", "CSS (TIANHE)"):
        rows = np.flatnonzero(np.array(sets.name) == name)
        pairs = pairs_of(sets.take(rows))
        _, _, across = growth.errors(
            growth_of(sets.take(rows[-1:])).record(0), pairs.age_days
        )
        assert len(pairs) == 6
        assert (np.abs(pairs.across_km) < 2.0 * across).all()
        assert np.median(np.abs(pairs.across_km) / across) > 0.4


def test_the_comparison_itself_gives_the_figures_on_record(evidence: Any) -> None:
    # beside the data stand median / 90 % of such a comparison at 5 to 8 days
    for name, median, ninety in (("low", 1.1, 7.8), ("lowest", 10.0, 68.0)):
        some = (evidence.name == name) & (evidence.age >= 5.0)
        late = evidence.late[some]
        assert np.median(late) == pytest.approx(median, rel=0.35)
        assert np.percentile(late, 90) == pytest.approx(ninety, rel=0.35)


# --- published figures: a sanity band ----------------------------------------------

SPEED_KM_S = {"low": 7.5, "lowest": 7.6, "medium": 3.9, "geostationary": 3.07}
#: Along and across at epoch, km, by regime: Flohrer, Krag & Klinkrad 2008, AMOS,
#: table 1 (one sigma, fit residuals of the catalogue of 2008-01-01).
PUBLISHED_KM = {
    "low": (0.471, 0.126),
    "lowest": (0.471, 0.126),
    "medium": (0.131, 0.054),
    "geostationary": (0.432, 0.086),
}


@pytest.mark.parametrize("name", list(PUBLISHED_KM))
def test_errors_at_epoch_are_of_the_published_size(name: str) -> None:
    along, across = PUBLISHED_KM[name]
    terms = growth.load().epoch[name]
    assert along / 3 < terms["sigma0_s"] * SPEED_KM_S[name] < along * 3
    assert across / 3 < terms["cross0_km"] < across * 3


def test_growth_is_of_the_published_size(
    evidence: Any, shipped: tuple[Any, Any, Any]
) -> None:
    # 0.1 to 3 km a day in the literature, 0.8 km and 1.5 km a day of four satellites
    # ranged by laser, 800 to 19,100 km up (Levit & Marshall 2011, Adv. Space Res. 47)
    some = (evidence.name == "low") & (evidence.age > 2.5) & (evidence.age < 3.5)
    along_km = np.median(shipped[0][some]) * SPEED_KM_S["low"]
    assert 0.3 < along_km < 9.0


def test_the_station_errs_as_against_its_operators_ephemeris(sets: Catalogue) -> None:
    # beside the data: 0.1 to 0.4 s at 0 to 0.5 day, 0.3 to 2.1 s at 2 to 3 days, across
    # the track below 1 km throughout
    row = sets.name.index("ISS (ZARYA)")
    law = growth_of(sets.take([row])).record(0)
    sigma, bound, across = growth.errors(law, np.array([0.25, 2.5, 3.0]))
    assert 0.1 <= sigma[0] <= 0.4
    assert 0.3 <= sigma[1] <= 2.1
    assert bound[2] > 2.1  # the worst at 2 to 3 days lies within the bound at 3
    assert (across < 1.0).all()


# --- an object's own history -------------------------------------------------------


def test_the_history_of_three_sets_tells_how_the_fourth_is_met(
    sets: Catalogue,
) -> None:
    """Fit nothing, forecast the last set from the one before, with and without."""
    end = datetime(2025, 9, 20, 13, tzinfo=UTC)
    last = nearest(sets, end)
    met = {int(number): epoch for number, epoch in zip(*_numbers(last), strict=True)}
    when = np.array([met[int(number)] for number in sets.catalog_number])
    earlier = sets.take(sets.epoch_s(end) < when)
    counted = np.bincount(earlier.catalog_number)
    rich = last.take(counted[last.catalog_number.clip(max=counted.size - 1)] >= 3)
    before = nearest(earlier.take(np.isin(*_both(earlier, rich))), end)
    rich = rich.take(np.argsort(rich.catalog_number))
    before = before.take(np.argsort(before.catalog_number))
    pairs, known = _between(before, rich), measured_in(earlier)
    plain, own = growth_of(before), growth_of(before, known)
    assert (own.basis == "own_history").mean() > 0.95
    losses = []
    for columns in (plain, own):
        found = columns.at(pairs.row, pairs.age_days)
        late, sigma = np.abs(pairs.late_s), found.timing_sigma_s
        assert (late <= sigma).mean() >= SIGMA_COVERS[0]
        assert (late <= found.timing_bound_s).mean() >= BOUND_COVERS[0]
        over = np.log(np.maximum(late, 1e-3) / sigma)
        far = np.log(np.maximum(late, 1e-3) / found.timing_bound_s)
        loss = np.maximum(0.683 * over, -0.317 * over)
        losses.append((loss + np.maximum(0.95 * far, -0.05 * far)).mean())
    assert len(pairs) > 10_000
    assert losses[1] < losses[0]  # surer of each object, and no less honest


def _numbers(catalogue: Catalogue) -> tuple[Any, Any]:
    end = datetime(2025, 9, 20, 13, tzinfo=UTC)
    return catalogue.catalog_number, catalogue.epoch_s(end)


def _both(some: Catalogue, other: Catalogue) -> tuple[Any, Any]:
    return some.catalog_number, other.catalog_number


def _between(older: Catalogue, newer: Catalogue) -> Any:
    from passes.forecast.pairs import pairs_between

    return pairs_between(older, newer)


def test_steering_is_seen_in_the_sets_of_what_steers(sets: Catalogue) -> None:
    # craft that were known to manoeuvre in that week lie far above those that drift:
    # of payloads alone in low orbit one in ten steers, and errs ten times as much
    columns = growth_of(nearest(sets, sets[0].epoch), measured_in(sets))
    alone = np.isin(columns._named, ["low", "lowest"])
    steers = columns.manoeuvres & alone
    assert 0.03 < steers.sum() / alone.sum() < 0.2
    numbers = nearest(sets, sets[0].epoch).catalog_number
    pairs = pairs_of(replace(sets))
    late = np.abs(pairs.late_s)
    owner = sets.catalog_number[pairs.row]
    busy = late[np.isin(owner, numbers[steers])]
    calm = late[np.isin(owner, numbers[alone & ~columns.manoeuvres])]
    assert np.percentile(busy, 90) > 10.0 * np.percentile(calm, 90)
