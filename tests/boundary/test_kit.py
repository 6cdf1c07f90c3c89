"""The plugin author's kit: samples that agree, fakes that fit, a check that finds."""

import inspect
import json
import os
import subprocess
import sys
import textwrap
import types
from pathlib import Path

import click
import numpy as np
import pytest
from sgp4.api import Satrec
from sgp4.io import verify_checksum

from passes import contributions as c
from passes import testing as kit
from passes.elements import ELEMENT_COLUMNS
from passes.errors import UnknownName
from passes.model import LineOfSight
from passes.options import Output, asks, writes
from passes.testing.requests import ANSWERS


def plugin(source: str) -> types.ModuleType:
    """A module made of a few lines."""
    module = types.ModuleType("made_up")
    head = (
        "from passes.contributions import *\n"
        "from passes.model import *\n"
        "from passes.hookspecs import hookimpl\n"
    )
    exec(head + textwrap.dedent(source), module.__dict__)
    return module


# --- samples -----------------------------------------------------------------


def test_the_passage_is_that_of_the_track() -> None:
    track, passage = kit.track(), kit.passage()
    assert (passage.start, passage.rise and passage.rise.time) == (track.start,) * 2
    assert passage.culmination is not None
    assert passage.culmination.altitude_deg == track.altitude_deg.max()
    assert track.altitude_deg.min() == pytest.approx(10.0, abs=0.05)


def test_the_track_moves_as_fast_as_its_places_say() -> None:
    """The rate against differences of its own directions (a second-order scheme)."""
    track = kit.track(step_s=0.5)
    azimuth, altitude = np.radians(track.azimuth_deg), np.radians(track.altitude_deg)
    level = np.cos(altitude)
    unit = np.stack(
        [level * np.sin(azimuth), level * np.cos(azimuth), np.sin(altitude)], axis=-1
    )
    rate = np.linalg.norm(np.gradient(unit, track.time_s, axis=0), axis=-1)
    np.testing.assert_allclose(
        track.angular_rate_deg_s[1:-1], np.degrees(rate)[1:-1], rtol=1e-4
    )


def test_right_ascension_and_hour_angle_make_sidereal_time() -> None:
    track = kit.track()
    sidereal = (track.ra_icrs_deg + track.hour_angle_deg) % 360.0
    turned = np.unwrap(sidereal, period=360.0)
    # 15.0411 degrees an hour: the Earth's turning relative to the stars.
    np.testing.assert_allclose(np.diff(turned) / 4.0 * 3600.0, 15.0411, atol=1e-4)


def test_the_night_holds_the_passage_and_the_session() -> None:
    night, passage, session = kit.night(), kit.passage(), kit.session()
    assert night.dark is not None
    assert night.dark.start < passage.start < passage.end < night.dark.end
    assert session.night == night
    first = session.subs[0]
    assert first.start < kit.crossing().closest.time < first.end


def test_the_element_text_is_what_the_records_say() -> None:
    lines = kit.element_text().splitlines()
    assert {len(line) for line in lines if line[0] in "12"} == {69}
    for i, record in enumerate(kit.element_sets()):
        satrec = Satrec.twoline2rv(*lines[3 * i + 1 : 3 * i + 3])
        assert satrec.satnum == record.catalog_number
        assert satrec.jdsatepoch + satrec.jdsatepochF == pytest.approx(
            record.epoch_jd + record.epoch_fraction, abs=1e-9
        )
        assert satrec.no_kozai == pytest.approx(record.mean_motion_rad_min, rel=1e-12)
        assert satrec.inclo == pytest.approx(record.inclination_rad, rel=1e-12)
        assert satrec.bstar == pytest.approx(record.bstar, rel=1e-12)
        for line in lines[3 * i + 1 : 3 * i + 3]:
            verify_checksum(line)


def test_the_catalogue_holds_the_same_sets() -> None:
    catalogue = kit.catalogue()
    for one, other in zip(catalogue, kit.element_sets(), strict=True):
        for column in (*ELEMENT_COLUMNS, "catalog_number", "name", "designator"):
            assert getattr(one, column) == getattr(other, column)


def test_fields_can_be_changed_by_name() -> None:
    assert kit.rig(focal_length_mm=50.0).focal_length_mm == 50.0
    assert kit.briefing(demo=False).demo is False
    assert np.isnan(kit.unknown_track().angular_rate_deg_s).all()


