"""Plans: read, refused in one line, run off, written again."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.errors import InputError
from passes.model import Target
from passes.plans import (
    Group,
    Overheads,
    Plan,
    PlannedSub,
    plan_text,
    read_plan,
    read_plan_text,
    sexagesimal_deg,
    subs_of,
)

SIMPLE = """
[session]
site = "ridge"
rig = "field"
start = 2029-03-17T20:00:00Z
subs = 4
exposure_s = 300
gap_s = 6
dither_arcsec = 12

[target]
name = "a field"
ra_deg = "09h55m40.8s"
dec_deg = "+69 21 00"
position_angle_deg = 30.0
"""
FULL = """
[session]
start = "2029-03-17T21:00:00+01:00"

[[target]]
name = "one"
ra_deg = 10.0
dec_deg = 20.0

[[target]]
name = "two"
ra_deg = 200.0
dec_deg = -20.0

[[group]]
filter = "red"
gain = 100
exposure_s = 60
count = 3

[[group]]
filter = "blue"
exposure_s = 120
count = 1
target = "two"

[overheads]
download_s = 2
dither_every = 2
settle_s = 10
focus_every_min = 4
focus_s = 90
start_jitter_s = 1.5
"""
START = datetime(2029, 3, 17, 20, 0, tzinfo=UTC)


def seconds(plan: Plan) -> list[float]:
    return [(sub.start - START).total_seconds() for sub in subs_of(plan)]


def test_a_simple_plan() -> None:
    plan = read_plan_text(SIMPLE)
    assert (plan.site, plan.rig, plan.dither_arcsec) == ("ridge", "field", 12.0)
    assert plan.targets[0].ra_deg == pytest.approx(148.92)
    assert plan.targets[0].dec_deg == pytest.approx(69.35)
    assert seconds(plan) == [0.0, 306.0, 612.0, 918.0]
    subs = subs_of(plan)
    assert [sub.index for sub in subs] == [1, 2, 3, 4]
    assert {sub.start_jitter_s for sub in subs} == {3.0}


def test_a_full_plan_with_its_overheads() -> None:
    plan = read_plan_text(FULL)
    subs = subs_of(plan)
    assert [(s.target.name, s.filter, s.gain) for s in subs] == [
        *[("one", "red", "100")] * 3,
        *[("two", "red", "100")] * 3,
        ("two", "blue", ""),
    ]
    # 60 + 2; after every second sub 10 more; 90 of focus once 240 s have passed
    assert seconds(plan) == [0.0, 62.0, 134.0, 196.0, 358.0, 420.0, 492.0]
    assert subs[0].start_jitter_s == 1.5


def test_the_flip_waits_for_the_transit_and_turns_the_frame() -> None:
    plan = read_plan_text(SIMPLE + "\n[overheads]\nflip_s = 120\n")
    when = START + timedelta(seconds=400)
    subs = subs_of(plan, transit=lambda target, after: when)
    assert [sub.target.position_angle_deg for sub in subs] == [30.0, 30.0, 210.0, 210.0]
    assert [(sub.start - START).total_seconds() for sub in subs] == [0, 306, 732, 1038]


def test_a_target_without_an_angle_takes_the_rig_s() -> None:
    subs = subs_of(read_plan_text(FULL), rotation_deg=77.0)
    assert subs[0].target.position_angle_deg == 77.0


def test_subs_with_fixed_starts() -> None:
    text = (
        SIMPLE.replace("subs = 4\nexposure_s = 300\n", "")
        + '[[sub]]\nstart = 2029-03-17T20:10:00Z\nexposure_s = 60\nfilter = "red"\n'
        + "[[sub]]\nstart = 2029-03-17T20:00:10Z\nexposure_s = 30\n"
    )
    subs = subs_of(read_plan_text(text))
    assert [(sub.exposure_s, sub.filter) for sub in subs] == [(30.0, ""), (60.0, "red")]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("exposure_s = 300", "exposure_s = -300", "-300 s is impossible"),
        ("subs = 4", "subs = 0", "0 is impossible"),
        ("subs = 4", "subs = 2.5", "whole number"),
        ("subs = 4", "subs = 900000", "impossible"),
        ("20:00:00Z", "20:00:00", "no zone; add Z"),
        ("20:00:00Z", "24:00:00Z", "hours run from 00 to 23"),
        ("start = 2029-03-17T20:00:00Z", "", "'start' is missing"),
        (
            "start = 2029-03-17T20:00:00Z",
            "start = 2029-03-17",
            "want a date and a time",
        ),
        ('"+69 21 00"', "91.0", "91° is impossible"),
        ('"+69 21 00"', '"+69 61 00"', "60 minutes"),
        ('"+69 21 00"', '"north"', "is no angle"),
        ("exposure_s = 300", 'exposure_s = "long"', "want a number"),
        ("exposure_s = 300", "exposure_s = nan", "impossible"),
        ("exposure_s = 300", "exposure = 300", "did you mean 'exposure_s'"),
        ("[target]", "[targets]", "did you mean 'target'"),
        ("[session]", "[session", "not TOML"),
    ],
)
def test_what_is_impossible_is_refused_in_one_line(
    old: str, new: str, words: str
) -> None:
    assert old in SIMPLE
    with pytest.raises(InputError) as refused:
        read_plan_text(SIMPLE.replace(old, new), "my.toml")
    message = str(refused.value)
    assert message.startswith("my.toml")
    assert words in message
    assert "\n" not in message


def test_a_group_of_a_stranger_is_refused() -> None:
    with pytest.raises(InputError, match="no target 'three'"):
        read_plan_text(FULL.replace('target = "two"', 'target = "three"'))


def test_saying_it_twice_is_refused() -> None:
    with pytest.raises(InputError, match="say it twice"):
        read_plan_text(FULL.replace("[session]", "[session]\nsubs = 3"))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.toml"):
        read_plan(tmp_path / "none.toml")


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_bytes(b"\xff\xfe\x00s")
    with pytest.raises(InputError, match="no UTF-8"):
        read_plan(path)


@pytest.mark.parametrize(
    ("text", "hours", "degrees"),
    [
        ("09h55m41s", True, 148.920833),
        ("9:55:41.0", True, 148.920833),
        ("-02 24 00", False, -2.4),
        ("−00°30′00″", False, -0.5),
        ("+69 21", False, 69.35),
    ],
)
def test_sexagesimal(text: str, hours: bool, degrees: float) -> None:
    assert sexagesimal_deg(text, "here", hours=hours) == pytest.approx(
        degrees, abs=1e-6
    )


NAMES = st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), max_size=12)
TIMES = st.integers(0, 10**8).map(lambda ms: START + timedelta(milliseconds=ms))


@given(
    name=NAMES.filter(bool),
    site=NAMES,
    ra=st.floats(0.0, 359.9),
    count=st.integers(1, 50),
    exposure=st.floats(0.001, 3600.0),
    start=TIMES,
    starts=st.lists(TIMES, max_size=4),
    settle=st.floats(0.0, 60.0),
)
def test_a_plan_written_is_read_back_the_same(
    name: str,
    site: str,
    ra: float,
    count: int,
    exposure: float,
    start: datetime,
    starts: list[datetime],
    settle: float,
) -> None:
    plan = Plan(
        site=site,
        rig="r",
        start=start,
        dither_arcsec=0.0,
        targets=(Target(name=name, ra_deg=ra, dec_deg=1.5, position_angle_deg=9.0),),
        rotations=frozenset({name}),
        groups=(Group(count=count, exposure_s=exposure, filter="Hα"),),
        overheads=Overheads(settle_s=settle, focus_every_min=30.0),
        subs=tuple(
            PlannedSub(start=one, exposure_s=exposure, target=name)
            for one in sorted(starts)
        ),
    )
    assert read_plan_text(plan_text(plan)) == plan


def test_chores_that_take_time_are_told_with_the_sub_after_them() -> None:
    over = Overheads(
        download_s=5.0,
        dither_every=2,
        settle_s=20.0,
        focus_every_min=15.0,
        focus_s=60.0,
        flip_s=120.0,
    )
    target = Target(name="a", ra_deg=10.0, dec_deg=20.0)
    group = Group(count=6, exposure_s=300.0)
    plan = Plan(start=START, targets=(target,), groups=(group,), overheads=over)
    meridian = START + timedelta(minutes=8)
    subs = subs_of(plan, transit=lambda _target, _after: meridian)
    assert [one.before for one in subs] == [
        (),
        (),
        ("dither", "flip"),
        ("focus",),
        ("dither",),
        (),
    ]
    gaps = [(b.start - a.end).total_seconds() for a, b in pairwise(subs)]
    assert gaps == [5.0, 5.0 + 20.0 + 120.0, 5.0 + 60.0, 5.0 + 20.0, 5.0]
    turned = [one.target.position_angle_deg for one in subs]
    assert turned == [0.0, 0.0, 180.0, 180.0, 180.0, 180.0]


def test_a_flip_that_a_sub_states_goes_before_the_meridian_s_own() -> None:
    target = Target(name="a", ra_deg=10.0, dec_deg=20.0)
    fixed = tuple(
        PlannedSub(start=START + timedelta(minutes=6 * i), exposure_s=300.0, before=b)
        for i, b in enumerate(((), (), ("dither",), ("flip", "focus")))
    )
    over = Overheads(flip_s=60.0)
    plan = Plan(targets=(target,), subs=fixed, overheads=over, start=START)
    assert read_plan_text(plan_text(plan)).subs == fixed

    def angles(plan: Plan) -> list[float]:
        found = subs_of(plan, transit=lambda *_: START + timedelta(minutes=3))
        return [one.target.position_angle_deg for one in found]

    assert angles(plan) == [0.0, 0.0, 0.0, 180.0]
    silent = replace(plan, subs=tuple(replace(one, before=()) for one in fixed))
    assert angles(silent) == [0.0, 180.0, 180.0, 180.0]
    with pytest.raises(InputError, match=r"before: 'tea' is none of flip, focus"):
        read_plan_text(plan_text(plan).replace('"dither"', '"tea"'))
