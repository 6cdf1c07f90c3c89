"""Charts as they are asked for: by the data handed over and by the file that opens."""

import os
import subprocess
import sys
from dataclasses import replace
from datetime import date, timedelta
from importlib.resources import files

import numpy as np
import pytest

from passes.charts import evening
from passes.charts.passline import Course, Limit, Shooting, pass_chart
from passes.charts.skydisc import SkyDisc
from passes.charts.skypath import line_width
from passes.charts.theme import PALETTES, palette
from passes.model import Span
from passes.testing import sightings
from passes.testing.places import night, site

OPENINGS = {"png": b"\x89PNG\r\n\x1a\n", "svg": b"<?xml", "pdf": b"%PDF-"}


def scene(**fields):
    return evening.Scene(
        site=fields.get("site", site()), night=night(), window=night().window
    )


def lines(axes, label):
    return [one for one in axes.get_lines() if one.get_label() == f"_{label}"]


# --- as typed ----------------------------------------------------------------------


@pytest.mark.parametrize("form", OPENINGS)
def test_a_chart_is_written_by_its_suffix(run, tmp_path, form):
    path = tmp_path / f"picture.{form}"
    result = run("tonight", "--demo", "--chart", str(path))
    assert result.exit_code == 0, result.output
    content = path.read_bytes()
    assert content.startswith(OPENINGS[form])
    if form == "svg":
        text = content.decode()
        assert "demo: invented" in text
        assert "DEMO STATION" in text


def test_the_answer_is_still_written(run, tmp_path):
    result = run("tonight", "--demo", "--chart", str(tmp_path / "s.png"))
    assert "DEMO STATION" in result.stdout
    assert "drew sky:" in result.stderr


def test_the_same_chart_is_the_same_file(run, tmp_path):
    for name in ("a.svg", "b.svg"):
        run("tonight", "--demo", "--chart", str(tmp_path / name))
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


@pytest.mark.parametrize(
    ("args", "figure"),
    [
        (["tonight"], "sky"),
        (["tonight", "--figure", "timeline"], "timeline"),
        (["track", "--object", "80001"], "pass"),
        (["advise", "--object", "80001", "--rig", "long"], "pass"),
        (["streaks"], "frame"),
        (["streaks", "--figure", "session"], "session"),
        (["transits", "--body", "moon", "--rig", "long"], "disc"),
        (["transits", "--body", "moon", "--figure", "strip"], "strip"),
    ],
)
@pytest.mark.parametrize("theme", PALETTES)
def test_every_command_draws_in_every_theme(run, tmp_path, args, figure, theme):
    path = tmp_path / "chart.svg"
    result = run(*args, "--demo", "--theme", theme, "--chart", str(path))
    assert result.exit_code == 0, result.output
    assert f"drew {figure}:" in result.stderr
    assert PALETTES[theme].ink in path.read_text()


def test_a_file_called_after_a_figure_holds_that_figure(run, tmp_path):
    result = run("tonight", "--demo", "--chart", str(tmp_path / "timeline.svg"))
    assert "drew timeline:" in result.stderr


@pytest.mark.parametrize(
    ("chart", "said"),
    [
        ("sky.gif", ".png, .svg, .pdf"),
        ("sky", ".png, .svg, .pdf"),
        ("nowhere/sky.png", "nowhere"),
    ],
)
def test_what_cannot_be_written_is_refused_before_any_work(
    run, tmp_path, monkeypatch, chart, said
):
    def never(*_, **__):
        raise AssertionError("worked before it was refused")

    monkeypatch.setattr("passes.forecast.build", never)
    result = run("tonight", "--demo", "--chart", str(tmp_path / chart))
    assert result.exit_code != 0
    assert said in result.stderr
    assert len(result.stderr.strip().splitlines()) <= 2
    assert not (tmp_path / chart).exists()


@pytest.mark.parametrize("option", [["--figure", "sky"], ["--east", "right"]])
def test_options_of_a_chart_need_one(run, option):
    result = run("tonight", "--demo", *option)
    assert result.exit_code == 2
    assert "--chart" in result.stderr


def test_a_plan_puts_its_subs_into_the_timeline(run, tmp_path):
    plan = str(files("passes") / "data" / "demo" / "session.toml")
    path = tmp_path / "timeline.svg"
    result = run("tonight", "--demo", "--plan", plan, "--chart", str(path))
    assert result.exit_code == 0, result.output
    assert "120 subs: M 81 field" in path.read_text()