def test_an_answer_has_items_and_their_json_shape() -> None:
    kinds = {"passes", "track", "transits", "crossings", "advice", "schedule"}
    assert set(ANSWERS) == kinds
    for kind in kinds:
        answer = kit.answer(kind)
        document = json.loads(json.dumps(answer.document, allow_nan=False))
        assert len(document[kind]) == len(answer.items) >= 1
        assert document["demo"] is True
    assert kit.answer("unheard-of").items == ()


# --- fake services -----------------------------------------------------------


def test_the_fake_has_all_that_the_services_have() -> None:
    fake = kit.FakeServices()
    for name, member in vars(c.Services).items():
        if name.startswith("_"):
            continue
        assert hasattr(fake, name), name
        if inspect.isfunction(member):
            want = inspect.signature(member).parameters
            have = inspect.signature(getattr(type(fake), name)).parameters
            shape = [(p.name, p.kind, p.default) for p in want.values()]
            assert [(p.name, p.kind, p.default) for p in have.values()] == shape, name


def test_the_fake_answers_what_it_was_given() -> None:
    fake = kit.FakeServices(rigs=(kit.rig(), kit.bare_rig()))
    assert fake.rig("bare") == kit.bare_rig()
    with pytest.raises(UnknownName, match="known: long, bare"):
        fake.rig("wide")
    assert fake.window == kit.night().window
    assert fake.passes() == (kit.passage(),)
    assert len(fake.catalogue()) == 2
    assert [one.catalog_number for one in fake.history(80002)] == [80002]
    assert fake.crossings(LineOfSight.of_body("moon")) == (kit.crossing(),)
    assert fake.clock() < kit.event().best
    assert fake.track(kit.passage(), step_s=20.0).time_s[1] == 20.0
    assert fake.calls[-1] == "track"


# --- the check ---------------------------------------------------------------


def test_a_plugin_of_every_kind_that_holds() -> None:
    checkup = kit.check_plugin(
        plugin(
            """
            import click

            @hookimpl
            def passes_element_sources():
                def fetch(query):
                    from passes.testing import element_text
                    text = element_text().encode()
                    return ElementBatch(content=text, origin=query.name)
                yield ElementSource(name="here", summary="S.", fetch=fetch,
                    online=False)
                yield ElementSource(name="there", summary="S.", fetch=fetch)

            @hookimpl
            def passes_brightness_models():
                def magnitude(light):
                    known = tuple("none" for fact in light.facts)
                    return Brightness(magnitude=light.range_km * 0 + 5,
                        sigma=light.range_km * 0 + 1, basis=known,
                        class_average=(True,) * len(known))
                yield BrightnessModel(name="flat", summary="M.", magnitude=magnitude)

            @hookimpl
            def passes_advisers():
                def advise(briefing):
                    return Advice(rig=briefing.rig.name, subject="it")
                yield Adviser(name="mute", summary="A.", advise=advise)

            @hookimpl
            def passes_session_reporters():
                def report(briefing):
                    return Report(kind="none")
                yield SessionReporter(name="none", summary="R.", report=report,
                    kinds=["none"])

            @hookimpl
            def passes_exporters():
                def export(answer):
                    return str(len(answer.items))
                yield Exporter(name="tally", summary="E.", export=export,
                    accepts=["passes", "odd"])

            @hookimpl
            def passes_commands():
                yield Command(name="x", summary="C.", load=lambda: click.Command("x"))
            """
        )
    )
    checkup.require()
    assert checkup.findings == ()
    assert set(checkup.skipped) == {
        "element source there: it needs a network",
        "exporter tally: no sample of odd",
    }
    assert "adviser mute, a bare rig" in checkup.ran
    assert "brightness model flat, no sample at all" in checkup.ran
    assert "session reporter none, an empty session" in checkup.ran


