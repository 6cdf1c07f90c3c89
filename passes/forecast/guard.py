"""Calling what plugins contribute, and believing none of it blindly."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from passes import contributions as c
from passes.forecast.brightness import checked, guess
from passes.model import Advice, Note, Report
from passes.registry import Provided, Registry

T = TypeVar("T")

#: The brightness model used when nobody names one.
DEFAULT_MODEL = "diffuse-sphere"


class GuardedModel:
    """A brightness model that always answers: by a guess when the default fails.

    A model the user named stops the program instead (the registry says who failed).
    """

    def __init__(
        self,
        registry: Registry,
        name: str | None,
        settings_of: Callable[[str], dict[str, Any]],
    ) -> None:
        self.failed = False
        self._registry, self._asked_for = registry, name is not None
        self._provided = self._find(name)
        plugin = self._provided.origin.plugin if self._provided else ""
        self._settings = settings_of(plugin)

    def _find(self, name: str | None) -> Provided[c.BrightnessModel] | None:
        if name is not None:
            return self._registry.named(c.BrightnessModel, name)
        offered = self._registry.of(c.BrightnessModel)
        default = [one for one in offered if one.item.name == DEFAULT_MODEL]
        return (default or list(offered) or [None])[0]

    def __call__(self, asked: c.Illumination) -> c.Brightness:
        """Magnitudes of every sample asked about."""
        from dataclasses import replace

        question = replace(asked, settings=self._settings)
        if self._provided is None or self.failed:
            self.failed = True
            return guess(question)

        def run(model: c.BrightnessModel) -> c.Brightness:
            return checked(model.magnitude(question), question)

        if self._asked_for:
            return self._registry.requested(self._provided, run)
        answers = self._registry.ambient(self._provided, lambda m: (run(m),))
        if not answers:
            self.failed = True
            return guess(question)
        return answers[0]


def advice_from(
    registry: Registry, briefing_for: Callable[[str], c.Briefing]
) -> tuple[Advice, ...]:
    """Ask every adviser; one that fails is noted and left out."""
    advice: list[Advice] = []
    for provided in registry.of(c.Adviser):
        briefing = briefing_for(provided.origin.plugin)

        def run(adviser: c.Adviser, briefing: c.Briefing = briefing) -> tuple[Advice, ...]:
            return (_as(Advice, adviser.advise(briefing)),)

        advice.extend(registry.ambient(provided, run))
    return tuple(advice)


def reports_from(
    registry: Registry,
    briefing_for: Callable[[str], c.SessionBriefing],
    kinds: tuple[str, ...],
) -> tuple[Report, ...]:
    """Ask the reporters of some kinds (all, if none named); failures are noted."""
    reports: list[Report] = []
    for provided in registry.of(c.SessionReporter):
        if kinds and not set(kinds) & set(provided.item.kinds):
            continue
        briefing = briefing_for(provided.origin.plugin)

        def run(
            reporter: c.SessionReporter, briefing: c.SessionBriefing = briefing
        ) -> tuple[Report, ...]:
            return (_as(Report, reporter.report(briefing)),)

        reports.extend(registry.ambient(provided, run))
    return tuple(reports)


def _as(kind: type[T], answer: Any) -> T:
    if not isinstance(answer, kind):
        raise TypeError(f"answered {type(answer).__name__}, want {kind.__name__}")
    return answer


def problem_notes(registry: Registry) -> tuple[Note, ...]:
    """What went wrong with plugins, as cautions for the answer."""
    return tuple(Note(text=str(one), severity="caution") for one in registry.problems)
