"""The whole search: crossings of bodies, what is seen of them, strips on the ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import degrees, inf, isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from passes import sky
from passes.model import Event, LineOfSight, Note, Site, Span
from passes_plugins.transits.line import Line
from passes_plugins.transits.nearest import Nearest, nearest, shifts
from passes_plugins.transits.outlook import Outlook
from passes_plugins.transits.seen import Sight, see
from passes_plugins.transits.sizing import Sizes
from passes_plugins.transits.strips import Maker, height_of
from passes_plugins.transits.telling import Seen, event_of
from passes_plugins.transits.wanted import Scope, Wanted, field_deg, scope

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Crossing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: A stretch searched for the nearest point reaches so far beyond a stay, seconds.
_BEYOND_S = 1.0
#: How often a body's altitude is looked at when nothing was found, seconds.
_LOOK_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Transits:
    """What was found, and what was searched."""

    site: Site
    window: Span
    wanted: Wanted
    searched: int
    skipped: tuple[Any, ...] = ()
    outlooks: tuple[Outlook, ...] = ()
    events: tuple[Event, ...] = ()
    notes: tuple[Note, ...] = ()
    demo: bool = False
    advice: dict[str, tuple[Any, ...]] = field(default_factory=dict)


def find(services: Services, wanted: Wanted) -> Transits:
    """Every transit (and near miss, and strip within reach) that is asked for."""
    what = scope(services, wanted)
    sizes = Sizes(services.settings)
    events: list[Event] = []
    notes = list(what.notes)
    for body in wanted.bodies:
        one = _Body(services, wanted, what, sizes, body)
        found = [event for event in one.events() if _wanted(event, wanted, what)]
        if not found:
            notes += one.why_nothing()
        events += found
    return Transits(
        site=services.site,
        window=what.window,
        wanted=wanted,
        searched=len(what.catalogue),
        skipped=what.catalogue.skipped,
        outlooks=what.outlooks,
        events=tuple(sorted(events, key=lambda event: event.best)),
        notes=tuple(notes),
        demo=services.demo,
    )


def _wanted(event: Event, wanted: Wanted, what: Scope) -> bool:
    """Whether an event is early enough to be worth telling, or was asked for."""
    asked = wanted.until is not None or wanted.whole_window or wanted.anyway
    return asked or not beyond(event, what.outlooks)


class _Body:
    """The search in front of one body."""

    def __init__(
        self,
        services: Services,
        wanted: Wanted,
        what: Scope,
        sizes: Sizes,
        body: str,
    ) -> None:
        self.services, self.wanted, self.what = services, wanted, what
        self.sizes, self.body, self.low = sizes, body, 0
        self.line = Line(what.catalogue, body, services.site, what.window.start)
        numbers = what.catalogue.catalog_number.tolist()
        self.row_of = {number: row for row, number in enumerate(numbers)}

    def events(self) -> Iterator[Event]:
        """One event a transit, from the site or (with reach) from its strip."""
        found = self._crossings()
        if not found:
            return
        rows = np.array([self.row_of[one.catalog_number] for one in found])
        if self.wanted.strips:
            yield from self._with_strips(found, rows)
        else:
            yield from self._from_site(found, rows)

    def _crossings(self) -> Sequence[Crossing]:
        wanted = self.wanted
        radius = field_deg(wanted, self.what.catalogue)
        if isfinite(wanted.within_deg) and not wanted.strips:
            radius = max(radius, self._disc_deg())
        line = LineOfSight.of_body(self.body, radius_deg=radius)
        found = self.services.crossings(
            line, window=self.what.window, objects=self.what.numbers
        )
        return [one for one in found if one.catalog_number in self.row_of]

    def _disc_deg(self) -> float:
        """A little more than the largest disc of the body in this window."""
        ends = np.array([0.0, self.what.window.duration_s])
        _, far_km, radius_km = sky.body_icrs(
            self.body, self.services.site, self.what.window.start, ends
        )
        return degrees(radius_km / float(far_km.min())) * 1.2

    def _s(self, time: datetime) -> float:
        return (time - self.line.start).total_seconds()

    # --- from the site itself ------------------------------------------------

    def _from_site(self, found: Sequence[Crossing], rows: Ints) -> Iterator[Event]:
        near_s = np.array([self._s(one.closest.time) for one in found])
        sight = self._at_site(rows, near_s)
        for i, one in enumerate(found):
            if degrees(sight.body_altitude_rad[i]) < self.wanted.min_altitude_deg:
                self.low += 1
                continue
            yield event_of(
                self._seen(one, sight, i, self.services.site),
                {"from_site": True, "strip": None, "ground_shift_km": None},
            )

    def _at_site(self, rows: Ints, near_s: Floats) -> Sight:
        place = np.broadcast_to(sky.site_km(self.services.site), (rows.size, 3))
        return see(self.line, rows, near_s, place)

    def _seen(self, one: Crossing, sight: Sight, i: int, place: Site) -> Seen:
        size = self.sizes.of(one.catalog_number, one.name)
        return Seen(
            body=self.body,
            crossing=one,
            sight=sight,
            i=i,
            start=self.line.start,
            place=place,
            size_m=size.length_m if size else nan,
        )

    # --- from somewhere on the strip -----------------------------------------

    def _with_strips(self, found: Sequence[Crossing], rows: Ints) -> Iterator[Event]:
        height_km = height_of(self.wanted, self.services.site)
        begin = np.array([self._s(one.entry.time) for one in found]) - _BEYOND_S
        end = np.array([self._s(one.exit.time) for one in found]) + _BEYOND_S
        site = np.broadcast_to(sky.site_km(self.services.site), (rows.size, 3))
        points = nearest(self.line, rows, begin, end, site, height_km)
        reached = np.flatnonzero(points.distance_km <= self.wanted.reach_km)
        if not reached.size:
            return
        found = [found[k] for k in reached.tolist()]
        rows, points = rows[reached], _taken(points, reached)
        yield from self._reached(found, rows, points, height_km)

    def _reached(
        self, found: Sequence[Crossing], rows: Ints, points: Nearest, height_km: float
    ) -> Iterator[Event]:
        central = see(self.line, rows, points.time_s, points.place_km)
        own = self._at_site(rows, points.time_s)
        bounds = np.array([one.timing_bound_s for one in found])
        sides = np.array([one.cross_track_sigma_km for one in found])
        moved = shifts(
            self.line,
            rows,
            points,
            np.nan_to_num(bounds),
            np.nan_to_num(sides),
            height_km,
        )
        maker = Maker(self.services, self.wanted, self.line)
        for i, one in enumerate(found):
            if degrees(central.body_altitude_rad[i]) < self.wanted.min_altitude_deg:
                self.low += 1
                continue
            made = maker.make(int(rows[i]), one, points, moved, i)
            if made is None:
                continue
            more = {
                "from_site": bool(np.isfinite(own.entry_s[i])),
                "strip": made.details,
                "ground_shift_km": made.details["shift_km"],
            }
            if more["from_site"]:
                seen = self._seen(one, own, i, self.services.site)
            else:
                seen = self._seen(one, made.sight, 0, made.nearest)
            yield event_of(seen, more)

    # --- nothing ----------------------------------------------------------------

    def why_nothing(self) -> Iterator[Note]:
        """Which limit cut, where there is nothing to tell of this body."""
        window, wanted = self.what.window, self.wanted
        name, low = self.body.capitalize(), wanted.min_altitude_deg
        time_s = np.arange(0.0, window.duration_s + 1.0, _LOOK_S)
        highest = self._highest_deg(time_s)
        if highest < low:
            yield Note(
                text=f"{name}: below {low:g}° all the while (highest {highest:.0f}°)."
            )
            return
        if self.low:
            many = "one transit" if self.low == 1 else f"{self.low} transits"
            yield Note(
                text=f"{name}: {many} left out, the body below {low:g}° "
                "(--min-altitude)."
            )
            return
        hint = "" if wanted.strips else "; try --reach 100, or --within 2"
        yield Note(text=f"{name}: none{hint}.")

    def _highest_deg(self, time_s: Floats) -> float:
        site, start = self.services.site, self.what.window.start
        direction, _, _ = sky.body_icrs(self.body, site, start, time_s)
        to_icrs = sky.teme_to_icrs(start, time_s)
        teme = np.einsum("kji,kj->ki", to_icrs, direction)
        turn = sky.gmst_rad(start, time_s)
        up = sky.site_axes(site)[2]
        c, s = np.cos(turn), np.sin(turn)
        x, y = c * up[0] - s * up[1], s * up[0] + c * up[1]
        sine = teme[:, 0] * x + teme[:, 1] * y + teme[:, 2] * up[2]
        return degrees(float(np.arcsin(np.clip(sine.max(initial=-inf), -1.0, 1.0))))


def _taken(points: Nearest, which: Ints) -> Nearest:
    return Nearest(
        points.time_s[which], points.place_km[which], points.distance_km[which]
    )


def beyond(event: Event, outlooks: Sequence[Outlook]) -> bool:
    """Whether an event is more than its object's elements can tell.

    Its own strip says it best; else the day until which they are good.
    """
    strip = event.details.get("strip")
    if strip and strip["shift_km"] is not None:
        return bool(strip["shift_km"] > strip["width_km"])
    for one in outlooks:
        if one.catalog_number == event.catalog_number:
            return one.until is None or event.best > one.until
    return False
