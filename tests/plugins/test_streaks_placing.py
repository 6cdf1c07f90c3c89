"""Placing, lengths and comparing of the streaks plugin; its reporter; its commands."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise, product
from math import nan
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from session_plans import session_plan

pytest.importorskip("passes_plugins.streaks")
from passes.cli import cli
from passes.config import Config
from passes.forecast import Request, build
from passes.plans import plan_text, read_plan_text
from passes.registry import Registry
from passes_plugins.streaks.assessing import assess
from passes_plugins.streaks.choices import Choices
from passes_plugins.streaks.clock_offsets import clock_offset
from passes_plugins.streaks.identifying import Streak, weighed
from passes_plugins.streaks.lengths import SkyLimit, sky_limits, tried
from passes_plugins.streaks.placing import placed
from passes_plugins.streaks.placing_page import words_of
from passes_plugins.streaks.placing_worth import kinds_of
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


def test_no_other_waits_are_better(services) -> None:
    """Three short subs around DEMO MIRROR's crossing, every wait tried."""
    most = 30
    text = services.demo_session.replace("20:00:00Z", "20:02:00Z")
    text = text.replace("subs = 120", "subs = 3").replace("= 180.0", "= 60.0")
    ready = planned(read_plan_text(text), services, site_named=False)
    found = placed(ready, Choices(), most)
    kinds = kinds_of(found.before, 3 * 66.0 - 6.0 + most)
    best = 0.0
    for waits in product(range(most + 1), repeat=3):
        if sum(waits) > most:
            continue
        opens = [66 * k + sum(waits[: k + 1]) for k in range(3)]
        kept = sum(float(kinds.values[0, second]) for second in opens)
        best = max(best, kept - sum(waits))
    assert found.kept_after_s - found.held_s == pytest.approx(best, abs=1e-6)
    assert found.held_s > 0.0


def test_where_no_wait_pays_the_spoiled_sub_is_told(services) -> None:
    """A sub of three seconds is not worth the wait for a crossing of five."""
    text = services.demo_session.replace("20:00:00Z", "20:03:10Z")
    text = text.replace("subs = 120", "subs = 12").replace("= 180.0", "= 3.0")
    found = placed(planned(read_plan_text(text), services, site_named=False), Choices())
    assert found.leave_it
    assert found.spoiled >= 1
    assert "likely to be spoiled, but no other starts gain" in words_of(found)[0]


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


def run_off(found: Any) -> list[float]:
    """Seconds between subs that neither they, downloads, chores nor holds explain."""
    over, held = found.plan.overheads, {one.sub.index: one for one in found.holds}
    took = {"dither": over.settle_s, "focus": over.focus_s, "flip": over.flip_s}
    unexplained = []
    for one, other in pairwise(found.subs):
        gap = (other.start - one.end).total_seconds() - over.download_s
        gap -= sum(took[word] for word in other.before)
        hold = held.get(other.index)
        unexplained.append(gap - (hold.seconds if hold else 0.0))
    return unexplained


def read_back(found: Any, services: Any) -> Any:
    again = read_plan_text(plan_text(found.plan))
    return planned(again, services, site_named=False).session.subs


def chored(services: Any, extra: str = "") -> Any:
    text = services.demo_session.replace("gap_s = 6.0\n", "")
    text = text.replace("[target]", CHORES.replace("\n[target]", f"{extra}\n[target]"))
    return planned(read_plan_text(text), services, site_named=False)


def test_chores_move_and_still_fit(services) -> None:
    """Dithers every three subs, focus runs, a flip: the camera does one at a time."""
    plan = chored(services)
    found = placed(plan, Choices())
    assert not found.leave_it
    assert max(map(abs, run_off(found))) == 0.0
    own = [word for sub in plan.session.subs for word in sub.before]
    now = [word for sub in found.subs for word in sub.before]
    assert {word: now.count(word) for word in set(now)} == {
        "dither": own.count("dither"),
        "focus": own.count("focus"),
        "flip": 1,
    }
    assert found.gain_s > found.held_s
    assert read_back(found, services) == found.subs


