"""Charts of streaks by the data handed to matplotlib."""

from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from session_plans import FIELD, session_plan

from passes.charts.theme import palette
from passes.cli import cli
from passes_plugins.streaks.chart import frame_chart
from passes_plugins.streaks.chart_of_session import session_chart
from passes_plugins.streaks.chart_places import within
from passes_plugins.streaks.summing import summary_of
from passes_plugins.streaks.trails import trails_in


def assessed(text=""):
    """The demo's plan assessed, or another with the demo's objects."""
    from passes.config import Config
    from passes.forecast import Request, build
    from passes.plans import read_plan_text
    from passes.registry import Registry
    from passes_plugins.streaks.assessing import assess
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.planning import planned

    services = build(Request(demo=True), Registry.from_entry_points(), Config())
    plan = read_plan_text(text or services.demo_session)
    ready = planned(plan, services, site_named=False)
    return assess(ready.session, ready.services, Choices.of({}))


@pytest.fixture(scope="module")
def assessment():
    return assessed()


def plan_of_fields(count):
    """Some short subs of each of so many fields, four degrees apart."""
    fields = [(f"field {n}", 148.92, 69.35 - 4.0 * n) for n in range(count)]
    return session_plan(count, exposure_s=60.0, targets=fields)


def test_every_field_of_a_session_has_a_frame_and_a_list_of_its_own():
    found = assessed(plan_of_fields(3))
    figure = frame_chart(palette("light"), found)
    sheets = figure.subfigs
    assert [one.get_suptitle() for one in sheets] == [
        f"What crosses field {number}, rig field" for number in range(3)
    ]
    counts = []
    for number, sheet in enumerate(sheets):
        (judged, *_) = (
            j for j in found.judged if j.sub.target.name == f"field {number}"
        )
        drawn = [
            line
            for line in sheet.axes[0].get_lines()
            if line.get_label() not in ("_target",)
        ]
        assert len(drawn) == len(trails_in(found, judged.frame))
        counts.append(len(drawn))
    assert len(set(counts)) > 1
    one = frame_chart(palette("light"), found, target="field 1")
    assert one.get_suptitle() == "What crosses field 1, rig field"
    assert one.subfigs == []


def test_more_fields_than_a_picture_holds_are_counted():
    figure = frame_chart(palette("light"), assessed(plan_of_fields(8)))
    titles = [one.get_suptitle() for one in figure.subfigs]
    assert len(titles) == 6
    assert titles[-1].replace("\n", " ").endswith("(not drawn: 2 more)")


def test_of_more_fields_than_a_picture_holds_a_crossed_one_is_drawn():
    """The last of eight is open while the demo's mirror crosses it (its README)."""
    quiet = [(f"quiet {number}", 40.0 * number, -70.0) for number in range(7)]
    plan = session_plan(1, exposure_s=20.0, targets=[*quiet, FIELD])
    figure = frame_chart(palette("light"), assessed(plan))
    titles = [one.get_suptitle().replace("\n", " ") for one in figure.subfigs]
    drawn = [f"What crosses quiet {number}, rig field" for number in range(5)]
    assert titles == [*drawn, "What crosses M 81 field, rig field (not drawn: 2 more)"]


def test_a_sensor_of_one_column_makes_no_picture_without_end(assessment):
    frame = replace(assessment.judged[0].frame, width_px=1, height_px=50_000)
    judged = tuple(replace(one, frame=frame, marks=()) for one in assessment.judged)
    figure = frame_chart(palette("light"), replace(assessment, judged=judged))
    width_in, height_in = figure.get_size_inches()
    assert height_in < 5.0 * width_in


def test_each_trail_runs_from_entry_to_exit_in_pixels(assessment):
    figure = frame_chart(palette("light"), assessment, demo=True)
    frame = assessment.judged[0].frame
    drawn = [
        one
        for one in figure.axes[0].get_lines()
        if one.get_label() in ("_spoiled", "_removable", "_unlit")
    ]
    trails = trails_in(assessment, frame)
    assert len(drawn) == len(trails) == 10
    for line, one in zip(drawn, trails, strict=True):
        crossing = one.mark.crossing
        ends = [(p.x_px, p.y_px) for p in (crossing.entry, crossing.exit)]
        if np.isfinite(ends).all():
            assert np.allclose(line.get_xydata()[[0, -1]], ends, atol=0.6)
        x, y = line.get_data()
        on_edge = [
            min(abs(x[i] - 0.5), abs(x[i] - frame.width_px - 0.5)) < 2.0
            or min(abs(y[i] - 0.5), abs(y[i] - frame.height_px - 0.5)) < 2.0
            for i in (0, -1)
        ]
        assert all(on_edge)