def test_a_plan_s_flip_is_in_the_timeline(tmp_path, monkeypatch):
    """The field crosses the meridian at 22:25 UTC: the first sub after that waits."""
    from click.testing import CliRunner

    from passes.cli import cli

    seen = {}

    def keep(palette, scene, passages, *, subs, left_out):
        seen["starts"] = [f"{sub.start:%H:%M}" for sub in subs]
        raise SystemExit(0)

    monkeypatch.setattr("passes.charts.evening.timeline_chart", keep)
    plan = tmp_path / "plan.toml"
    head = "[session]\nrig = 'field'\nstart = 2029-03-17T21:50:00Z\nsubs = 6\n"
    over = "exposure_s = 600\n[overheads]\nflip_s = 1200\n"
    target = "[target]\nname = 'M 81'\nra_deg = 148.92\ndec_deg = 69.35\n"
    plan.write_text(head + over + target)
    chart = str(tmp_path / "timeline.svg")
    typed = ["tonight", "--demo", "--plan", str(plan), "--chart", chart]
    CliRunner().invoke(cli, typed, prog_name="passes")
    assert seen["starts"] == ["21:50", "22:00", "22:10", "22:20", "22:50", "23:00"]


def test_a_plan_without_a_timeline_is_refused(run, tmp_path):
    chart = str(tmp_path / "sky.png")
    for typed in (["--chart", chart], []):
        result = run("tonight", "--demo", "--plan", "plan.toml", *typed)
        assert result.exit_code == 2
        assert "timeline" in result.stderr


def test_chart_and_output_are_two_files(run, tmp_path):
    path = str(tmp_path / "x.svg")
    result = run(
        "tonight", "--demo", "--chart", path, "--output", path, "--format", "json"
    )
    assert result.exit_code == 2
    assert "same file" in result.stderr


def test_matplotlib_is_loaded_only_for_a_chart(tmp_path):
    code = (
        "import sys; from passes.cli import cli; "
        "cli.main(['tonight', '--demo'], standalone_mode=False); "
        "sys.exit('matplotlib' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, cwd=tmp_path, timeout=120
    )
    assert done.returncode == 0, done.stderr


