"""Calling what plugins offer: who asked decides, nothing leaks, slowness is told."""

import sys
import threading
from collections.abc import Callable
from typing import Any

import pytest

from passes import contributions as c
from passes import testing as kit
from passes.errors import PluginFailed, UnknownName
from passes.forecast.guard import reports_from
from passes.model import Picture, Report
from passes.registry import Origin, Provided, Registry, ask

Load = Callable[..., Registry]
ORIGIN = Origin("zoo", "passes-menagerie", "9.9")


def adviser(advise: Callable[[Any], Any]) -> Provided[c.Adviser]:
    """An adviser that does what a test needs."""
    return Provided(ORIGIN, c.Adviser(name="odd", summary="Odd.", advise=advise))


def fails(_: object) -> Any:
    raise ValueError("not today")


def exits(_: object) -> Any:
    sys.exit("enough")


def interrupted(_: object) -> Any:
    raise KeyboardInterrupt


def test_an_answer_comes_back_as_a_tuple() -> None:
    registry = Registry()
    assert registry.ambient(adviser(lambda _: 7), lambda a: (a.advise(None),)) == (7,)
    assert registry.requested(adviser(lambda _: 7), lambda a: a.advise(None)) == 7
    assert registry.problems == ()


@pytest.mark.parametrize("advise", [fails, exits])
def test_what_nobody_named_degrades_to_a_problem(advise: Callable[..., Any]) -> None:
    registry = Registry()
    assert registry.ambient(adviser(advise), lambda a: (a.advise(None),)) == ()
    (problem,) = registry.problems
    assert (problem.origin, problem.stage) == (ORIGIN, "run")


def test_a_generator_that_dies_half_way_gives_nothing() -> None:
    def half() -> Any:
        yield 1
        raise RuntimeError("ran dry")

    registry = Registry()
    assert registry.ambient(adviser(fails), lambda _: half()) == ()
    assert "RuntimeError: ran dry" in registry.problems[0].line()


@pytest.mark.parametrize("advise", [fails, exits])
def test_what_the_user_named_stops_with_the_culprit(advise: Callable[..., Any]) -> None:
    registry = Registry()
    with pytest.raises(PluginFailed) as raised:
        registry.requested(adviser(advise), lambda a: a.advise(None))
    message = str(raised.value)
    assert message.startswith(
        "adviser odd, from plugin zoo (passes-menagerie 9.9), failed: "
    )
    assert "\n" not in message
    assert raised.value.__cause__ is not None
    assert raised.value.exit_code == 1


def test_the_users_interrupt_passes_through() -> None:
    registry = Registry()
    with pytest.raises(KeyboardInterrupt):
        registry.ambient(adviser(interrupted), lambda a: (a.advise(None),))
    with pytest.raises(KeyboardInterrupt):
        registry.requested(adviser(interrupted), lambda a: a.advise(None))
    assert registry.problems == ()


def test_strictness_makes_an_unasked_fault_an_error() -> None:
    with pytest.raises(PluginFailed, match="run: ValueError: not today"):
        Registry(strict=True).ambient(adviser(fails), lambda a: (a.advise(None),))


def test_a_fault_that_repeats_word_for_word_is_told_once() -> None:
    registry = Registry()
    for _ in range(3):
        registry.ambient(adviser(fails), lambda a: (a.advise(None),))
    assert len(registry.problems) == 1
    assert registry.news() == (str(registry.problems[0]),)


def test_an_unknown_name_lists_what_there_is(load: Load) -> None:
    source = """
    @hookimpl
    def passes_exporters():
        yield Exporter(name="tally", summary="Counts.", export=lambda answer: "1")
    """
    registry = load({"good": source})
    assert registry.named(c.Exporter, "tally").item.export(kit.answer()) == "1"
    with pytest.raises(UnknownName, match=r"no exporter named 'ics' \(known: tally\)"):
        registry.named(c.Exporter, "ics")


