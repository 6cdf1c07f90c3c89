"""Placing, lengths and comparing of the streaks plugin; its reporter; its commands."""

import json
from dataclasses import replace
from math import nan
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

pytest.importorskip("passes_plugins.streaks")
from passes.cli import cli
from passes.config import Config
from passes.forecast import Request, build
from passes.plans import read_plan_text, subs_of
from passes.registry import Registry
from passes_plugins.streaks.assessing import assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.clock_offsets import clock_offset
from passes_plugins.streaks.identifying import Streak, weighed
from passes_plugins.streaks.lengths import SkyLimit, sky_limits, tried
from passes_plugins.streaks.placing import placed
from passes_plugins.streaks.planning import planned
from passes_plugins.streaks.worth import Threats, expected_weight, weight_of

CHORES = """
[overheads]
download_s = 6
dither_every = 3
settle_s = 20
focus_every_min = 60
focus_s = 90
flip_s = 120

[target]"""


@pytest.fixture(scope="module")
def services() -> Any:
    forecast = build(Request(demo=True), Registry.from_entry_points(), Config())
    return forecast.for_plugin("streaks")


def ready(services: Any, old: str = "", new: str = "") -> Any:
    """The demo's plan, with one thing in it changed."""
    text = services.demo_session
    assert old in text
    plan = read_plan_text(text.replace(old, new) if old else text)
    return planned(plan, services, site_named=False)


def typed(*args: str) -> Any:
    result = CliRunner().invoke(cli, args, prog_name="passes")
    assert result.exit_code == 0, result.stderr
    return result.stdout


# --- placing -----------------------------------------------------------------------


def test_the_demo_loses_no_sub_once_placed(services) -> None:
    """DEMO MIRROR spoils the second sub; twenty seconds of waiting save it."""
    plan = ready(services)
    found = placed(plan, Choices())
    assert not found.leave_it
    assert found.gain_s > found.held_s > 0.0
    assert found.gain_s == pytest.approx(180.0, abs=3.0)
    again = planned(found.plan, services, site_named=False)
    every = Choices(least_chance=0.0)
    judged = assess(again.session, again.services, every).judged
    assert [one.verdict for one in judged].count("spoiled") == 0
    kept = sum(one.sub.exposure_s * weight_of(one) for one in judged)
    assert kept == pytest.approx(found.kept_after_s, abs=0.1)


def test_what_is_placed_is_left_then(services) -> None:
    found = placed(ready(services), Choices())
    again = placed(planned(found.plan, services, site_named=False), Choices())
    assert again.leave_it
    assert again.plan == found.plan
    assert (again.gain_s, again.held_s) == (0.0, 0.0)


def test_trails_that_stacking_removes_are_left(services) -> None:
    """The demo's plan after its one spoiling crossing."""
    later = ready(services, "T20:00:00Z", "T20:10:00Z")
    found = placed(later, Choices())
    words = [one.verdict for one in found.before.judged]
    assert "removable" in words
    assert "spoiled" not in words
    assert found.leave_it
    assert found.plan == later.plan


def test_chores_move_and_still_fit(services) -> None:
    """Dithers every three subs, focus runs, a flip: the camera does one at a time."""
    plan_text = services.demo_session.replace("gap_s = 6.0\n", "").replace(
        "[target]", CHORES
    )
    plan = planned(read_plan_text(plan_text), services, site_named=False)
    found = placed(plan, Choices())
    assert not found.leave_it
    starts = [one.start for one in found.plan.subs]
    gaps = np.diff([(s - starts[0]).total_seconds() for s in starts]) - 186.0
    assert gaps.min() >= 0.0
    # what the plan's own run spends between subs, and the waiting on top
    own = subs_of(plan.plan)
    dithers, runs = (len(own) - 1) // 3, sum(g >= 90.0 for g in gaps)
    assert runs >= 5
    assert gaps.sum() == pytest.approx(
        20 * dithers + 90 * 6 + 120 + found.held_s, abs=120
    )
    transit = gaps.max() >= 120
    assert transit


def test_the_reporter_s_holds(services) -> None:
    session = ready(services).session
    (report,) = services.report(session, ("placing",))
    assert [one.details["sub"] for one in report.events] == [2]
    event = report.events[0]
    assert event.weight == 0.0
    assert [one["event"] for one in event.details["steps"]] == ["hold", "resume"]
    assert (event.end - event.start).total_seconds() == event.details["held_s"]
    assert len(report.rows) == len(session.subs)
    (nothing,) = services.report(replace(session, subs=()), ("placing",))
    assert nothing.events == ()


