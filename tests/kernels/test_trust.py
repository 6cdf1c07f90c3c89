"""Sets held against each other, and what is told of how far an object is trusted."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from sgp4.api import jday

from passes import growth
from passes.elements import Catalogue, ElementSet, as_catalogue
from passes.forecast.errors_in_time import growth_of
from passes.forecast.measured import measured_in
from passes.forecast.pairs import pairs_between, pairs_of, partners
from passes.forecast.supply import USABLE_DAYS
from passes.forecast.trust import (
    PURPOSES,
    document,
    notes_on,
    own_growth,
    serves_days,
    told,
)
from passes.model import Growth

DAY = datetime(2029, 3, 1, tzinfo=UTC)
MOTION = 0.0660  # rad/min, some 15.1 rev/day
BASE = ElementSet(
    catalog_number=80001,
    name="INVENTED",
    epoch_jd=jday(2029, 3, 1, 0, 0, 0.0)[0],
    epoch_fraction=0.25,
    inclination_rad=0.9,
    raan_rad=1.0,
    eccentricity=1e-3,
    argument_rad=0.5,
    mean_anomaly_rad=2.0,
    mean_motion_rad_min=MOTION,
    bstar=1e-5,
)


def later(days: float, late_s: float = 0.0, **changed: object) -> ElementSet:
    """The base some days on as SGP4 carries it, in mean elements, late by so much."""
    satrec = as_catalogue([BASE]).satrec(0)
    satrec.sgp4_tsince(days * 1440.0)
    fields = {
        "epoch_fraction": BASE.epoch_fraction + days,
        "raan_rad": satrec.Om % (2 * np.pi),
        "argument_rad": satrec.om % (2 * np.pi),
        "mean_anomaly_rad": (satrec.mm - MOTION * late_s / 60.0) % (2 * np.pi),
        "eccentricity": satrec.em,
    }
    return replace(BASE, **fields | changed)  # type: ignore[arg-type]


def test_lateness_is_read_as_time_along_the_path() -> None:
    sets = [BASE, later(1.0, late_s=2.0)]
    pairs = pairs_of(sets)
    assert pairs.age_days == pytest.approx([1.0])
    assert pairs.late_s == pytest.approx([2.0], abs=0.1)
    early = pairs_of([BASE, later(1.0, late_s=-7.0)])
    assert early.late_s == pytest.approx([-7.0], abs=0.1)
    assert abs(pairs.across_km[0]) < 0.1


def test_a_tilted_orbit_is_read_as_distance_across_the_path() -> None:
    # at the epoch of the newer set; tilted by 1e-4 rad the most is 0.69 km, so that
    # somewhere along four sets it must show
    off = [
        pairs_of([BASE, later(1.0 + part / 64, inclination_rad=0.9001)]).across_km[0]
        for part in range(4)
    ]
    assert 0.2 < np.abs(off).max() < 0.8


def test_backwards_the_newer_set_is_carried_to_the_older() -> None:
    pairs = pairs_of([BASE, later(1.0, late_s=2.0)], backwards=True)
    assert pairs.age_days == pytest.approx([-1.0])
    assert pairs.late_s == pytest.approx([-2.0], abs=0.1)


def test_equal_sets_and_sets_far_apart_are_no_pairs() -> None:
    assert len(pairs_of([BASE])) == 0
    assert len(pairs_of([BASE, BASE])) == 0
    assert len(pairs_of([BASE, later(0.05)])) == 0
    assert len(pairs_of([BASE, later(31.0)])) == 0
    assert len(pairs_of([])) == 0


def test_every_older_set_meets_every_newer_of_the_same_object() -> None:
    other = replace(BASE, catalog_number=80002)
    sets = as_catalogue([later(2.0), other, BASE, later(1.0)])
    old, new = partners(sets)
    assert sorted(zip(old.tolist(), new.tolist(), strict=True)) == [
        (2, 0),
        (2, 3),
        (3, 0),
    ]
    old, new = partners(sets, furthest=1)
    assert sorted(zip(old.tolist(), new.tolist(), strict=True)) == [(2, 3), (3, 0)]


def test_only_the_latest_sets_are_compared() -> None:
    sets = [later(float(day)) for day in range(9)]
    assert len(pairs_of(sets, latest=4)) == 6
    assert pairs_of(sets, latest=4).row.min() == 5


def test_a_measured_lateness_is_not_counted_twice() -> None:
    sets = as_catalogue([BASE, later(1.0, late_s=2.0)])
    late = replace(sets, late_s=np.full(2, 100.0))
    assert pairs_of(late).late_s == pytest.approx(pairs_of(sets).late_s)


def test_two_catalogues_are_compared_row_by_row() -> None:
    older, newer = as_catalogue([BASE, BASE]), as_catalogue([later(0.01), later(3.0)])
    pairs = pairs_between(older, newer)
    assert pairs.row.tolist() == [1]
    assert pairs.age_days == pytest.approx([3.0])


# --- one object's own history ---------------------------------------------------------


def late_history(late_s: float, sets: int = 4) -> list[ElementSet]:
    """Sets a day apart, each of which finds the object late by so much."""
    return [later(float(day), late_s=late_s * day) for day in range(sets)]


def test_an_object_that_is_worse_than_its_class_is_trusted_less() -> None:
    usual = own_growth([BASE])
    bad, good = own_growth(late_history(5.0)), own_growth(late_history(0.001))
    assert usual.basis == "class_fitted"
    assert bad.basis == good.basis == "own_history"
    assert bad.sigma1_s > 1.5 * usual.sigma1_s
    assert bad.bound1_s / usual.bound1_s == pytest.approx(bad.sigma1_s / usual.sigma1_s)
    assert good.sigma1_s < usual.sigma1_s
    assert good.sigma0_s == usual.sigma0_s  # what is unknown at age 0 stays so


def test_the_order_of_the_sets_does_not_matter() -> None:
    sets = late_history(5.0)
    assert own_growth(sets[::-1]) == own_growth(sets)


def test_two_sets_leave_an_object_with_its_class() -> None:
    first, second = late_history(5.0, 2)
    assert own_growth([first, second]) == own_growth([second])


def test_a_law_in_hand_is_what_is_moved() -> None:
    law = Growth(sigma0_s=1.0, sigma1_s=1.0, bound0_s=2.0, bound1_s=2.0)
    moved = own_growth(late_history(50.0), law)
    assert moved.sigma1_s > 1.0
    assert moved.power == law.power


def test_steering_is_seen_between_two_sets() -> None:
    jump = later(1.0, mean_motion_rad_min=MOTION * (1 - 3e-5))  # lifted by 140 m
    assert own_growth([BASE, jump]).manoeuvres
    assert not own_growth([BASE, later(1.0)]).manoeuvres


def test_own_history_is_of_one_object() -> None:
    with pytest.raises(ValueError, match="one object"):
        own_growth([BASE, replace(BASE, catalog_number=80002)])
    with pytest.raises(ValueError, match="one object"):
        own_growth([])


# --- a whole catalogue ----------------------------------------------------------------


def pile() -> Catalogue:
    """Two objects with four sets each, good and bad, and one with a single set."""
    bad = [replace(one, catalog_number=80002) for one in late_history(5.0)]
    alone = replace(BASE, catalog_number=80003, name="INVENTED R/B")
    return as_catalogue([*late_history(0.001), *bad, alone])


def test_a_catalogue_is_moved_object_by_object() -> None:
    sets = pile()
    newest = sets.take([3, 7, 8])
    plain, known = growth_of(newest), growth_of(newest, measured_in(sets))
    ratio = known.columns["sigma1_s"] / plain.columns["sigma1_s"]
    assert ratio[0] < 1.0 < ratio[1]
    assert ratio[2] == 1.0
    assert known.basis.tolist() == ["own_history", "own_history", "class_sigma"]
    assert known.by_class.tolist() == [False, False, True]
    one = own_growth(sets.take([4, 5, 6, 7]))
    assert known.record(1).sigma1_s == pytest.approx(one.sigma1_s)


def test_a_pile_without_history_measures_nothing() -> None:
    assert measured_in(pile().take([0, 4, 8])) is None


def test_of_unmeasured_objects_nothing_is_said() -> None:
    known = measured_in(pile())
    stranger = as_catalogue([replace(BASE, catalog_number=80009)])
    assert known is not None
    assert growth_of(stranger, known).record(0) == growth_of(stranger).record(0)
    nobody = stranger.take(np.zeros(1, dtype=bool))
    assert growth_of(nobody, known).basis.size == 0


def test_records_in_a_catalogue_come_before_classes() -> None:
    law = Growth(
        basis="ephemeris",
        sigma0_s=1.0,
        sigma1_s=0.0,
        bound0_s=2.0,
        bound1_s=0.0,
        cross0_km=0.1,
        cross1_km=0.0,
    )
    catalogue = replace(as_catalogue([BASE]), growth=(law,))
    columns = growth_of(catalogue, measured_in(pile()))
    assert columns.record(0).basis == "ephemeris"
    found = columns.at(np.array([0]), np.array([5.0]))
    assert found.timing_sigma_s.tolist() == [1.0]
    assert found.timing_bound_s.tolist() == [2.0]


# --- in words -------------------------------------------------------------------------


def test_what_is_told_of_an_object_with_history() -> None:
    rows = dict(told(late_history(5.0)))
    assert list(rows) == ["Times", "Serves", "Known from", "Measured"]
    assert "after a day" in rows["Times"]
    assert "its own successive sets" in rows["Known from"]
    assert rows["Measured"].startswith("6 comparisons of its sets: ")
    assert "5 s late after 1.0 days" in rows["Measured"]


def test_the_same_for_machines() -> None:
    got = document(late_history(5.0))
    assert got["basis"] == "own_history"
    assert got["manoeuvres"] is False
    assert [one["age_days"] for one in got["expected"]] == [1.0, 3.0, 7.0]
    assert all(
        0.0 < one["timing_sigma_s"] < one["timing_bound_s"] for one in got["expected"]
    )
    assert len(got["measured"]) == 6
    late = {one["age_days"]: one["late_s"] for one in got["measured"]}
    assert late[3.0] == pytest.approx(15.0, abs=0.3)


def test_what_is_told_of_a_spent_stage() -> None:
    rows = dict(told([replace(BASE, name="INVENTED R/B")]))
    assert list(rows) == ["Times", "Serves", "Known from"]
    assert "borrowed" in rows["Known from"]
    assert "never steered" in rows["Known from"]


def test_what_is_told_of_craft_that_steer() -> None:
    head = growth.load().fleets[0]
    by_kind = dict(told([replace(BASE, name=f"{head}-99999")]))
    assert "no prediction knows" in by_kind["Steers"]
    jump = later(1.0, mean_motion_rad_min=MOTION * (1 - 3e-5))
    assert "as no air changes them" in dict(told([BASE, jump]))["Steers"]


@pytest.mark.parametrize("purpose", PURPOSES)
def test_a_prediction_serves_until_its_bound_reaches_the_limit(purpose: str) -> None:
    law = replace(own_growth([BASE]), bound1_s=2.0, bound_power=2.0)
    days = serves_days(law)[purpose]
    assert 0.0 < days < USABLE_DAYS
    _, (before_s, after_s), _ = growth.errors(law, np.array([0.99, 1.01]) * days)
    assert before_s < PURPOSES[purpose] < after_s


def test_what_is_too_uncertain_at_its_epoch_never_serves() -> None:
    law = replace(own_growth([BASE]), bound0_s=20.0)
    assert serves_days(law)["transits"] == 0.0
    assert serves_days(law)["high-speed imaging"] > 0.0


def test_what_an_object_serves_is_told() -> None:
    said = dict(told([BASE]))["Serves"]
    for purpose in PURPOSES:
        assert purpose in said
    assert "high-speed imaging for" in said


def test_notes_count_what_is_too_uncertain_and_name_the_worst() -> None:
    names, ages = ["ONE", "TWO", "THREE"], [0.5, -4.0, 2.0]
    assert notes_on(names, ages, [1.0, 59.0, np.nan]) == ()
    (note,) = notes_on(names, ages, [61.0, 1200.0, 3.0])
    assert note.severity == "caution"
    assert note.values["too_uncertain"] == 2
    assert "2 of the 3" in note.text
    assert "TWO 20 min" in note.text
    assert "4.0 days" in note.text
    (single,) = notes_on(names, ages, [1.0, 1200.0, 3.0])
    assert single.text.startswith("TWO may be over 60 s early or late")