def test_the_list_names_every_trail_with_verdict_and_sub(assessment):
    figure = frame_chart(palette("light"), assessment)
    said = [text.get_text() for text in figure.axes[1].texts]
    words = ("DEMO MIRROR", "spoiled, sub 2", "removable, subs 92–94", "unlit, sub 30")
    for word in words:
        assert any(text.startswith(word) for text in said), word


def test_numbers_stand_in_the_frame_and_apart(assessment):
    figure = frame_chart(palette("light"), assessment)
    frame = assessment.judged[0].frame
    spots = np.array(
        [t.get_position() for t in figure.axes[0].texts if t.get_text().isdigit()]
    )
    assert len(spots) == 10
    assert ((spots > 0.0) & (spots < frame.size_px)).all()
    apart = np.linalg.norm(spots[:, None] - spots, axis=2)
    assert apart[np.triu_indices(10, 1)].min() > 0.03 * frame.size_px[0]


def test_the_piece_of_a_way_in_the_frame(assessment):
    frame = assessment.judged[0].frame
    width, height = frame.size_px
    level = np.full(2, 0.5 * height)
    x, y = within((np.array([-width, 2.0 * width]), level), frame)
    assert x == pytest.approx([0.5, width], abs=0.002 * width)
    assert y == pytest.approx(level)
    beside = np.array([-9.0, -5.0]), level
    assert within(beside, frame) is beside


def dithered(assessment, shift_deg):
    """The same session with each sub's frame a little aside, and its own crossings."""
    judged = []
    for n, one in enumerate(assessment.judged):
        frame = replace(one.frame, dec_deg=one.frame.dec_deg + (n % 2) * shift_deg)
        marks = tuple(replace(m, crossing=replace(m.crossing)) for m in one.marks)
        judged.append(replace(one, frame=frame, marks=marks))
    return replace(assessment, judged=tuple(judged))


def test_dithered_subs_have_one_trail_a_crossing(assessment):
    frame = assessment.judged[0].frame
    plain = trails_in(assessment, frame)
    found = trails_in(dithered(assessment, 0.01), frame)
    assert [one.subs for one in found] == [one.subs for one in plain]
    elsewhere = trails_in(dithered(assessment, 5.0), frame)
    assert len(elsewhere) < len(plain)


def test_a_frame_with_few_trails_has_room_for_all_of_it(fixtures, tmp_path):
    """Warnings are errors here: matplotlib warns where it finds no room."""
    path = tmp_path / "frame.svg"
    files = str(fixtures / "fits" / "0*.fits")
    typed = ["streaks", "--demo", "--subs", files, "--rig", "field"]
    result = CliRunner().invoke(cli, [*typed, "--chart", str(path)])
    assert result.exit_code == 0, result.output
    assert "DEMO MIRROR" in path.read_text("utf-8")


def test_north_is_up_and_east_left_at_position_angle_0(assessment):
    figure = frame_chart(palette("light"), assessment)
    places = {t.get_text(): t.get_position() for t in figure.axes[0].texts}
    north, east = places["N"], places["E"]
    assert north[1] > east[1]
    assert east[0] < north[0]


def test_a_sub_has_its_bar_in_the_row_of_its_verdict(assessment):
    figure = session_chart(palette("light"), assessment, summary_of(assessment))
    subs, hours, shadow = figure.axes
    rows = [label.get_text() for label in subs.get_yticklabels()]
    assert rows[0] == "spoiled (1)"
    assert rows[-1] == "clean (112)"
    assert len(subs.patches) == 120
    lit = sum(bar.get_height() for bar in hours.patches if bar.get_facecolor()[3] == 1)
    assert lit == pytest.approx(6.0, abs=0.01)
    assert [label.get_text() for label in shadow.get_yticklabels()] == [
        "600 km",
        "1,400 km",
    ]
