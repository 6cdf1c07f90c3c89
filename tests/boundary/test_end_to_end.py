"""An adviser and a reporter all the way: found, asked by the host, answering.

The host is the real one on the invented scenario; what it hands over is computed.
"""

from collections.abc import Callable
from dataclasses import replace
from math import nan

import pytest

from passes import testing as kit
from passes.config import Config
from passes.contributions import Services
from passes.forecast import Request, build
from passes.model import Note, Session
from passes.registry import Registry


@pytest.fixture
def services() -> Services:
    """The host with the bundled plugins alone."""
    registry = Registry.from_entry_points(only=["passes"])
    return build(Request(demo=True), registry, Config())


def test_the_adviser_answers_on_a_pass_of_the_demo(services: Services) -> None:
    passage = services.passes(objects=("80001",))[0]
    rig = services.rig("long")
    (advice,) = services.advise(passage, rig)
    assert advice.adviser == "imaging"
    assert advice.rig == rig.name
    # common practice: 206.265 × pixel in µm / focal length in mm
    assert advice.image_scale_arcsec_px == pytest.approx(
        206.265 * rig.pixel_um / rig.effective_focal_length_mm, rel=1e-5
    )
    assert 0.0 < advice.exposure_s < 1.0
    assert advice.start is not None
    assert advice.start <= passage.start
    assert services.problems == ()


def test_what_an_outsiders_adviser_remarks_is_on_the_page() -> None:
    from passes_plugins.imaging.command import command

    remark = Note(text="Keep the caps on until the Sun has set.")
    only_words = kit.advice(exposure_s=nan, limit="", notes=(remark,))
    told = kit.run(command, services=kit.FakeServices(canned_advice=(only_words,)))
    assert told.exit_code == 0, told.stderr
    assert "\nAdviser sample on long\n- Keep the caps on until the" in told.stdout
    told = kit.run(command, services=kit.FakeServices(canned_advice=(kit.advice(),)))
    assert "Adviser sample on long: 1/500 s, bound by blur" in told.stdout


def test_the_reporter_answers_on_the_night_of_the_demo(services: Services) -> None:
    session = Session(night=services.night, rigs=services.rigs)
    (report,) = services.report(session, kinds=("twilight",))
    assert report.reporter == "twilight"
    assert {e.details["stage"] for e in report.events} >= {"sunset", "dark", "sunrise"}
    assert services.report(session, kinds=("unheard-of",)) == ()


def test_a_faulty_outsider_beside_them_takes_nothing_away(
    services: Services, install: Callable[..., str]
) -> None:
    source = """
    @hookimpl
    def passes_session_reporters():
        yield SessionReporter(name="bad", summary="Bad.", kinds=("twilight",),
            report=lambda briefing: 1 / 0)
    """
    made = install(plugins={"bad": source})
    both = Registry.from_entry_points(only=["passes", made])
    host = build(Request(demo=True), both, Config())
    session = replace(kit.session(), night=services.night)
    reports = host.report(session, kinds=("twilight",))
    assert [report.reporter for report in reports] == ["twilight"]
    (problem,) = host.problems
    assert "plugin bad (passes-menagerie 9.9): run: ZeroDivisionError" in problem
