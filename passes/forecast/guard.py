"""Calling what plugins contribute, and believing none of it blindly."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from passes import contributions as c
from passes.forecast.brightness import guess
from passes.model import Advice, Picture, Report
from passes.registry import Provided, Registry, ask

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
        settings_of: Callable[[str], Mapping[str, Any]],
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
        return next(iter((*default, *offered)), None)

    def __call__(self, asked: c.Illumination) -> c.Brightness:
        """Magnitudes of every sample asked about."""
        question = replace(asked, settings=self._settings)
        if self._provided is None or self.failed:
            self.failed = True
            return guess(question)

        if self._asked_for:
            return self._registry.requested(self._provided, lambda m: ask(m, question))
        answers = self._registry.ambient(self._provided, lambda m: (ask(m, question),))
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
        advice.extend(_answers(registry, provided, briefing))
    return tuple(advice)


#: The kind that stands for all that need not be named.
EVERY = "*"


def reports_from(
    registry: Registry,
    briefing_for: Callable[[str], c.SessionBriefing],
    kinds: tuple[str, ...],
) -> tuple[Report, ...]:
    """Ask the reporters of some kinds (all, if none named); failures are noted.

    Those that need what others say are asked last, and get it from all the others
    that need not be named.
    """
    offered = registry.of(c.SessionReporter)
    chosen = [one for one in offered if _chosen(one.item, kinds)]
    last = [one for one in chosen if one.item.needs_reports]
    said: dict[int, tuple[Report, ...]] = {}
    for one in offered:
        wanted = one in chosen or (bool(last) and one.item.unasked)
        if wanted and not one.item.needs_reports:
            said[id(one)] = _answers(registry, one, briefing_for(one.origin.plugin))
    heard = [r for o in offered if o.item.unasked for r in said.get(id(o), ())]
    for one in last:
        briefing = replace(briefing_for(one.origin.plugin), reports=tuple(heard))
        said[id(one)] = _answers(registry, one, briefing)
    return tuple(r for one in chosen for r in said.get(id(one), ()))


def _chosen(item: c.SessionReporter, kinds: tuple[str, ...]) -> bool:
    if item.unasked and (not kinds or EVERY in kinds):
        return True
    return bool(set(kinds) & set(item.kinds))


def _answers(registry: Registry, provided: Provided[Any], request: Any) -> Any:
    """One plugin's answer, its pictures guarded as it is itself; none if it failed."""
    found = registry.ambient(provided, partial(_asked, request))
    return tuple(
        replace(
            one,
            pictures=tuple(_guarded(registry, provided, p) for p in one.pictures),
        )
        if one.pictures
        else one
        for one in found
    )


def _guarded(registry: Registry, provided: Provided[Any], picture: Picture) -> Picture:
    """A picture whose drawing may fail: the fault is noted, and None is drawn."""

    def draw(palette: Any) -> Any:
        return next(
            iter(registry.ambient(provided, lambda _: (picture.draw(palette),))), None
        )

    return replace(picture, draw=draw)


def _asked(request: Any, item: Any) -> tuple[Any, ...]:
    return (ask(item, request),)
