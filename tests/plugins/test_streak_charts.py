"""Charts of streaks by the data handed to matplotlib."""

import numpy as np
import pytest

from passes.charts.theme import palette
from passes_plugins.streaks.chart import frame_chart
from passes_plugins.streaks.chart_of_session import session_chart
from passes_plugins.streaks.summing import summary_of
from passes_plugins.streaks.trails import trails_in


@pytest.fixture(scope="module")
def assessment():
    from passes.config import Config
    from passes.forecast import Request, build
    from passes.plans import read_plan_text
    from passes.registry import Registry
    from passes_plugins.streaks.assessing import assess
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.planning import planned

    services = build(Request(demo=True), Registry.from_entry_points(), Config())
    plan = read_plan_text(services.demo_session)
    ready = planned(plan, services, site_named=False)
    return assess(ready.session, ready.services, Choices.of({}))


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
