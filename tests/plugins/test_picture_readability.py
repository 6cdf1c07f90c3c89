"""Pictures in grey, to colour-blind eyes and on a phone: measured, in every theme.

Contrast is that of WCAG 2.1 (W3C Recommendation, 2018): relative luminance and
contrast ratio as defined there; 4.5 for text (success criterion 1.4.3), 3 for graphics
(1.4.11).
"""

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import pytest

pytest.importorskip("passes_plugins.imaging")
pytest.importorskip("passes_plugins.sheet")
pytest.importorskip("passes_plugins.streaks")
pytest.importorskip("passes_plugins.transits")
from matplotlib.colors import to_hex, to_rgb

from passes.charts import evening, paper
from passes.charts.passpanels import LIMIT_STYLES
from passes.charts.theme import PALETTES, palette
from passes.config import Config
from passes.forecast import Request, build
from passes.model import Session
from passes.plans import read_plan_text, subs_of
from passes.registry import Registry
from passes_plugins.streaks.chart import LOOKS
from passes_plugins.streaks.marks import VERDICTS

#: What a phone shows a figure at: pixels of its screen, less the page's margins.
PHONE_PX = 390 - 2 * 12

#: Full loss of one kind of cone, for linear RGB: Machado, Oliveira & Fernandes,
#: "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
#: TVCG 15 (6), 2009, severity 1.0; values from memory, their rows' sums are checked.
BLIND = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
#: Linear sRGB to CIE XYZ (IEC 61966-2-1), and the white of D65.
TO_XYZ = [
    [0.4124, 0.3576, 0.1805],
    [0.2126, 0.7152, 0.0722],
    [0.0193, 0.1192, 0.9505],
]


# --- the measures ------------------------------------------------------------------


def linear(colour):
    """Linear RGB of a colour (IEC 61966-2-1; WCAG 2.1 has the same but for a digit)."""
    values = np.array(to_rgb(colour))
    return np.where(
        values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4
    )


def contrast(one, other):
    """(L1 + 0.05) / (L2 + 0.05), the lighter first."""
    light = sorted(
        (float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (one, other)),
        reverse=True,
    )
    return (light[0] + 0.05) / (light[1] + 0.05)


def lab(rgb):
    """CIE 1976 L*a*b* of linear RGB, D65."""
    white = np.sum(TO_XYZ, axis=1)
    part = np.clip(np.array(TO_XYZ) @ np.clip(rgb, 0.0, 1.0) / white, 0.0, None)
    cube = np.where(part > 216 / 24389, np.cbrt(part), (24389 / 27 * part + 16) / 116)
    return np.array(
        [116 * cube[1] - 16, 500 * (cube[0] - cube[1]), 200 * (cube[1] - cube[2])]
    )


def apart(one, other, seen):
    """Difference of two colours (CIE 1976) to eyes that see so."""
    first, second = (lab(np.array(seen) @ linear(c)) for c in (one, other))
    return float(np.linalg.norm(first - second))


