"""Everything that the sums found for one rig and one subject."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isnan, nan
from typing import TYPE_CHECKING

import numpy as np

from passes.tables import clock, zone_of
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.following import Blind, Following
from passes_plugins.imaging.light import light_at
from passes_plugins.imaging.recording import Recording
from passes_plugins.imaging.remedies import Option
from passes_plugins.imaging.riding import Lead
from passes_plugins.imaging.scene import Scene
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.waiting import Place
from passes_plugins.imaging.wide import Trail

if TYPE_CHECKING:
    from passes.contributions import Briefing

#: Where nothing is known of the lateness, this stands in for its bound, s.
_BOUND_UNKNOWN_S = 30.0
#: In the penumbra an object fades within seconds; its best moment lies outside.
_LIT_IN_FULL = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A briefing and what came of it; ``lead`` is the rig that this one rides with."""

    briefing: Briefing
    choices: Choices
    bench: Bench
    scene: Scene
    lead: Lead | None = None
    way: str = "fixed"
    best: int = 0
    following: Following | None = None
    shot: Shot | None = None
    places: tuple[Place, ...] = ()
    trail: Trail | None = None
    recording: Recording | None = None
    blind: Blind | None = None
    options: tuple[Option, ...] = ()
    start_s: float = nan
    stop_s: float = nan
    aim: int | None = None

    def time(self, seconds: float) -> datetime | None:
        """A time of the track; None where it is unknown."""
        if isnan(seconds):
            return None
        return self.scene.track.start + timedelta(seconds=float(seconds))

    @property
    def bound_s(self) -> float:
        """The 95 % bound of the lateness, or what stands in for it."""
        bound = self.scene.track.timing_bound_s
        return _BOUND_UNKNOWN_S if isnan(bound) else bound


def nearest_of(scene: Scene, first: int, last: int) -> int:
    """The sample between two at which the object is nearest, lit in full if ever."""
    index = np.arange(first, last + 1)
    index = index[scene.usable[first : last + 1]]
    full = index[np.nan_to_num(scene.track.lit_fraction[index]) >= _LIT_IN_FULL]
    index = full if full.size else index
    return int(index[np.nanargmin(scene.track.range_km[index])])


def shot_at(case: Case, i: int, way: str) -> Shot:
    """Shutter and gain at one sample."""
    light = light_at(case.scene, case.bench, case.choices, way, i)
    return shoot(case.bench, case.choices, light)


def time_of(case: Case, i: int) -> str:
    """Local time of a sample, to the second."""
    moment = case.time(float(case.scene.time_s[i]))
    assert moment is not None
    return clock(moment, zone_of(case.briefing.site.zone), 1.0)
