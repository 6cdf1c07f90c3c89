"""What the host offers: results, never other plugins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, Protocol

if TYPE_CHECKING:
    from passes.contributions.exchange import Settings
    from passes.elements import Catalogue, ElementSet
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

    #: What can be shot, and so advised on.
    Subject = Passage | Crossing | Event

#: Where a plugin can go wrong.
Stage = Literal["import", "register", "collect", "clash", "run", "slow"]


def __getattr__(name: str) -> Any:
    if name == "Subject":  # made late: listing plugins needs no records
        from passes.model import Crossing, Event, Passage

        return Passage | Crossing | Event
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


class Services(Protocol):
    """What commands and reporters may ask: results, never other plugins.

    Times are aware UTC.  Every answer carries light, sigma and bound.
    """

    @property
    def site(self) -> Site:
        """The observing site."""

    @property
    def window(self) -> Span:
        """The span asked about."""

    @property
    def night(self) -> Night:
        """Darkness, twilight and Moon of that night."""

    @property
    def rigs(self) -> tuple[Rig, ...]:
        """The rigs named, or all that are known."""

    @property
    def demo(self) -> bool:
        """Whether everything here is invented."""

    @property
    def settings(self) -> Settings:
        """The asking plugin's own table of the configuration."""

    @property
    def demo_session(self) -> str:
        """The session plan that the demo invents, as TOML; nothing elsewhere."""

    def moved(
        self, *, site: Site | str | None = None, window: Span | None = None
    ) -> Services:
        """The same services at another site (or a named one), or in another window."""

    @property
    def problems(self) -> Sequence[str]:
        """What went wrong with plugins so far, one line each."""

    def clock(self) -> datetime:
        """The time now (the demo has its own)."""

    def rig(self, name: str) -> Rig:
        """One rig by name; UnknownName lists the others."""

    def catalogue(
        self, window: Span | None = None, objects: Sequence[str] | None = None
    ) -> Catalogue:
        """Element sets that serve a window, of all or of the named objects."""

    def history(self, catalog_number: int) -> Sequence[ElementSet]:
        """Every kept element set of one object, by epoch."""

    def growth(self, catalog_number: int) -> Growth:
        """How the error of one object's prediction grows."""

    def passes(
        self,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
        min_altitude_deg: float = 10.0,
    ) -> Sequence[Passage]:
        """Every pass in a window."""

    def worth_seeing(self, limit: int = 12) -> Sequence[tuple[Passage, float]]:
        """The passes worth going outside for, by time, and what each is worth (≥ 0)."""

    def track(self, subject: Subject, step_s: float = 1.0) -> Track:
        """One passage, crossing or event of an object, sampled in full."""

    def crossings(
        self,
        line_of_sight: LineOfSight,
        *,
        window: Span | None = None,
        objects: Sequence[str] | None = None,
    ) -> Sequence[Crossing]:
        """Every crossing of a field or of a body's disc in a window."""

    def advise(self, subject: Subject, rig: Rig) -> tuple[Advice, ...]:
        """What every adviser says about one subject and one rig."""

    def report(self, session: Session, kinds: Sequence[str] = ()) -> tuple[Report, ...]:
        """What the reporters of these kinds (all, if none named) say of a session.

        The kind ``*`` is all that need not be named.
        """
