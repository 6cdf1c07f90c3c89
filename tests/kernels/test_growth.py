"""Growth of errors with age: the law, and the values of the classes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes import growth
from passes.model import Growth

ages = st.floats(-30.0, 30.0)


def of_class(name: str, age: float) -> tuple[float, float, float]:
    """Sigma and bound in seconds, sigma across in km, of a class at an age."""
    motion = {"low": 14.5, "lowest": 15.5, "geostationary": 1.0, "medium": 2.0}
    word, _, rest = name.partition(" ")
    key = rest or word
    c = growth.class_coefficients(
        ["payload"],
        [motion.get({"constellation": "lowest" if rest else "low"}.get(key, key), 2.3)],
        [0.7 if name == "eccentric" else 0.001],
        ["constellation" in name],
    )
    sigma = growth.timing_s(age, c["sigma0_s"], c["sigma1_s"], c["power"])
    bound = growth.timing_s(age, c["bound0_s"], c["bound1_s"], c["power"])
    return (
        float(sigma[0]),
        float(bound[0]),
        float(growth.cross_km(age, c["cross0_km"], c["cross1_km"])[0]),
    )


def test_the_law_by_hand() -> None:
    assert float(growth.timing_s(2.0, 3.0, 1.0, 2.0)) == 5.0
    assert float(growth.timing_s(-2.0, 3.0, 1.0, 2.0)) == 5.0
    assert float(growth.cross_km(4.0, 0.3, 0.1)) == pytest.approx(0.5)


def test_classes_follow_orbit_and_company() -> None:
    named = growth.orbit_class(
        ["payload", "payload", "station", "debris", "payload", "payload", "payload"],
        [15.05, 15.3, 15.5, 14.0, 1.0027, 2.006, 2.2],
        [1e-4, 1e-4, 1e-4, 0.01, 1e-4, 0.01, 0.7],
        [True, True, False, False, False, False, False],
    )
    assert named.tolist() == [
        "constellation",
        "lowest constellation",
        "lowest",
        "low",
        "geostationary",
        "medium",
        "eccentric",
    ]


def test_a_payload_of_unknown_company_gets_the_wider_error() -> None:
    unsaid = growth.orbit_class(["payload", "rocket body"], [15.0, 15.0], [0.0, 0.0])
    assert unsaid.tolist() == ["constellation", "low"]


def test_the_fields_are_those_of_a_growth_record() -> None:
    columns = growth.class_coefficients(["payload"] * 2, [15.0, 1.0], [0.0, 0.0])
    record = Growth(
        **{
            name: bool(column[0]) if name == "manoeuvres" else float(column[0])
            for name, column in columns.items()
        }
    )
    assert record.sigma1_s == 0.42
    assert record.manoeuvres is True


@pytest.mark.parametrize("name", growth.CLASSES)
@given(a=ages, b=ages)
def test_older_is_never_surer_and_the_bound_is_outside_sigma(
    name: str, a: float, b: float
) -> None:
    young, old = sorted((abs(a), abs(b)))
    sigma, bound, across = of_class(name, young)
    later = of_class(name, old)
    assert sigma < bound
    assert sigma <= later[0]
    assert bound <= later[1]
    assert across <= later[2]


@pytest.mark.parametrize("name", growth.CLASSES)
def test_the_helper_reaches_every_class(name: str) -> None:
    # guards the parametrised tests above against testing one class seven times
    c = growth.class_coefficients(["debris"], [14.0], [0.0])
    plain = float(c["sigma0_s"][0]), float(c["bound0_s"][0])
    assert (of_class(name, 0.0)[:2] == plain) == (name == "low")


def test_coefficients_come_as_arrays_one_an_object() -> None:
    n = 1000
    columns = growth.class_coefficients(
        np.full(n, "payload"), np.linspace(1.0, 16.0, n), np.linspace(0.0, 0.8, n)
    )
    assert {column.shape for column in columns.values()} == {(n,)}