def test_the_measures_themselves():
    """21 and 1 are WCAG's own extremes; 4.48 for #777 on white is from memory."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == pytest.approx(1.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.02)
    for matrix in BLIND.values():
        assert np.sum(matrix, axis=1) == pytest.approx([1.0] * 3, abs=2e-6)


# --- colours -----------------------------------------------------------------------


@pytest.mark.parametrize("theme", PALETTES)
def test_words_and_marks_stand_out(theme):
    colours = palette(theme)
    for ground in (colours.paper, colours.panel):
        assert contrast(colours.ink, ground) >= 4.5
        for mark in (colours.quiet, colours.strong, colours.second):
            assert contrast(mark, ground) >= 3.0, mark


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("kind", BLIND)
def test_the_two_colours_of_data_differ_to_colour_blind_eyes(theme, kind):
    """20 and more is plainly seen (common practice, no source)."""
    colours = palette(theme)
    assert apart(colours.strong, colours.second, BLIND[kind]) > 20.0
    assert apart(colours.strong, colours.panel, BLIND[kind]) > 20.0
    assert apart(colours.second, colours.panel, BLIND[kind]) > 20.0


def test_red_stays_red():
    """No green or blue beyond a third of the red, and black beneath it."""
    for name in palette("red").__slots__:
        red, green, blue = to_rgb(getattr(palette("red"), name))
        assert max(green, blue) <= red / 3.0


def sheet_colours():
    """Colours of the page by theme, from its style."""
    style = (files("passes_plugins.sheet") / "style.css").read_text("utf-8")
    found = {}
    for name, body in re.findall(r"^:root(?:\.(\w+))? \{([^}]*)\}", style, re.M):
        found[name or "light"] = dict(re.findall(r"--(\w+): (#\w+)", body))
    return found


@pytest.mark.parametrize("theme", PALETTES)
def test_words_of_the_page_stand_out(theme):
    colours = sheet_colours()[theme]
    for ground in ("paper", "panel"):
        for words in ("ink", "quiet", "strong"):
            ratio = contrast(colours[words], colours[ground])
            assert ratio >= 4.5, (theme, words, ground, ratio)


# --- carriers beside colour --------------------------------------------------------


def test_verdicts_differ_in_style_or_weight():
    assert set(LOOKS) == {*VERDICTS, "unlit"}
    for one, other in combinations(LOOKS.values(), 2):
        assert one[0] != other[0] or abs(one[1] - other[1]) >= 1.0


def test_limits_differ_in_style():
    assert len({style for style, _ in LIMIT_STYLES}) == len(LIMIT_STYLES)


@pytest.fixture(scope="module")
def services():
    registry = Registry.from_entry_points(only=["passes"])
    return build(Request(demo=True), registry, Config())


@pytest.fixture(scope="module")
def drawings(services):
    """Every figure there is, by name, as functions of a palette."""
    plan = read_plan_text(services.demo_session)
    session = Session(
        night=services.night,
        rigs=services.rigs,
        targets=plan.targets,
        subs=subs_of(plan),
    )
    worth = [passage for passage, _ in services.worth_seeing(12)]
    scene = evening.Scene(
        site=services.site, night=services.night, window=services.window, demo=True
    )
    tracks = [evening.sampled(services, one) for one in worth]
    found = {
        "sky": lambda c: evening.sky_chart(c, scene, tracks),
        "timeline": lambda c: evening.timeline_chart(
            c, scene, worth, subs=session.subs
        ),
    }
    rig = services.rig("long")
    (advice,) = services.advise(worth[0], rig)
    week = services.moved(window=_week(services.window))
    reports = [
        *services.report(session, ("streak",)),
        *week.report(Session(night=services.night, rigs=(rig,)), ("transit-strip",)),
    ]
    for picture in (*advice.pictures, *(p for r in reports for p in r.pictures)):
        found.setdefault(picture.name, picture.draw)
    return found


def _week(window):
    from datetime import timedelta

    from passes.model import Span

    return Span(start=window.start, end=window.start + timedelta(days=7))


NAMES = ("sky", "timeline", "pass", "frame", "session", "disc", "strip")


@pytest.fixture(params=[(name, theme) for name in NAMES for theme in PALETTES])
def drawn(request, drawings):
    name, theme = request.param
    colours = palette(theme)
    figure = drawings[name](colours)
    figure.draw_without_rendering()
    return figure, colours


def words_of(figure):
    """All words that are drawn; ticks beyond the ends of an axis are not."""
    from matplotlib.text import Text

    beyond = set()
    for axes in figure.axes:
        for axis, ends in (
            (axes.xaxis, axes.get_xlim()),
            (axes.yaxis, axes.get_ylim()),
        ):
            for tick in (*axis.get_major_ticks(), *axis.get_minor_ticks()):
                if not min(ends) <= tick.get_loc() <= max(ends):
                    beyond |= {id(tick.label1), id(tick.label2)}
    return [
        one
        for one in figure.findobj(Text)
        if one.get_text().strip() and one.get_visible() and id(one) not in beyond
    ]


def test_all_words_stand_out_and_are_large_enough(drawn):
    """8 points of a figure as wide as all are 10 pixels of a phone, at least."""
    figure, colours = drawn
    assert figure.get_figwidth() == paper.WIDTH_IN
    per_point = PHONE_PX / (72.0 * figure.get_figwidth())
    words = words_of(figure)
    assert words
    for one in words:
        assert one.get_fontsize() * per_point >= 10.0, one.get_text()
        for ground in (colours.paper, colours.panel):
            assert contrast(one.get_color(), ground) >= 4.5, one.get_text()


def test_no_words_are_cut_off(drawn):
    figure, _ = drawn
    width, height = (72.0 * inches for inches in figure.get_size_inches())
    scale = 72.0 / figure.dpi
    renderer = figure._get_renderer()
    for one in words_of(figure):
        box = one.get_window_extent(renderer)
        assert box.x0 * scale > -0.5, one.get_text()
        assert box.y0 * scale > -0.5, one.get_text()
        assert box.x1 * scale < width + 0.5, one.get_text()
        assert box.y1 * scale < height + 0.5, one.get_text()


def test_all_lines_of_data_stand_out(drawn):
    figure, colours = drawn
    grounds = (colours.paper, colours.panel)
    for axes in figure.axes:
        for line in axes.get_lines():
            colour = to_hex(line.get_color())
            assert min(contrast(colour, ground) for ground in grounds) >= 3.0


def test_lines_that_mean_different_things_look_different(drawn):
    """Within one panel: another style, weight or mark, whatever the colour."""
    figure, _ = drawn
    for axes in figure.axes:
        looks = {}
        for line in axes.get_lines():
            label = line.get_label()
            if re.fullmatch(r"_child\d+", label):
                continue  # ticks and samples
            look = (str(line._unscaled_dash_pattern), line.get_linewidth())
            mark = (line.get_marker(), line.get_markersize())
            looks.setdefault((*mark, *look), set()).add(label)
        for look, labels in looks.items():
            assert len(labels) == 1, (look, labels)


def test_no_words_lie_on_others(drawn):
    figure, _ = drawn
    renderer = figure._get_renderer()
    boxes = [
        (one.get_text(), one.get_window_extent(renderer)) for one in words_of(figure)
    ]
    for (one, first), (other, second) in combinations(boxes, 2):
        wide = min(first.x1, second.x1) - max(first.x0, second.x0)
        high = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert wide < 1.0 or high < 2.0, (one, other)
