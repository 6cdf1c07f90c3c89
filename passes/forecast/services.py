"""The host's services: one place and window, every question answered in full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from passes import contributions as c
from passes import finder
from passes.elements import Catalogue, ElementSet
from passes.errors import InputError, NothingToSearch
from passes.forecast import guard
from passes.forecast.asked import Asked
from passes.forecast.by_operator import growth_by_operator, told
from passes.forecast.by_sub import crossings_by_sub
from passes.forecast.crossings import Crossings, lit_crossings
from passes.forecast.errors_in_time import growth_of
from passes.forecast.evening import tonight_of
from passes.forecast.moving import moved
from passes.forecast.passages import Passages, light_passes
from passes.forecast.request import Request
from passes.forecast.supply import Supply
from passes.forecast.tonight import Choice, Tonight
from passes.forecast.tracks import lit_track, times_of
from passes.model import (
    Advice,
    Growth,
    LineOfSight,
    Passage,
    Report,
    Rig,
    Session,
    Site,
    Span,
    Track,
)
from passes.registry import Registry

if TYPE_CHECKING:
    from passes.config import Config


class Forecast(Asked):
    """Implements :class:`passes.contributions.Services` on the engine."""

    def __init__(self, request: Request, registry: Registry, config: Config) -> None:
        super().__init__(request, config)
        self.registry = registry
        self.supply = Supply(request, self.invented)
        self.plugin = ""

    # --- plugins ---------------------------------------------------------------

    @property
    def settings(self) -> dict[str, Any]:
        """The asking plugin's own table of the configuration."""
        return self.settings_of(self.plugin)

    def settings_of(self, plugin: str) -> dict[str, Any]:
        """One plugin's table; the demo adds its own invented magnitudes."""
        settings = dict(self.config.plugins.get(plugin, {}))
        if self.invented:
            settings.update(self.invented.settings.get(plugin, {}))
        return settings

    def for_plugin(self, plugin: str) -> Forecast:
        """The same services, answering with that plugin's settings."""
        other = object.__new__(type(self))
        other.__dict__.update(self.__dict__)
        other.plugin = plugin
        return other

    def moved(
        self, *, site: Site | str | None = None, window: Span | None = None
    ) -> Forecast:
        """The same services at another place or over another window."""
        request = moved(self.request, site, window)
        other = type(self)(request, self.registry, self.config)
        other.supply, other.plugin = self.supply, self.plugin
        return other

    @property
    def demo_session(self) -> str:
        """The plan that the demo invents, as TOML; nothing elsewhere."""
        return self.invented.session if self.invented else ""

    @property
    def problems(self) -> Sequence[str]:
        """What went wrong with plugins so far, one line each."""
        return tuple(str(problem) for problem in self.registry.problems)

    # --- elements ---------------------------------------------------------------

    def catalogue(
        self, window: Span | None = None, objects: Sequence[str] | None = None
    ) -> Catalogue:
        """Element sets that serve a window, of all or of the named objects."""
        names = tuple(objects) if objects is not None else self.request.objects
        catalogue = self.supply.catalogue(
            window or self.window, names, self.request.late_by_s
        )
        if not len(catalogue) and not catalogue.skipped:
            raise NothingToSearch(self.supply.why_empty())
        return catalogue

    def history(self, catalog_number: int) -> Sequence[ElementSet]:
        """Every set of one object, by epoch."""
        return self.supply.history(catalog_number)

    def growth(self, catalog_number: int) -> Growth:
        """How the error of one object's prediction grows."""
        catalogue = self.catalogue(objects=(str(catalog_number),))
        record = growth_of(catalogue, self.supply.measured).record(0)
        return growth_by_operator(catalogue, self.window) or record

    # --- searches ----------------------------------------------------------------

    def passes(
        self,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
        min_altitude_deg: float | None = None,
    ) -> Passages:
        """Every pass in a window, with its light."""
        where = window or self.window
        catalogue = self.catalogue(where, objects)
        low = (
            self.request.min_altitude_deg
            if min_altitude_deg is None
            else min_altitude_deg
        )
        table = finder.search_passes(
            catalogue,
            self.site,
            where.start,
            where.end,
            min_altitude_deg=low,
            processes=self.request.processes,
            progress=self._progress("searching"),
        )
        return self.light(table)

    def light(self, table: finder.PassTable) -> Passages:
        """Light on a pass table through the chosen brightness model."""
        growth = growth_of(table.catalogue, self.supply.measured)
        return light_passes(table, self._model(), self.request.sun_below_deg, growth)

    def _model(self) -> guard.GuardedModel:
        return guard.GuardedModel(
            self.registry, self.request.brightness, self.settings_of
        )

    def _progress(self, what: str) -> Any:
        report = self.request.progress
        if report is None:
            return None
        return lambda done, total: report(what, done, total)

    def track(self, subject: c.Subject, step_s: float = 1.0) -> Track:
        """One passage, crossing or event of an object, sampled in full."""
        if subject.catalog_number is None:
            raise InputError("this event belongs to no object: it has no track")
        span = times_of(subject)
        catalogue = self.catalogue(span, (str(subject.catalog_number),))
        if not len(catalogue):
            raise NothingToSearch(
                f"no usable elements of {subject.catalog_number} near {span.start:%F}"
            )
        time_s = np.arange(0.0, span.duration_s + step_s, step_s)
        growth = growth_of(catalogue, self.supply.measured).record(0)
        track = lit_track(
            catalogue, self.site, span.start, time_s, self._model(), growth
        )
        return told(track, catalogue)

    def crossings(
        self,
        line_of_sight: LineOfSight,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
    ) -> Crossings:
        """Every crossing of a field or of a body's disc in a window."""
        where = window or self.window
        catalogue = self.catalogue(where, objects)
        growth = growth_of(catalogue, self.supply.measured)
        return lit_crossings(
            catalogue, self.site, line_of_sight, where, self._model(), growth
        )

    # --- plugins' answers -----------------------------------------------------------

    def advise(self, subject: c.Subject, rig: Rig) -> tuple[Advice, ...]:
        """What every adviser says about one subject and one rig."""
        track = self.track(subject)
        growth = None
        if subject.catalog_number is not None:
            growth = self.growth(subject.catalog_number)
        briefing = c.Briefing(
            track=track,
            subject=subject,
            rig=rig,
            site=self.site,
            growth=growth,
            demo=self.demo,
        )
        return guard.advice_from(
            self.registry,
            lambda plugin: replace(briefing, settings=self.settings_of(plugin)),
        )

    def report(self, session: Session, kinds: Sequence[str] = ()) -> tuple[Report, ...]:
        """What the reporters of these kinds (all, if none named) say of a session.

        The kind ``*`` is all that need not be named.
        """
        crossings = crossings_by_sub(
            session, lambda line, span: self.crossings(line, window=span)
        )
        return guard.reports_from(
            self.registry,
            lambda plugin: c.SessionBriefing(
                session=session,
                services=self.for_plugin(plugin),
                crossings=crossings,
                settings=self.settings_of(plugin),
            ),
            tuple(kinds),
        )

    def tonight(
        self,
        limit: int = 12,
        magnitude: float | None = None,
        min_visible_altitude_deg: float = 15.0,
        everything: bool = False,
    ) -> Tonight:
        """The passes worth going outside for, or every one of them."""
        return tonight_of(
            self,
            Choice(
                limit=limit,
                magnitude=magnitude,
                min_visible_altitude_deg=min_visible_altitude_deg,
                everything=everything,
                named=bool(self.request.objects),
            ),
        )

    def worth_seeing(self, limit: int = 12) -> Sequence[tuple[Passage, float]]:
        """The passes worth going outside for, by time, and what each is worth."""
        return [(row.passage, row.worth) for row in self.tonight(limit).rows]


def build(request: Request, registry: Registry, config: Config) -> Forecast:
    """Services for one request; nothing is read or computed until it is asked."""
    return Forecast(request, registry, config)