def test_the_placing_as_typed_is_a_plan_again(tmp_path: Path) -> None:
    text = typed("streaks", "--demo", "--place")
    plan = read_plan_text(text)
    assert len(plan.subs) == 120
    assert "# Cost: " in text
    path = tmp_path / "placed.toml"
    path.write_text(text)
    left = typed("streaks", "--demo", str(path), "--place")
    assert "# Leave it: stacking handles this." in left
    found = json.loads(typed("streaks", "--demo", "--place", "--json"))
    assert read_plan_text(found["plan"]).subs == plan.subs


# --- what an exposure is worth --------------------------------------------------------


def threat(sigma_s: float, *verdicts: Any) -> Threats:
    n = len(verdicts)
    return Threats(
        crossings=(),
        entry_s=np.full(n, 500.0),
        exit_s=np.full(n, 510.0),
        sigma_s=np.full(n, sigma_s),
        sideways=np.ones(n),
        verdicts=tuple(verdicts),
    )


def test_the_worst_of_several_decides(services) -> None:
    sub = replace(ready(services).session.subs[0], start_jitter_s=0.0)
    grid = np.arange(0.5, 1000.0)
    weight = expected_weight(threat(0.001, "removable", "spoiled", None), sub, grid)
    assert set(np.round(weight, 9)) == {0.0, 1.0}
    lost = grid[weight < 0.5]
    assert (lost[0], lost[-1]) == (320.5, 509.5)  # opens after 500 - 180, before 510
    mild = expected_weight(threat(0.001, "removable", None), sub, grid)
    assert mild.min() == pytest.approx(0.99)


def test_an_unsure_crossing_is_a_chance(services) -> None:
    """An exposure that ends at the middle of the crossing's own error: one half."""
    sub = replace(ready(services).session.subs[0], start_jitter_s=0.0)
    weight = expected_weight(threat(10.0, "spoiled"), sub, np.array([320.0]))
    assert weight[0] == pytest.approx(0.5, abs=1e-6)


# --- lengths and fields ---------------------------------------------------------------


def test_the_sky_limit_is_ten_times_the_read_noise_squared() -> None:
    """Common practice, no source: 10 × 3² / 0.5 e⁻/s."""
    one = SkyLimit(filter="", gain="", sky_e_s=0.5, read_noise_e=3.0)
    assert one.exposure_s == 180.0
    assert np.isnan(replace(one, sky_e_s=nan).exposure_s)


def test_other_lengths_fill_the_same_time(services) -> None:
    plan = ready(services)
    found, lengths = tried(plan, Choices(), [60.0, 600.0])
    assert [one.exposure_s for one in lengths] == [60.0, 180.0, 600.0]
    short, own, long = lengths
    assert own.planned
    assert own.subs == 120
    assert short.subs == 338  # (120 × 186) / 66
    assert short.open_s < own.open_s
    assert short.deep_s / short.kept_s < own.deep_s / own.kept_s
    assert long.deep_s / long.kept_s > own.deep_s / own.kept_s
    assert all(one.kept_s <= one.open_s for one in lengths)
    assert sky_limits(found)[0].exposure_s < 180.0


def test_fields_are_ranked_by_the_hour(tmp_path: Path, services) -> None:
    path = tmp_path / "low.toml"
    text = services.demo_session.replace("M 81 field", "Low").replace("69.35", "-20.0")
    path.write_text(text)
    found = json.loads(typed("streaks", "--demo", "--compare", str(path), "--json"))
    hours: dict[str, list[Any]] = {}
    for one in found["hours"]:
        hours.setdefault(one["start"], []).append(one)
    assert len(hours) == 7
    for some in hours.values():
        assert [one["target"] for one in some] == ["M 81 field", "Low"]
        assert some[0]["worth"] > some[1]["worth"]
        assert 0.0 <= some[1]["worth"] <= 1.0


def test_one_question_at_a_time() -> None:
    for args, message in (
        (["--demo", "--place", "--try-exposures", "60"], "ask one"),
        (["--subs", "x.fits", "--place"], "needs a plan"),
        (["--demo", "--try-exposures", "-5"], "impossible"),
        (["--demo", "--compare", "nowhere.toml"], "nowhere.toml"),
    ):
        result = CliRunner().invoke(cli, ["streaks", *args], prog_name="passes")
        assert result.exit_code != 0
        assert message in result.stderr


def test_nothing_near_is_none_of_these(services) -> None:
    streak = Streak(
        ends=((10.0, 20.0), (11.0, 20.0)),
        start=services.window.start,
        exposure_s=60.0,
    )
    found = weighed(streak, [], services.site)
    assert (found.named, found.none_chance, found.candidates) == (None, 1.0, ())
    assert clock_offset([found]) is None