#: DEMO MIRROR crosses this field at 20:00:10, thirteen minutes after the meridian.
MERIDIAN = datetime(2029, 3, 17, 19, 47, 18, tzinfo=UTC)
SOUTH = """
[session]
site = "quillmoor"
rig = "field"
start = 2029-03-17T19:31:12Z
[target]
name = "South"
ra_deg = 109.722
dec_deg = -0.419
[overheads]
download_s = 6
flip_s = 120
flip_within_min = 20
[[group]]
exposure_s = 180
count = 14
"""


def test_the_flip_is_put_onto_a_bright_crossing_where_the_mount_lets_it(
    services,
) -> None:
    def place(text: str) -> Any:
        return placed(
            planned(read_plan_text(text), services, site_named=False), Choices()
        )

    late = place(SOUTH)
    flips = [sub for sub in late.subs if "flip" in sub.before]
    assert [sub.start.strftime("%H:%M:%S") for sub in flips] == ["20:01:06"]
    assert (late.held_s, late.moved_chores, late.holds) == (0.0, 1, ())
    assert late.gain_s == pytest.approx(180.0, abs=3.0)
    assert late.later_s == 0.0
    turned = [sub.target.position_angle_deg for sub in late.subs]
    assert turned == [0.0] * 9 + [180.0] * 5
    assert read_back(late, services) == late.subs
    # a mount that must flip at the meridian has to wait instead
    soon = place(SOUTH.replace("flip_within_min = 20\n", ""))
    assert [sub.index for sub in soon.subs if "flip" in sub.before] == [7]
    assert soon.moved_chores == 0
    assert soon.gain_s > soon.held_s > 100.0
    # and never tracks further past the meridian (19:47:18) than it may
    for minutes in (5, 8, 11, 14):
        some = place(SOUTH.replace("= 20\n", f"= {minutes}\n"))
        k = next(i for i, sub in enumerate(some.subs) if "flip" in sub.before)
        past_s = (some.subs[k - 1].end - MERIDIAN).total_seconds()
        assert past_s < max(60.0 * minutes, 180.0)


def test_the_flip_of_a_later_target_waits_for_its_turn(services) -> None:
    """Both cross the meridian while the first is exposed."""
    text = SOUTH.replace(
        "[overheads]",
        """[[target]]
name = "Next"
ra_deg = 112.0
dec_deg = 40.0
[overheads]""",
    ).replace('[target]\nname = "South"', '[[target]]\nname = "South"')
    ready = planned(read_plan_text(text), services, site_named=False)
    found = placed(ready, Choices())
    assert len(found.subs) == 28  # nothing is left out for it
    flips = {sub.target.name: sub.index for sub in found.subs if "flip" in sub.before}
    assert flips == {"South": 10, "Next": 15}
    assert max(map(abs, run_off(found))) == 0.0
    assert read_back(found, services) == found.subs


def test_odd_downloads_cost_no_second_a_sub(services) -> None:
    """Starts are on whole seconds, but what is rounded up does not add up."""
    found = placed(ready(services, "gap_s = 6.0", "gap_s = 6.3"), Choices())
    assert not found.leave_it
    assert 0.0 <= found.later_s - found.held_s < 1.0
    ends = [one.end for one in found.subs]
    assert all(
        (b.start - a).total_seconds() >= 5.3
        for a, b in zip(ends, found.subs[1:], strict=False)
    )


def test_the_reporter_s_holds(services) -> None:
    session = ready(services).session
    (report,) = services.report(session, ("placing",))
    assert [one.details["sub"] for one in report.events] == [2]
    event = report.events[0]
    assert event.weight == 0.0
    assert event.details["for"] == "DEMO MIRROR"
    assert [one["event"] for one in event.details["steps"]] == ["hold", "resume"]
    assert (event.end - event.start).total_seconds() == event.details["held_s"]
    assert len(report.rows) == len(session.subs)
    (nothing,) = services.report(replace(session, subs=()), ("placing",))
    assert nothing.events == ()