def test_no_screen_is_needed(tmp_path):
    """Nor is one looked for, though a window is what matplotlib was told to open."""
    path = tmp_path / "sky.png"
    env = {k: v for k, v in os.environ.items() if "DISPLAY" not in k}
    done = subprocess.run(
        [sys.executable, "-m", "passes", "tonight", "--demo", "--chart", str(path)],
        capture_output=True,
        env={**env, "MPLBACKEND": "tkagg"},
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert path.read_bytes().startswith(OPENINGS["png"])


# --- the sky -----------------------------------------------------------------------


def empty_disc(east="left"):
    from passes.charts.skydisc import sky_figure

    return sky_figure(palette("light"), east)[1]


@pytest.mark.parametrize(("east", "side"), [("left", -1.0), ("right", 1.0)])
def test_where_directions_stand_on_the_disc(east, side):
    disc = empty_disc(east)
    assert isinstance(disc, SkyDisc)
    assert np.allclose(disc.place(0.0, 0.0), (0.0, 90.0))
    assert np.allclose(disc.place(90.0, 0.0), (90.0 * side, 0.0))
    assert np.allclose(disc.place(180.0, 30.0), (0.0, -60.0))
    assert np.allclose(disc.place(123.0, 90.0), (0.0, 0.0))


def test_a_path_is_solid_while_lit_and_dotted_in_shadow():
    track = sightings.track()
    figure = evening.sky_chart(palette("light"), scene(), [track])
    axes = figure.axes[0]
    (dotted,) = lines(axes, "shadow")
    (lit,) = [c for c in axes.collections if c.get_label() == "_lit"]
    drawn = np.concatenate([path.vertices for path in lit.get_paths()])
    disc = empty_disc()
    expected = np.stack(disc.place(track.azimuth_deg, track.altitude_deg), axis=1)
    sunlit = track.lit_fraction > 0.0
    assert sunlit.any()
    assert np.allclose(drawn[0], expected[sunlit][0])
    assert np.allclose(drawn[-1], expected[sunlit][-1])
    assert np.isnan(dotted.get_xdata()).any()
    assert not dotted.is_dashed() or dotted.get_linestyle() != "-"


def test_brighter_is_thicker_and_unknown_is_thin():
    widths = line_width([-4.0, 0.0, 4.0, 9.0, np.nan])
    assert (np.diff(widths[:3]) < 0.0).all()
    assert widths[3] == widths[4] == widths.min()


def test_the_sun_stands_where_skyfield_has_it():
    """Sun's place for the glow, within 0.05° of skyfield's altaz (JPL DE421)."""
    from skyfield.api import load, load_file, wgs84

    place, when = site(), sightings.BEST
    planets = load_file(str(files("skyfield_data") / "data" / "de421.bsp"))
    observer = planets["earth"] + wgs84.latlon(
        place.latitude_deg, place.longitude_deg, elevation_m=place.height_m
    )
    at = load.timescale(builtin=True).from_datetime(when)
    altitude, azimuth, _ = observer.at(at).observe(planets["sun"]).apparent().altaz()
    planets.close()
    ours = evening.sun_altaz(place, when)
    assert ours == pytest.approx((altitude.degrees, azimuth.degrees), abs=0.05)


def test_the_moon_is_on_the_disc_and_told_below():
    """It stands where skyfield has it at the demo's first pass (see test_sky)."""
    from passes.sky import moon_altaz

    track = sightings.track()
    figure = evening.sky_chart(palette("light"), scene(), [track])
    when = track.start + timedelta(seconds=float(track.time_s[-1]) / 2)
    altitude, azimuth = moon_altaz(site(), when, [0.0])
    rings = lines(figure.axes[0], "moon")
    said = " ".join(text.get_text() for text in figure.axes[1].texts)
    assert bool(rings) == ("Moon at" in said) == (altitude[0] > 0.0)
    for ring in rings:
        expected = empty_disc().place(azimuth[0], altitude[0])
        assert np.allclose(ring.get_xydata()[0], expected)


def test_a_night_that_never_gets_dark_says_so_in_its_row():
    from passes.sky import night as night_of

    place = replace(site(), latitude_deg=78.0)
    bright = night_of(place, date(2029, 6, 20))
    scenery = evening.Scene(site=place, night=bright, window=bright.window)
    figure = evening.timeline_chart(palette("light"), scenery, [])
    said = [text.get_text() for text in figure.axes[0].texts]
    assert "The Sun does not set" in said


def test_names_are_text_in_a_figure(run):
    track = sightings.track(name="$\\frac{1}{0}$ <img src=x onerror=alert(1)>\x1b[2J")
    figure = evening.sky_chart(palette("light"), scene(), [track])
    from passes.charts.paper import content

    text = content(figure, "svg").decode()
    assert "<img" not in text
    assert "\x1b" not in text


# --- the night, and one pass -------------------------------------------------------


def test_bars_stand_where_passes_are():
    from matplotlib.dates import date2num

    passage = sightings.passage()
    figure = evening.timeline_chart(palette("light"), scene(), [passage])
    bars = figure.axes[1].patches
    up = bars[0]
    assert up.get_x() == pytest.approx(date2num(passage.start), abs=1e-6)
    assert up.get_width() == pytest.approx(
        (passage.end - passage.start).total_seconds() / 86400.0, rel=1e-6
    )
    assert len(bars) == 1 + len(passage.visible)


def test_a_night_with_nothing_in_it_says_so():
    figure = evening.timeline_chart(palette("red"), scene(), [])
    said = [text.get_text() for text in figure.axes[1].texts]
    assert "no pass worth going outside for" in said


def test_panels_hold_the_track_and_what_the_rig_makes_of_it():
    track, passage = sightings.track(), sightings.passage()
    shooting = Shooting(
        rig="long",
        limits=(
            Limit(
                label="standing still",
                times=[passage.start, passage.end],
                exposure_s=np.array([0.001, 0.002]),
            ),
        ),
        follow=Span(start=passage.start, end=sightings.BEST),
        waits=(sightings.BEST,),
    )
    course = Course(
        site=site(), track=track, zone=scene().zone, visible=(), shooting=shooting
    )
    figure = pass_chart(palette("light"), course)
    altitude, rate, magnitude, shutter = figure.axes
    (lit,) = lines(altitude, "lit")
    known = ~np.isnan(lit.get_ydata())
    assert np.allclose(lit.get_ydata()[known], track.altitude_deg[known])
    (speed,) = lines(rate, "rate")
    assert np.allclose(speed.get_ydata(), track.angular_rate_deg_s)
    assert magnitude.yaxis_inverted()
    (limit,) = [x for x in shutter.get_lines() if x.get_label() == "standing still"]
    assert list(limit.get_ydata()) == [0.001, 0.002]
    assert "1" in [text.get_text() for text in altitude.texts]


def test_a_pass_of_which_little_is_known_is_drawn_all_the_same():
    track = sightings.unknown_track()
    course = Course(site=site(), track=track, zone=scene().zone)
    figure = pass_chart(palette("light"), course)
    said = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert "brightness unknown, or never lit" in said
