"""Services with canned answers and no engine behind them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from passes.errors import UnknownName
from passes.model import (
    Advice,
    Crossing,
    Event,
    Growth,
    LineOfSight,
    Night,
    Passage,
    Report,
    Rig,
    Session,
    Site,
    Span,
    Track,
)
from passes.testing import elements, places, sightings

if TYPE_CHECKING:
    from passes.elements import Catalogue, ElementSet


@dataclass(kw_only=True)
class FakeServices:
    """A stand-in for what the host gives to commands and reporters.

    Every answer is a field or a sample, whatever is asked: change the fields to make
    a case.  ``calls`` holds the name of each method that was called.
    """

    site: Site = field(default_factory=places.site)
    night: Night = field(default_factory=places.night)
    rigs: tuple[Rig, ...] = field(default_factory=lambda: (places.rig(),))
    demo: bool = True
    settings: Mapping[str, Any] = field(default_factory=dict)
    demo_session: str = ""
    problems: Sequence[str] = ()
    canned_passes: tuple[Passage, ...] = field(
        default_factory=lambda: (sightings.passage(),)
    )
    canned_crossings: tuple[Crossing, ...] = field(
        default_factory=lambda: (sightings.crossing(),)
    )
    canned_advice: tuple[Advice, ...] = ()
    canned_reports: tuple[Report, ...] = ()
    calls: list[str] = field(default_factory=list)

    @property
    def window(self) -> Span:
        """The span asked about: the night's."""
        return self.night.window

    def moved(
        self, *, site: Site | str | None = None, window: Span | None = None
    ) -> FakeServices:
        """These services again; at another site, if one is handed over as a record."""
        self.calls.append("moved")
        return replace(self, site=site) if isinstance(site, Site) else self

    def clock(self) -> datetime:
        """Two minutes before the sample object is nearest."""
        self.calls.append("clock")
        return sightings.BEST - timedelta(minutes=2)

    def rig(self, name: str) -> Rig:
        """One rig by name; UnknownName lists the others."""
        self.calls.append("rig")
        for rig in self.rigs:
            if rig.name == name:
                return rig
        raise UnknownName("rig", name, (rig.name for rig in self.rigs))

    def catalogue(
        self, window: Span | None = None, objects: Sequence[str] | None = None
    ) -> Catalogue:
        """Two invented element sets."""
        self.calls.append("catalogue")
        return elements.catalogue()

    def history(self, catalog_number: int) -> Sequence[ElementSet]:
        """The element sets of that number among the invented two."""
        self.calls.append("history")
        sets = elements.element_sets()
        return [one for one in sets if one.catalog_number == catalog_number]

    def growth(self, catalog_number: int) -> Growth:
        """The sample growth."""
        self.calls.append("growth")
        return sightings.growth()

    def passes(
        self,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
        min_altitude_deg: float = 10.0,
    ) -> Sequence[Passage]:
        """The canned passes."""
        self.calls.append("passes")
        return self.canned_passes

    def worth_seeing(self, limit: int = 12) -> Sequence[tuple[Passage, float]]:
        """The canned passes, each worth 1."""
        self.calls.append("worth_seeing")
        return [(passage, 1.0) for passage in self.canned_passes[:limit]]

    def track(self, subject: Passage | Crossing | Event, step_s: float = 1.0) -> Track:
        """The sample track, sampled as asked."""
        self.calls.append("track")
        return sightings.track(step_s=step_s)

    def crossings(
        self,
        line_of_sight: LineOfSight,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
    ) -> Sequence[Crossing]:
        """The canned crossings."""
        self.calls.append("crossings")
        return self.canned_crossings

    def advise(
        self, subject: Passage | Crossing | Event, rig: Rig
    ) -> tuple[Advice, ...]:
        """The canned advice."""
        self.calls.append("advise")
        return self.canned_advice

    def report(self, session: Session, kinds: Sequence[str] = ()) -> tuple[Report, ...]:
        """Those of the canned reports that are of these kinds (all, if none named)."""
        self.calls.append("report")
        every = not kinds or "*" in kinds
        return tuple(r for r in self.canned_reports if every or r.kind in kinds)
