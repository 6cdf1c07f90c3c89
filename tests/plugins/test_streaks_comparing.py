"""Fields ranked hour by hour: what streaks, air, Moon and the flip leave."""

from dataclasses import replace
from typing import Any

import pytest
from session_plans import session_plan

pytest.importorskip("passes_plugins.streaks")
from passes.config import Config
from passes.forecast import Request, build
from passes.plans import read_plan_text
from passes.registry import Registry
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.comparing import Hour, compared
from passes_plugins.streaks.planning import planned

#: A bright Moon stands at 22° from the second field, 55° from the first.
FIELDS = (
    ("far from the Moon", 148.92, 69.35),
    ("near the Moon", 150.0, 12.0),
    ("setting", 80.0, 30.0),
)


@pytest.fixture(scope="module")
def services() -> Any:
    forecast = build(Request(demo=True), Registry.from_entry_points(), Config())
    return forecast.for_plugin("streaks")


def hours(services: Any, filter_name: str = "", overheads: str = "") -> list[Any]:
    said = f'filter = "{filter_name}"' if filter_name else ""
    start = "2029-03-25T21:00:00Z"
    text = session_plan(38, start=start, targets=FIELDS, more=said)
    text += f"[overheads]\n{overheads}\n"
    ready = planned(read_plan_text(text), services, site_named=False)
    return compared(ready, (), Choices())


def named(some: Any, name: str) -> Hour:
    (found,) = [one for one in some if one.target == name]
    return found


def test_the_worth_is_the_product_of_what_each_leaves(services: Any) -> None:
    for some in hours(services):
        assert [one.worth for one in some] == sorted(
            (one.worth for one in some), reverse=True
        )
        for one in some:
            parts = one.kept * one.air * one.dark * one.flip
            assert one.worth == pytest.approx(parts)
            assert 0.0 <= one.worth <= 1.0


def test_the_moon_ranks_fields_that_stand_alike(services: Any) -> None:
    """Both at 55° to 60°, both clean; 33° nearer to the Moon costs half."""
    first = hours(services)[0]
    far, near = (named(first, f"{word} the Moon") for word in ("far from", "near"))
    assert abs(far.altitude_deg - near.altitude_deg) < 8.0
    assert near.moon_away_deg < 25.0 < 50.0 < far.moon_away_deg
    assert near.moon_altitude_deg > 30.0
    assert near.moon_lit > 0.7
    assert near.dark < 0.65 * far.dark
    assert far.worth > near.worth


def test_a_narrow_filter_minds_the_moon_less(services: Any, monkeypatch: Any) -> None:
    """Read noise and dark current are there without a Moon too."""
    wide = named(hours(services)[0], "near the Moon")
    (band, *_) = services.rig("field").filters
    changed(services, monkeypatch, filters=(replace(band, width_nm=3.0),))
    narrow = named(hours(services)[0], "near the Moon")
    assert wide.dark < 0.1
    assert narrow.dark > 2.0 * wide.dark


def changed(services: Any, monkeypatch: Any, **fields: Any) -> None:
    """Let the services know the plan's rig with other parts."""
    rig = replace(services.rig("field"), **fields)
    monkeypatch.setattr(type(services), "rig", lambda self, name: rig)


def test_air_and_horizon_cost_a_setting_field_its_worth(services: Any) -> None:
    setting = [named(some, "setting") for some in hours(services)]
    assert [one.air for one in setting] == sorted(
        (one.air for one in setting), reverse=True
    )
    assert setting[-1].airmass > 1.5 * setting[0].airmass


def test_the_hour_of_the_flip_is_shorter(services: Any) -> None:
    """Five minutes where the plan tells none (common practice, no source)."""
    by_hour = [named(some, "far from the Moon") for some in hours(services)]
    flips = [one for one in by_hour if one.flip < 1.0]
    assert len(flips) == 1
    assert flips[0].flip == pytest.approx(1.0 - 300.0 / 3600.0)
    assert 0.0 <= flips[0].flip_min < 60.0
    told = hours(services, overheads="flip_s = 900")
    long = [named(some, "far from the Moon") for some in told]
    assert min(one.flip for one in long) == pytest.approx(0.75)


def test_a_mount_without_flips_loses_no_time(services: Any, monkeypatch: Any) -> None:
    mount = replace(services.rig("field").mount, kind="alt-azimuth")
    changed(services, monkeypatch, mount=mount)
    by_hour = [named(some, "far from the Moon") for some in hours(services)]
    assert [one.flip for one in by_hour] == [1.0] * len(by_hour)
    assert all(one.flip_min != one.flip_min for one in by_hour)