def test_the_reporter_places_as_the_command_does(services) -> None:
    """With the plan's overheads it may move the same chores."""
    plan = chored(services, "flip_within_min = 10\n")
    found = placed(plan, Choices())
    session = replace(plan.session, overheads=plan.plan.overheads, dither_arcsec=12.0)
    (report,) = services.report(session, ("placing",))
    starts = [datetime.fromisoformat(row["placed"]) for row in report.rows]
    assert starts == [sub.start for sub in found.subs]
    assert [row["before"] for row in report.rows] == [
        " ".join(sub.before) for sub in found.subs
    ]
    assert report.summary["gain_s"] == round(found.gain_s, 1)


def test_each_rig_s_subs_are_placed_by_themselves(services) -> None:
    session = ready(services).session
    wide = services.rig("wide")
    others = tuple(
        replace(sub, rig="wide", start=sub.start + timedelta(seconds=40))
        for sub in session.subs[:30]
    )
    both = replace(session, rigs=(wide, *session.rigs), subs=(*session.subs, *others))
    (report,) = services.report(both, ("placing",))
    (alone,) = services.report(session, ("placing",))
    mine = [row for row in report.rows if row["rig"] == "field"]
    assert mine == list(alone.rows)
    assert len(report.rows) == len(session.subs) + 30
    assert {event.details["rig"] for event in report.events} >= {"field"}
    assert len({event.id for event in report.events}) == len(report.events)
    assert [note.text.split(":")[0] for note in report.notes] == ["field", "wide"]


def test_the_placing_as_typed_is_a_plan_again(tmp_path: Path) -> None:
    text = typed("streaks", "--demo", "--place")
    plan = read_plan_text(text)
    assert len(plan.subs) == 120
    assert "# Cost: " in text
    assert re.search(r"# Sub 2 waits 20 s, to 20:03:26, while DEMO MIRROR cros", text)
    path = tmp_path / "placed.toml"
    typed("streaks", "--demo", "--place", "--output", str(path))
    assert path.read_text() == text
    left = typed("streaks", "--demo", str(path), "--place")
    assert "# Leave it: stacking handles this." in left
    found = json.loads(typed("streaks", "--demo", "--place", "--json"))
    assert read_plan_text(found["plan"]).subs == plan.subs


def test_only_a_placing_is_written_as_a_plan(tmp_path: Path) -> None:
    path = tmp_path / "tonight.toml"
    path.write_text("# mine\n")
    arguments = ["streaks", "--demo", "--output", str(path)]
    done = CliRunner().invoke(cli, arguments, prog_name="passes")
    assert done.exit_code == 2
    assert f"{path}: a plan is what --place writes; add it" in done.stderr
    assert path.read_text() == "# mine\n"


@pytest.mark.parametrize(
    "asked", [("--place",), ("--try-exposures", "60"), ("--compare", "other.toml")]
)
def test_no_chart_is_left_out_without_a_word(
    tmp_path: Path, asked: tuple[str, ...]
) -> None:
    path = tmp_path / "frame.png"
    arguments = ["streaks", "--demo", *asked, "--chart", str(path)]
    done = CliRunner().invoke(cli, arguments, prog_name="passes")
    assert done.exit_code == 2
    assert f"{asked[0]} asks about others; ask one at a time" in done.stderr
    assert not path.exists()


def test_a_field_that_never_rises_is_told_in_the_plan_placed(tmp_path: Path) -> None:
    path = tmp_path / "south.toml"
    path.write_text(session_plan(5, targets=[("south", 148.9, -80.0)]))
    text = typed("streaks", "--demo", str(path), "--place")
    assert "# The field is below the horizon in every sub.\n" in text
    assert read_plan_text(text).targets[0].name == "south"


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