#: A faulty plugin -> words of the finding.
FAULTY = {
    "misspelt": ("@hookimpl\ndef passes_adviser(): return []", "did you mean"),
    "fails": (
        """
        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=lambda briefing: 1 / 0)
        """,
        "adviser x, a passage: failed: ZeroDivisionError",
    ),
    "assumes": (
        """
        def advise(briefing):
            start = briefing.subject.culmination.time
            return Advice(rig=briefing.rig.name, subject="it", start=start)

        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=advise)
        """,
        "adviser x, a passage never lit: failed: AttributeError",
    ),
    "mutates": (
        """
        def magnitude(light):
            light.range_km.setflags(write=True)
            light.range_km[:] = 1.0

        @hookimpl
        def passes_brightness_models():
            yield BrightnessModel(name="x", summary="X.", magnitude=magnitude)
        """,
        "brightness model x, six samples: changed what it was handed",
    ),
    "shapeless": (
        """
        import numpy as np

        def magnitude(light):
            n = len(light.facts)
            return Brightness(magnitude=np.zeros(1), sigma=np.zeros(1),
                basis=("a",) * n, class_average=(True,) * n)

        @hookimpl
        def passes_brightness_models():
            yield BrightnessModel(name="x", summary="X.", magnitude=magnitude)
        """,
        "magnitude has shape (1,), want (6,)",
    ),
    "gossips": (
        """
        def magnitude(light):
            n = len(light.facts)
            mean = light.range_km * 0 + (light.range_km.mean() if n else 0)
            return Brightness(magnitude=mean, sigma=mean * 0 + 1, basis=("a",) * n,
                class_average=(True,) * n)

        @hookimpl
        def passes_brightness_models():
            yield BrightnessModel(name="x", summary="X.", magnitude=magnitude)
        """,
        "sample 0 depends on the others",
    ),
    "prints": (
        """
        def advise(briefing):
            print("hello")
            return Advice(rig=briefing.rig.name, subject="it")

        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=advise)
        """,
        "printed to stdout: 'hello",
    ),
    "array-in-table": (
        """
        def advise(briefing):
            row = {"rate": briefing.track.angular_rate_deg_s}
            return Advice(rig=briefing.rig.name, subject="it", table=[row])

        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=advise)
        """,
        "table[0]['rate'] is ndarray, want str, float, int, bool or None",
    ),
    "negative": (
        """
        def advise(briefing):
            return Advice(rig=briefing.rig.name, subject="it", exposure_s=-1.0)

        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=advise)
        """,
        "exposure_s is -1.0, want a number from 0 up",
    ),
    "twins": (
        """
        def report(briefing):
            night = briefing.session.night
            if night is None:
                return Report(kind="k")
            start, end = night.window.start, night.window.end
            event = Event(id="e", kind="k", subject="s", start=end, best=end, end=start)
            return Report(kind="k", events=[event, event], summary={"what": object()})

        @hookimpl
        def passes_session_reporters():
            yield SessionReporter(name="x", summary="X.", report=report, kinds=["k"])
        """,
        "two events have the id 'e'",
    ),
    "unwritable": (
        """
        @hookimpl
        def passes_exporters():
            yield Exporter(name="x", summary="X.", export=lambda answer: "\\ud800",
                accepts=["passes"])
        """,
        "cannot be written as UTF-8",
    ),
    "unreachable": (
        """
        @hookimpl
        def passes_exporters():
            yield Exporter(name="x", summary="X.", export=lambda answer: "")
        """,
        "accepts no kind",
    ),
    "helpless": (
        """
        import click

        class Broken(click.Command):
            def get_help(self, ctx):
                raise RuntimeError("no help")

        @hookimpl
        def passes_commands():
            yield Command(name="x", summary="X.", load=lambda: Broken("x"))
        """,
        "command x --help: exit 1",
    ),
}


@pytest.mark.parametrize("name", FAULTY)
def test_the_check_finds_what_is_wrong(name: str) -> None:
    source, words = FAULTY[name]
    checkup = kit.check_plugin(plugin(source))
    assert any(words in finding for finding in checkup.findings), checkup.findings
    assert all(finding.isprintable() for finding in checkup.findings)
    with pytest.raises(AssertionError):
        checkup.require()


def test_the_check_finds_more_than_one_thing() -> None:
    source, _ = FAULTY["twins"]
    text = "\n".join(kit.check_plugin(plugin(source)).findings)
    assert "start, best and end are not in order" in text
    assert "summary['what'] is object, which has no JSON shape" in text


