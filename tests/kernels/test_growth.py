"""Growth of errors with age: the law, what drives it, and the values of the classes."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sgp4.api import WGS72, Satrec

from passes import growth
from passes.growth.classes import STEADY_REV_DAY
from passes.model import Growth

ages = st.floats(-30.0, 30.0)
drags = st.floats(-50.0, 50.0)

#: One orbit of each class: kind, revolutions a day, eccentricity, company, inclination.
ONE_OF = {
    "constellation": ("payload", 15.1, 1e-4, True, 53.0),
    "steady constellation": ("payload", 13.2, 1e-4, True, 87.0),
    "low": ("payload", 14.8, 1e-3, False, 98.0),
    "lowest": ("station", 15.5, 1e-3, False, 51.6),
    "passive low": ("rocket body", 14.0, 1e-2, False, 82.0),
    "passive lowest": ("debris", 15.6, 1e-2, False, 98.0),
    "geostationary": ("payload", 1.0027, 1e-4, False, 0.03),
    "geosynchronous": ("payload", 1.0027, 1e-4, False, 5.0),
    "medium": ("payload", 2.006, 1e-2, False, 55.0),
    "eccentric": ("rocket body", 2.3, 0.7, False, 7.0),
}


def law_of(name: str, drag: float = np.nan) -> Growth:
    """The growth record of an object of a class."""
    kind, motion, eccentricity, company, tilt = ONE_OF[name]
    columns = growth.class_coefficients(
        [kind],
        [motion],
        [eccentricity],
        [company],
        inclination_deg=[tilt],
        drag_s_day2=[drag],
    )
    values = {key: float(column[0]) for key, column in columns.items()}
    return Growth(**values | {"manoeuvres": bool(values["manoeuvres"])})


def test_the_law_by_hand() -> None:
    assert float(growth.timing_s(2.0, 3.0, 1.0, 2.0)) == 5.0
    assert float(growth.timing_s(-2.0, 3.0, 1.0, 2.0)) == 5.0
    assert float(growth.cross_km(4.0, 0.3, 0.1)) == pytest.approx(0.5)


def test_the_bound_may_have_a_power_of_its_own() -> None:
    record = Growth(
        sigma0_s=3.0,
        sigma1_s=1.0,
        bound0_s=6.0,
        bound1_s=1.0,
        power=2.0,
        cross0_km=0.3,
        cross1_km=0.2,
    )
    sigma, bound, across = growth.errors(record, 2.0)
    assert (float(sigma), float(bound)) == (5.0, pytest.approx(52.0**0.5))
    assert float(across) == pytest.approx(0.5)
    assert float(growth.errors(replace(record, bound_power=3.0), 2.0)[1]) == 10.0


@pytest.mark.parametrize("name", growth.CLASSES)
def test_classes_follow_kind_orbit_and_company(name: str) -> None:
    kind, motion, eccentricity, company, tilt = ONE_OF[name]
    named = growth.orbit_class([kind], [motion], [eccentricity], [company], [tilt])
    assert named.tolist() == [name]


def test_a_payload_of_unknown_company_gets_the_wider_error() -> None:
    unsaid = growth.orbit_class(["payload", "rocket body"], [15.0, 15.0], [0.0, 0.0])
    assert unsaid.tolist() == ["constellation", "passive low"]


def test_rocket_bodies_debris_and_unknown_kinds_borrow() -> None:
    kinds = ["payload", "station", "rocket body", "debris", "unknown"]
    assert growth.borrows(kinds).tolist() == [False, False, True, True, True]


def test_craft_of_a_fleet_are_known_by_the_head_of_their_name() -> None:
    heads = growth.load().fleets
    names = [f"{heads[0]}-1234", f"{heads[0].lower()} 7", "ALONE", f"OLD {heads[0]}"]
    assert growth.fleet_members(names).tolist() == [True, True, False, False]
    assert STEADY_REV_DAY < growth.LOWEST_REV_DAY


def test_stations_and_constellation_craft_are_said_to_manoeuvre() -> None:
    steers = {name: law_of(name).manoeuvres for name in growth.CLASSES}
    assert {name for name, does in steers.items() if does} == {
        "constellation",
        "steady constellation",
        "lowest",  # the object asked for is a station
        "geostationary",
    }


@pytest.mark.parametrize("name", growth.CLASSES)
@given(a=ages, b=ages, drag=drags)
def test_older_is_never_surer_and_the_bound_is_outside_sigma(
    name: str, a: float, b: float, drag: float
) -> None:
    young, old = sorted((abs(a), abs(b)))
    for one in (law_of(name), law_of(name, drag)):
        before, after = growth.errors(one, young), growth.errors(one, old)
        assert before[0] < before[1]
        assert all(x <= y for x, y in zip(before, after, strict=True))
        assert float(before[0]) > 0.0
        assert growth.errors(one, -old) == after


@given(drag=st.floats(0.0, 500.0))
def test_more_drag_than_was_ever_seen_makes_the_error_larger_still(drag: float) -> None:
    strongest = float(growth.load().nodes["lowest"]["drag_s_day2"][-1])
    seen, more = law_of("lowest", strongest), law_of("lowest", strongest + drag)
    share = (strongest + drag) / strongest
    assert more.sigma1_s == pytest.approx(share * seen.sigma1_s)
    assert more.bound1_s == pytest.approx(share * seen.bound1_s)


def test_the_sign_of_drag_does_not_matter() -> None:
    assert law_of("lowest", -0.7) == law_of("lowest", 0.7)


def test_coefficients_come_as_arrays_one_an_object() -> None:
    n = 1000
    columns = growth.class_coefficients(
        np.full(n, "payload"), np.linspace(1.0, 16.0, n), np.linspace(0.0, 0.8, n)
    )
    assert {column.shape for column in columns.values()} == {(n,)}
    record = SimpleNamespace(**columns)
    assert growth.errors(record, np.ones(n))[0].shape == (n,)


def ahead_s(days: float, **orbit: float) -> float:
    """How far drag carries an object ahead after some days, by the sgp4 package.

    The difference, in mean longitude, between an object with drag and the same without.
    """
    longitude = []
    for bstar in (orbit["bstar"], 0.0):
        one = Satrec()
        angles = (orbit["e"], 0.0, orbit["tilt"], 0.0, orbit["n"], 0.0)
        one.sgp4init(WGS72, "i", 80001, 27000.0, bstar, 0.0, 0.0, *angles)
        one.sgp4_tsince(days * 1440.0)
        longitude.append(one.mm + one.om + one.Om * np.cos(one.im))
    turn = (longitude[0] - longitude[1] + np.pi) % (2 * np.pi) - np.pi
    return float(turn / orbit["n"] * 60.0)


@pytest.mark.parametrize(
    ("n", "e", "tilt", "bstar"),
    [
        (0.0676, 0.0005, 0.9, 3e-4),  # a station's orbit
        (0.0640, 0.0020, 1.71, 1e-3),
        (0.0670, 0.0100, 1.5, -2e-4),
        (0.0600, 0.0500, 0.5, 4e-4),  # perigee 320 km below the mean
    ],
)
def test_drag_is_what_sgp4_makes_of_it(n, e, tilt, bstar) -> None:  # type: ignore[no-untyped-def]
    # authority: the sgp4 package, run with the drag term and without it
    got = float(growth.drag_s_day2(n, e, tilt, bstar))
    days = 0.5
    want = ahead_s(days, n=n, e=e, tilt=tilt, bstar=bstar) / days**2
    assert got == pytest.approx(want, rel=0.05)