def test_a_command_is_listed_by_its_summary_and_not_loaded(load: Load) -> None:
    source = """
    def load():
        raise RuntimeError("loaded")

    @hookimpl
    def passes_commands():
        yield Command(name="x", summary="Says what it does.", load=load)
    """
    registry = load({"lazy": source})
    (provided,) = registry.of(c.Command)
    assert provided.item.summary == "Says what it does."
    assert [listed.state for listed in registry.listing()] == ["working"]
    with pytest.raises(PluginFailed, match="command x, from plugin lazy"):
        registry.requested(provided, ask)


# --- stdout belongs to data --------------------------------------------------


def test_what_plugins_print_goes_to_stderr(
    load: Load, capsys: pytest.CaptureFixture[str]
) -> None:
    source = """
    print("imported")

    def advise(briefing):
        print("advising")

    @hookimpl
    def passes_advisers():
        print("collected")
        yield Adviser(name="x", summary="X.", advise=advise)
    """
    registry = load({"chatty": source})
    (provided,) = registry.of(c.Adviser)
    registry.ambient(provided, lambda a: (a.advise(None),))
    registry.requested(provided, lambda a: a.advise(None))
    out, err = capsys.readouterr()
    assert out == ""
    assert err.split() == ["imported", "collected", "advising", "advising"]


@pytest.mark.parametrize("advise", [fails, exits, interrupted])
def test_stdout_is_given_back_whatever_happens(advise: Callable[..., Any]) -> None:
    before, registry = sys.stdout, Registry()
    try:
        registry.ambient(adviser(advise), lambda a: (a.advise(None),))
    except KeyboardInterrupt:
        assert advise is interrupted
    assert sys.stdout is before


# --- slowness ----------------------------------------------------------------


class Heard:
    """A stderr that tells when something has been written to it."""

    def __init__(self) -> None:
        self.text, self.written = "", threading.Event()

    def write(self, text: str) -> None:
        self.text += text
        self.written.set()

    def flush(self) -> None:
        """Nothing is held back."""


def test_a_call_that_hangs_is_named_while_it_hangs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    heard = Heard()
    monkeypatch.setattr(sys, "stderr", heard)
    registry = Registry(slow_after_s=0.05)

    def hang(_: object) -> bool:
        return heard.written.wait(timeout=30.0)  # goes on once it has been named

    assert registry.ambient(adviser(hang), lambda a: (a.advise(None),)) == (True,)
    assert heard.text == (
        "plugin zoo (passes-menagerie 9.9): adviser odd is taking more than 0.05 s; "
        "PASSES_DISABLE_PLUGINS=zoo leaves it out\n"
    )
    (problem,) = registry.problems
    assert problem.stage == "slow"
    assert "adviser odd took" in problem.line()


