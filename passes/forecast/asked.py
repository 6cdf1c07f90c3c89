"""Where, when and with what: the plain facts of one request."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from passes import sky
from passes.errors import InputError, UnknownName
from passes.forecast.demo import Demo
from passes.forecast.request import Request
from passes.model import Night, Rig, Site, Span

if TYPE_CHECKING:
    from passes.config import Config


class Asked:
    """Site, night, window and rigs of a request, from the demo or the configuration."""

    def __init__(self, request: Request, config: Config) -> None:
        self.request, self.config = request, config
        self.invented = Demo.load() if request.demo else None

    @property
    def demo(self) -> bool:
        """Whether everything here is invented."""
        return self.invented is not None

    def clock(self) -> datetime:
        """The time now; the demo has its own."""
        if self.request.now is not None:
            return self.request.now
        return self.invented.clock if self.invented else datetime.now(UTC)

    @cached_property
    def site(self) -> Site:
        """The observing site."""
        request = self.request
        if request.site is not None:
            return request.site
        sites = self.invented.sites if self.invented else self.config.sites
        if request.site_name:
            if request.site_name not in sites:
                raise UnknownName("site", request.site_name, sites)
            return sites[request.site_name]
        if self.invented:
            return next(iter(sites.values()))
        default = self.config.default_site
        if default is None:
            raise InputError("where? give --at LAT,LON[,HEIGHT_M] or --site NAME")
        return default

    @cached_property
    def night(self) -> Night:
        """Darkness, twilight and Moon of the night asked about."""
        if self.request.date is not None:
            return sky.night(self.site, self.request.date)
        when = self.request.start or self.clock()
        return sky.night_containing(self.site, when)

    @cached_property
    def window(self) -> Span:
        """The span asked about: what was given, else the night."""
        start, end = self.request.start, self.request.end
        if start is None and end is None:
            return self.night.window
        if start is None:
            start = self.night.window.start
        if end is None:
            end = max(self.night.window.end, start + timedelta(hours=1))
        if end <= start:
            raise InputError(f"the window ends ({end}) before it begins ({start})")
        return Span(start=start, end=end)

    @cached_property
    def rigs(self) -> tuple[Rig, ...]:
        """The rigs named, else those meant by default, else all that are known."""
        chosen = self.request.rigs or (
            () if self.invented else self.config.defaults.rigs
        )
        names = chosen or tuple(self._known_rigs)
        return tuple(self.rig(name) for name in names)

    @property
    def _known_rigs(self) -> dict[str, Rig]:
        return self.invented.rigs if self.invented else dict(self.config.rigs)

    def rig(self, name: str) -> Rig:
        """One rig by name; UnknownName lists the others."""
        if name not in self._known_rigs:
            raise UnknownName("rig", name, self._known_rigs)
        return self._known_rigs[name]