def test_a_source_gets_its_settings_and_may_refuse_in_our_words() -> None:
    source = plugin(
        """
        from passes.errors import ConfigError

        def fetch(query):
            if "path" not in query.settings:
                raise ConfigError("give a path")
            return query.settings["path"]

        @hookimpl
        def passes_element_sources():
            yield ElementSource(name="x", summary="X.", fetch=fetch, online=False)
        """
    )
    assert kit.check_plugin(source).findings == ()
    checkup = kit.check_plugin(source, sources={"x": {"path": "here"}})
    assert "fetch gave str, want ElementBatch" in checkup.findings[0]


def test_what_a_source_gives_is_read_and_its_validators_come_back() -> None:
    source = plugin(
        """
        def fetch(query):
            if query.validators:
                return ElementBatch(unchanged=query.validators["seen"])
            return ElementBatch(content=b"no elements", validators={"seen": "no"})

        @hookimpl
        def passes_element_sources():
            yield ElementSource(name="x", summary="X.", fetch=fetch, online=False)
        """
    )
    checkup = kit.check_plugin(source)
    assert "element source x, asked again" in checkup.ran
    (finding,) = checkup.findings
    assert finding.startswith("element source x, asked once: what came is refused: x")


# --- running a command -------------------------------------------------------


def command() -> click.Command:
    """A command of an outsider's, with the options that most share."""

    @click.command("count")
    @writes("passes")
    @asks()
    @click.pass_obj
    def count(services: c.Services, output: Output) -> None:
        if services.problems:
            raise UnknownName("thing", "it", ())
        passes = services.passes()
        output.write(
            table=lambda screen: f"{len(passes)} in {screen.width}\n",
            document=lambda: {"count": len(passes), "heard": sys.stdin.read()},
        )

    return count


def test_a_command_runs_on_fake_services_and_no_configuration(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config = tmp_path / "passes" / "passes.toml"
    config.parent.mkdir()
    config.write_text("no configuration")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    fake = kit.FakeServices(canned_passes=())
    assert kit.run(command()).stdout == "1 in 80\n"
    assert os.environ["XDG_CONFIG_HOME"] == str(tmp_path)
    typed = kit.run(command(), "--json", services=fake, input="words")
    assert json.loads(typed.stdout) == {"count": 0, "heard": "words"}
    assert fake.calls == ["passes"]


def test_what_a_command_raises_comes_back() -> None:
    assert kit.run(command(), "--wrong").exit_code == 2
    typed = kit.run(command(), services=kit.FakeServices(problems=["bad"]))
    assert isinstance(typed.exception, UnknownName)


# --- settings and fixtures ---------------------------------------------------


def test_a_plugin_gets_its_table_of_the_configuration() -> None:
    source = plugin(
        """
        def advise(briefing):
            return Advice(rig=briefing.settings["rig"], subject="it")

        @hookimpl
        def passes_advisers():
            yield Adviser(name="x", summary="X.", advise=advise)
        """
    )
    checkup = kit.check_plugin(source, settings={"rig": "long"})
    assert checkup.findings == ("adviser x, a bare rig: names another rig",)


def test_an_exporter_is_tried_on_further_answers() -> None:
    source = plugin(
        """
        @hookimpl
        def passes_exporters():
            yield Exporter(name="x", summary="X.", accepts=["odd"],
                export=lambda answer: "fine" if not answer.items else 1 / 0)
        """
    )
    assert kit.check_plugin(source).findings == ()
    checkup = kit.check_plugin(source, answers=[kit.answer("odd", items=("one",))])
    assert "exporter x, 1 odd: failed: ZeroDivisionError" in checkup.findings[0]


def test_an_outsiders_tests_get_the_samples_as_fixtures(tmp_path: Path) -> None:
    (tmp_path / "conftest.py").write_text(
        'pytest_plugins = ["passes.testing.fixtures"]'
    )
    names = [name for name in kit.__all__ if name in _FIXTURES]
    fixtures = ", ".join(["fake_services", *(f"sample_{name}" for name in names)])
    (tmp_path / "test_it.py").write_text(
        f"def test_all({fixtures}):\n"
        "    assert sample_rig in fake_services.rigs\n"
        "    assert sample_briefing.subject == sample_passage\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(tmp_path)],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=60,
    )
    assert done.returncode == 0, done.stdout
    assert "1 passed" in done.stdout


_FIXTURES = {
    "advice",
    "answer",
    "briefing",
    "crossing",
    "event",
    "illumination",
    "night",
    "passage",
    "query",
    "rig",
    "session",
    "session_briefing",
    "site",
    "steps",
    "track",
}