def test_a_plugin_that_hangs_on_import_is_named(
    install: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    heard = Heard()
    monkeypatch.setattr(sys, "stderr", heard)
    source = """
    import sys
    sys.stderr.written.wait(timeout=30.0)

    @hookimpl
    def passes_exporters():
        return []
    """
    made = install(plugins={"sleepy": source})
    registry = Registry.from_entry_points(only=[made], slow_after_s=0.05)
    assert "plugin sleepy (passes-menagerie 9.9): import is taking more" in heard.text
    assert [(o.origin.plugin, o.state) for o in registry.listing()] == [
        ("sleepy", "working")
    ]


def test_slowness_is_said_where_the_host_says_things() -> None:
    said: list[str] = []
    heard = threading.Event()

    def say(line: str) -> None:
        said.append(line)
        heard.set()

    registry = Registry(slow_after_s=0.01, say=say)
    assert registry.requested(
        adviser(lambda _: heard.wait(30.0)), lambda a: a.advise(0)
    )
    assert len(said) == 1
    assert "leaves it out" in said[0]


def test_slowness_is_no_error_even_when_strict() -> None:
    wait = threading.Event()
    registry = Registry(strict=True, slow_after_s=0.01)
    answer = registry.requested(
        adviser(lambda _: wait.wait(0.05)), lambda a: a.advise(0)
    )
    assert answer is False
    assert [problem.stage for problem in registry.problems] == ["slow"]


def test_quick_calls_leave_no_thread_and_no_word(
    capsys: pytest.CaptureFixture[str],
) -> None:
    registry = Registry()
    for _ in range(20):
        registry.ambient(adviser(lambda _: 1), lambda a: (a.advise(None),))
    watchers = [t for t in threading.enumerate() if isinstance(t, threading.Timer)]
    for thread in watchers:
        thread.join(timeout=5.0)  # half the time that an uncancelled one would take
    assert not any(thread.is_alive() for thread in watchers)
    assert capsys.readouterr().err == ""


# --- reports that need reports, and pictures ----------------------------------------


def reporter(
    name: str, report: Callable[[c.SessionBriefing], Any], **fields: Any
) -> Provided[c.SessionReporter]:
    """A reporter of its own kind."""
    item = c.SessionReporter(
        name=name, summary="Odd.", report=report, kinds=(name,), **fields
    )
    return Provided(Origin(name, "passes-menagerie", "9.9"), item)


class Offered(Registry):
    """A registry that offers these reporters."""

    def __init__(self, *reporters: Provided[c.SessionReporter]) -> None:
        super().__init__()
        self._reporters = reporters

    def of(self, kind: Any) -> Any:
        return self._reporters if kind is c.SessionReporter else super().of(kind)


def told(registry: Registry, *kinds: str) -> tuple[Report, ...]:
    briefing = kit.session_briefing()
    return reports_from(registry, lambda _: briefing, kinds)


def heard_by(briefing: c.SessionBriefing) -> Report:
    kinds = ", ".join(one.kind for one in briefing.reports)
    return Report(kind="last", summary={"heard": kinds})


def menagerie(**fields: Any) -> Offered:
    """Two reporters, and one that needs what they say."""
    return Offered(
        reporter("first", lambda _: Report(kind="first")),
        reporter("last", heard_by, needs_reports=True, **fields),
        reporter("second", lambda _: Report(kind="second")),
    )


def test_who_needs_reports_is_asked_last_and_gets_them() -> None:
    (last,) = told(menagerie(unasked=False), "last")
    assert last.summary["heard"] == "first, second"


def test_who_must_be_named_is_not_asked_otherwise() -> None:
    registry = menagerie(unasked=False)
    assert [one.kind for one in told(registry)] == ["first", "second"]
    assert [one.kind for one in told(registry, "*", "last")] == [
        "first",
        "last",
        "second",
    ]


def test_one_is_not_asked_twice() -> None:
    asked = []

    def count(_: c.SessionBriefing) -> Report:
        asked.append(1)
        return Report(kind="first")

    registry = Offered(
        reporter("first", count), reporter("last", heard_by, needs_reports=True)
    )
    told(registry)
    assert len(asked) == 1


def test_a_picture_that_cannot_be_drawn_is_a_problem_and_none() -> None:
    good = Picture(name="good", described="Good.", draw=lambda palette: palette)
    bad = Picture(name="bad", described="Bad.", draw=fails)
    pictured = Report(kind="first", pictures=(good, bad))
    registry = Offered(reporter("first", lambda _: pictured))
    (report,) = told(registry)
    assert [one.draw("ink") for one in report.pictures] == ["ink", None]
    (problem,) = registry.problems
    assert problem.origin.plugin == "first"
    assert "not today" in problem.line()


def test_pictures_are_looked_at_before_anyone_uses_them() -> None:
    odd = Report(kind="first", pictures=("a photograph",))  # type: ignore[arg-type]
    registry = Offered(reporter("first", lambda _: odd))
    assert told(registry) == ()
    assert "want Picture" in registry.problems[0].line()
