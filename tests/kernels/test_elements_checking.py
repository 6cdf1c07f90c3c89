"""What a check says of element sets, with stand-ins for classes and propagation."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from passes.elements import Reading, Skipped, as_catalogue, read
from passes.elements.checking import (
    GEOSTATIONARY,
    HIGH,
    LOW,
    MEDIUM,
    check,
    orbit_kind,
)
from passes.model import Span

NOON = datetime(2025, 9, 13, 12, tzinfo=UTC)
DAY = Span(start=NOON, end=NOON + timedelta(days=1))
REV_DAY = 2 * np.pi / 1440


class Places:
    """A propagator that fails as a test wants: number to (hours after start, code)."""

    failing: dict[int, tuple[float, int]] = {}  # noqa: RUF012  set by each test

    def __init__(self, catalogue, start):
        self.catalogue, self.start = catalogue, start

    def many(self, rows, time_s):
        codes = np.zeros((len(rows), len(time_s)), dtype=np.uint8)
        for i, row in enumerate(rows.tolist()):
            number = int(self.catalogue.catalog_number[row])
            if number in self.failing:
                hours, code = self.failing[number]
                codes[i, time_s >= hours * 3600] = code
        nowhere = np.full((*codes.shape, 3), np.nan)
        return nowhere, nowhere, codes


def classes(names, designators):
    assert len(names) == len(designators)
    return ["debris" if "DEB" in name else "payload" for name in names]


@pytest.fixture
def checked(fixtures, monkeypatch):
    """Check the six invented objects, some of them failing."""

    def it(failing=None, change=lambda catalogue: catalogue, window=DAY, **more):
        monkeypatch.setattr(Places, "failing", failing or {})
        reading = read([fixtures / "elements/readers/bare-names.tle"])
        reading = replace(reading, catalogue=change(reading.catalogue), **more)
        return check(
            reading,
            window,
            classify=classes,
            propagator=Places,
            words={1: "one", 6: "decayed"},
        )

    return it


def test_objects_are_counted_by_class_and_orbit(checked):
    found = checked()
    assert (found.sets, found.objects) == (6, 6)
    assert found.classes == {"payload": 5, "debris": 1}
    assert found.orbits == {LOW: 3, GEOSTATIONARY: 1, HIGH: 1, MEDIUM: 1}
    assert found.counts["debris", LOW] == 1
    assert sum(found.counts.values()) == 6


def test_epochs_and_ages(checked):
    found = checked()
    first = datetime(2025, 9, 13, 3, 0, 1, 500000, tzinfo=UTC)
    assert abs(found.first_epoch - first) < timedelta(milliseconds=1)
    assert abs(found.last_epoch - first - timedelta(hours=15)) < timedelta(seconds=1)
    # epochs lie 9, 6, 3 and 0 h before noon and 3 and 6 h after
    assert found.median_age_days == pytest.approx(4.5 / 24, abs=1e-4)
    assert found.greatest_age_days == pytest.approx(9 / 24, abs=1e-4)
    assert found.stale == 0
    later = Span(start=NOON + timedelta(days=6.8), end=NOON + timedelta(days=7))
    assert checked(window=later).stale == 2


def test_what_sgp4_refuses_is_told_with_its_first_time(checked):
    found = checked({80002: (0.0, 6), 80005: (7.2, 1), 80006: (30.0, 6)})
    assert [(r.catalog_number, r.code, r.reason) for r in found.refused] == [
        (80002, 6, "decayed"),
        (80005, 1, "one"),
    ]
    assert found.refused[0].time == NOON
    assert found.refused[1].time == NOON + timedelta(hours=7.5)
    assert found.refused[1].name == "INVENTED CRAFT 5"
    assert checked({80001: (1.0, 4)}).refused[0].reason == "SGP4 error 4"


def test_of_several_sets_one_is_counted(checked):
    found = checked(change=lambda c: c.take([0, 0, 1, 2, 3, 4, 5, 5, 5]))
    assert (found.sets, found.objects) == (9, 6)
    assert [(s.catalog_number, s.name, s.sets) for s in found.several] == [
        (80001, "INVENTED STATION", 2),
        (80006, "INVENTED CRAFT 6", 3),
    ]


def test_nothing_at_all_is_checked_too(checked):
    bad = Skipped(catalog_number=1, name="", reason="bad", where="a:1")
    found = checked(change=lambda c: c.take([]), rejected=(bad,))
    assert (found.sets, found.objects, found.counts) == (0, 0, {})
    assert found.first_epoch is None
    assert np.isnan(found.median_age_days)
    assert found.rejected == (bad,)


def test_many_objects_are_asked_in_blocks_and_none_is_lost(fixtures, monkeypatch):
    one = read([fixtures / "elements/readers/bare-names.tle"]).catalogue[0]
    many = [replace(one, catalog_number=80001 + i) for i in range(4321)]
    failing = {80001 + i: (0.0, 6) for i in (0, 1999, 2000, 4320)}
    monkeypatch.setattr(Places, "failing", failing)
    found = check(
        Reading(catalogue=as_catalogue(many)),
        DAY,
        classify=classes,
        propagator=Places,
        words={},
    )
    assert [r.catalog_number for r in found.refused] == sorted(failing)


@pytest.mark.parametrize(
    ("rev_day", "eccentricity", "inclination_deg", "kind"),
    [
        # common orbits of the trade, no source: what each is called
        (15.5, 0.0007, 51.6, LOW),  # a station
        (14.3, 0.0001, 98.7, LOW),  # Sun-synchronous
        (12.7, 0.0001, 66.0, LOW),  # 1,350 km
        (11.4, 0.001, 52.0, LOW),  # 1,960 km; 2,000 km takes 11.32 rev/day
        (11.2, 0.001, 52.0, MEDIUM),
        (11.0, 0.08, 52.0, MEDIUM),
        (2.0056, 0.01, 55.0, MEDIUM),  # navigation
        (1.0027, 0.0002, 0.05, GEOSTATIONARY),
        (1.0027, 0.002, 14.5, GEOSTATIONARY),  # left to itself for decades
        (1.0027, 0.075, 41.0, HIGH),  # once a day, but tilted far
        (2.006, 0.74, 63.4, HIGH),  # Molniya
        (2.27, 0.73, 7.0, HIGH),  # transfer
        (0.3, 0.1, 10.0, HIGH),
    ],
)
def test_orbits_are_called_what_the_trade_calls_them(
    fixtures, rev_day, eccentricity, inclination_deg, kind
):
    one = read([fixtures / "elements/readers/bare-names.tle"]).catalogue[0]
    made = replace(
        one,
        mean_motion_rad_min=rev_day * REV_DAY,
        eccentricity=eccentricity,
        inclination_rad=np.radians(inclination_deg),
    )
    assert orbit_kind(as_catalogue([made])) == (kind,)
