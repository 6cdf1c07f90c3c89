"""What comes back from a plugin is looked at before anyone uses it."""

from dataclasses import replace
from typing import Any

import click
import numpy as np
import pytest

from passes import contributions as c
from passes import testing as kit
from passes.model import Advice, Report
from passes.registry import KINDS, Origin, Provided, Registry, ask


def brightness(**fields: Any) -> c.Brightness:
    """An answer to the sample illumination that is right, but for these fields."""
    right = c.Brightness(
        magnitude=np.zeros(6),
        sigma=np.ones(6),
        basis=("a", "b", "c"),
        class_average=(False, False, True),
    )
    return replace(right, **fields)


def model(answer: Any) -> c.BrightnessModel:
    return c.BrightnessModel(name="m", summary="M.", magnitude=lambda _: answer)


def test_a_right_answer_comes_through() -> None:
    assert ask(model(right := brightness()), kit.illumination()) is right


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (np.zeros(6), "magnitude gave ndarray, want Brightness"),
        (None, "magnitude gave NoneType"),
        (
            brightness(magnitude=np.zeros(1), sigma=np.ones(1)),
            r"magnitude has shape \(1,\), want \(6,\)",
        ),
        (brightness(magnitude=np.full(6, np.inf)), "magnitude holds infinities"),
        (brightness(sigma=np.full(6, -0.1)), "sigma is below zero"),
        (brightness(basis=("a",)), "basis has 1 entries, want one for each of 3"),
        (brightness(class_average=()), "class_average has 0 entries"),
    ],
)
def test_a_wrong_brightness_is_refused(answer: Any, words: str) -> None:
    with pytest.raises((TypeError, ValueError), match=words):
        ask(model(answer), kit.illumination())


def test_unknown_magnitudes_are_no_fault() -> None:
    unknown = brightness(magnitude=np.full(6, np.nan), sigma=np.full(6, np.nan))
    assert ask(model(unknown), kit.illumination()) is unknown


def test_advice_and_reports_get_the_name_of_who_gave_them() -> None:
    adviser = c.Adviser(
        name="a", summary="A.", advise=lambda b: Advice(rig=b.rig.name, subject="s")
    )
    assert ask(adviser, kit.briefing()).adviser == "a"
    reporter = c.SessionReporter(
        name="r", summary="R.", report=lambda _: Report(kind="k"), kinds=("k",)
    )
    assert ask(reporter, kit.session_briefing()).reporter == "r"


def test_a_name_that_was_given_is_kept() -> None:
    own = Advice(rig="long", subject="s", adviser="mine")
    adviser = c.Adviser(name="a", summary="A.", advise=lambda _: own)
    assert ask(adviser, kit.briefing()) is own


def test_a_report_of_a_kind_that_was_not_declared_is_refused() -> None:
    reporter = c.SessionReporter(
        name="r", summary="R.", report=lambda _: Report(kind="other"), kinds=("k",)
    )
    with pytest.raises(ValueError, match="kind 'other', not one of: k"):
        ask(reporter, kit.session_briefing())


def test_a_source_keeps_to_the_limit() -> None:
    batch = c.ElementBatch(content=b"x" * 11)
    source = c.ElementSource(name="s", summary="S.", fetch=lambda _: batch)
    with pytest.raises(ValueError, match="more than 10 bytes"):
        ask(source, kit.query(max_bytes=10))
    assert ask(source, kit.query(max_bytes=11)) is batch


WRONG = {
    c.ElementSource: ({"fetch": lambda _: "text"}, kit.query),
    c.BrightnessModel: ({"magnitude": lambda _: 1.0}, kit.illumination),
    c.Adviser: ({"advise": lambda _: "1/500 s"}, kit.briefing),
    c.SessionReporter: ({"report": lambda _: {}}, kit.session_briefing),
    c.Exporter: ({"export": lambda _: b"bytes"}, kit.answer),
    c.Command: ({"load": lambda: print}, lambda: None),
}


@pytest.mark.parametrize("kind", KINDS.values())
def test_an_answer_of_the_wrong_type_names_the_culprit(kind: type[Any]) -> None:
    fields, request = WRONG[kind]
    item = kind(name="wrong", summary="Wrong.", **fields)
    registry = Registry()
    provided = Provided(Origin("zoo"), item)
    assert registry.ambient(provided, lambda i: (ask(i, request()),)) == ()
    (problem,) = registry.problems
    assert f"plugin zoo: run: TypeError: {kind.asks} gave " in problem.line()


def test_a_command_is_loaded_and_not_run() -> None:
    command = click.Command("x", callback=lambda: 1 / 0)
    assert ask(c.Command(name="x", summary="X.", load=lambda: command)) is command
