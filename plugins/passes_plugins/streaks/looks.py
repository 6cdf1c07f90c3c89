"""One search for all subs of a field: crossings, and what of them each sub sees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes.contributions import Services
from passes.model import Crossing, LineOfSight, Session, Span, Sub
from passes_plugins.streaks.frames import Frame

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Subs further apart than this are searched in windows of their own, seconds.
_APART_S = 7200.0
#: How far (in short sides) a middle may stray and still be the same field.
_STRAY = 0.25
#: No field reaches further from its middle, degrees.
_WIDEST_DEG = 80.0


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Subs that share a search: one frame they all have, or a disc around theirs.

    ``wide`` is that and what lies beside it, from where a dither or a path's own error
    may bring an object in; a disc is wide already.
    """

    subs: tuple[Sub, ...]
    line: LineOfSight
    exact: bool
    wide: LineOfSight

    def window(self, margin_s: float) -> Span:
        """From before the first to after the last."""
        margin = timedelta(seconds=margin_s)
        return Span(
            start=min(sub.start for sub in self.subs) - margin,
            end=max(sub.end for sub in self.subs) + margin,
        )


def looks_of(
    session: Session, frames: Mapping[int, Frame], aside_deg: float = 0.0
) -> list[Look]:
    """Subs sorted into searches, by field and by stretch of the night.

    ``aside_deg`` is how far beside each frame is searched, dithers not counted.
    """
    groups: list[tuple[Frame, list[Sub]]] = []
    for sub in sorted(session.subs, key=lambda one: one.start):
        frame = frames.get(sub.index)
        if frame is None:
            continue
        for first, subs in groups:
            if _near(first, frame) and (sub.start - subs[-1].end) < timedelta(
                seconds=_APART_S
            ):
                subs.append(sub)
                break
        else:
            groups.append((frame, [sub]))
    return [_look(first, subs, frames, aside_deg) for first, subs in groups]


def _near(first: Frame, other: Frame) -> bool:
    if first is other:
        return True
    alike = abs(first.radius_deg - other.radius_deg) < 0.02 * first.radius_deg
    return alike and first.away_deg(other) < _STRAY * min(first.size_deg)


def _look(
    first: Frame, subs: list[Sub], frames: Mapping[int, Frame], aside_deg: float
) -> Look:
    distinct = {frames[sub.index] for sub in subs}
    aside_deg += max(frame.loose_deg for frame in distinct)
    exact = all(frame.same_field(first) and not frame.solved for frame in distinct)
    if exact:
        line = first.line_of_sight()
        wide = first.line_of_sight(aside_deg) if aside_deg else line
        return Look(subs=tuple(subs), line=line, exact=True, wide=wide)
    reach = max(first.away_deg(one) + one.radius_deg for one in distinct)
    radius_deg = min(1.001 * reach + 1.5 * aside_deg, _WIDEST_DEG)
    disc = LineOfSight.of_field(first.ra_deg, first.dec_deg, radius_deg=radius_deg)
    return Look(subs=tuple(subs), line=disc, exact=False, wide=disc)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A look, the crossings found in it, and those ``beside`` its frame, as records."""

    look: Look
    crossings: Sequence[Crossing]
    beside: Sequence[Crossing] = ()

    @property
    def every(self) -> list[Crossing]:
        """All of them, those of the look first."""
        return [*self.crossings, *self.beside]


def search(
    services: Services, looks: Sequence[Look], margin_s: float
) -> tuple[list[Found], Searched]:
    """Search each look, and what lies beside it."""
    found, searched = [], Searched()
    for look in looks:
        window = look.window(margin_s)
        around = services.crossings(look.wide, window=window)
        searched = searched.with_(around)
        if look.wide is look.line:
            found.append(Found(look, list(around)))
            continue
        # the frame itself once more: entry and exit by cutting would be rougher
        inside = list(services.crossings(look.line, window=window))
        found.append(Found(look, inside, _others(around, inside)))
    return found, searched


def _others(around: Sequence[Crossing], inside: Sequence[Crossing]) -> list[Crossing]:
    """The crossings of the wider field that do not enter the frame."""
    closest: dict[int, list[datetime]] = {}
    for one in inside:
        closest.setdefault(one.catalog_number, []).append(one.closest.time)
    return [
        one
        for one in around
        if not any(
            one.entry.time <= time <= one.exit.time
            for time in closest.get(one.catalog_number, ())
        )
    ]


@dataclass(frozen=True, slots=True)
class Searched:
    """How many objects of which classes were searched, and what was left out."""

    objects: int | None = None
    classes: Mapping[str, int] | None = None
    skipped: tuple[tuple[int | None, str, str], ...] = ()
    median_age_days: float | None = None

    def with_(self, crossings: Sequence[Crossing]) -> Searched:
        """What one more search adds."""
        table = getattr(crossings, "table", None)
        if table is None:
            return self
        from passes.objects import object_class

        catalogue = table.catalogue
        if self.objects is not None and self.objects >= len(catalogue):
            return self
        kinds = object_class(catalogue.name, catalogue.designator)
        words, counts = np.unique(np.array(kinds, dtype=object), return_counts=True)
        order = np.argsort(-counts, kind="stable")
        age = -catalogue.epoch_s(table.start) / 86400.0
        left = dict.fromkeys((*catalogue.skipped, *table.skipped))
        return Searched(
            objects=len(catalogue),
            classes={str(words[i]): int(counts[i]) for i in order},
            skipped=tuple((s.catalog_number, s.name, s.reason) for s in left),
            median_age_days=float(np.median(age)) if age.size else None,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Stays:
    """Crossings of one frame, ``(n,)``: which, and in and out of the whole field.

    ``entry_s`` and ``exit_s`` count from the look's first crossing's entry;
    ``places`` holds RA and Dec at entry and exit, ``pixels`` the same as x and y.  Of
    paths that lead past the frame (``beside``) they are those of a frame wider by as
    much as their errors reach.
    """

    which: NDArray[np.int64]
    beside: NDArray[np.bool_]
    entry_s: Floats
    exit_s: Floats
    places: Floats
    pixels: Floats

    def joined(self, other: Stays) -> Stays:
        """These, then those."""
        return Stays(
            *(
                np.concatenate([getattr(self, one.name), getattr(other, one.name)])
                for one in fields(Stays)
            )
        )


class Paths:
    """The three known places of each crossing, as arrays ``(m, 3)``.

    ``sigma_s`` is that of its time, ``rate_deg_s`` how fast it goes, ``(m,)`` each.
    """

    def __init__(self, crossings: Sequence[Crossing]) -> None:
        moments = [(c.entry, c.closest, c.exit) for c in crossings]
        self.origin = crossings[0].entry.time
        self.time_s = np.array(
            [[(p.time - self.origin).total_seconds() for p in row] for row in moments]
        )
        self.ra_deg = np.array([[p.ra_deg for p in row] for row in moments])
        self.dec_deg = np.array([[p.dec_deg for p in row] for row in moments])
        self.sigma_s = np.nan_to_num([c.timing_sigma_s for c in crossings])
        self.rate_deg_s = np.maximum([c.angular_rate_deg_s for c in crossings], 1e-9)

    def between(self, opens_s: float, closes_s: float, room_s: Floats) -> Ints:
        """Which crossings a stretch of time may meet, each given so much room."""
        late = self.time_s[:, 0] - room_s < closes_s
        return np.flatnonzero(late & (self.time_s[:, 2] + room_s > opens_s))

    def stays(self, found: Found, frame: Frame, some: Ints, aside: Floats) -> Stays:
        """Crossings of a look's frame, and those that pass it within ``aside``.

        ``some`` of ``found.every`` are looked at; ``aside`` is theirs, in the plane.
        """
        inside = some[some < len(found.crossings)]
        if found.look.exact:
            ra, dec = self.ra_deg[inside, ::2], self.dec_deg[inside, ::2]
            times = self.time_s[inside]
            own = _stays(inside, times[:, 0], times[:, 2], ra, dec, frame)
        else:
            own = self.through(frame, some)
        other = ~np.isin(some, own.which)
        return own.joined(self.through(frame, some[other], aside[other]))

    def through(
        self,
        frame: Frame,
        which: Ints | None = None,
        aside: Floats | None = None,
    ) -> Stays:
        """The part of some crossings that lies in a frame, or within aside of it."""
        some = np.arange(len(self.time_s)) if which is None else which
        right, up = frame.place(self.ra_deg[some], self.dec_deg[some])
        middle, half, path_right, path_up = plane.parabolas(
            self.time_s[some], right, up
        )
        room = np.zeros(some.size) if aside is None else aside
        wide, high = (value + room for value in frame.halves)
        first, last = plane.stay_in(path_right, path_up, wide, high)
        inside = np.flatnonzero(np.isfinite(first))
        u = np.stack([first, last], axis=-1)[inside]
        ra, dec = frame.sky(
            plane.at(path_right[inside, np.newaxis], u),
            plane.at(path_up[inside, np.newaxis], u),
        )
        time_s = middle[inside, np.newaxis] + half[inside, np.newaxis] * u
        beside = aside is not None
        return _stays(some[inside], time_s[:, 0], time_s[:, 1], ra, dec, frame, beside)


def _stays(
    which: NDArray[np.int64],
    entry_s: Floats,
    exit_s: Floats,
    ra_deg: Floats,
    dec_deg: Floats,
    frame: Frame,
    beside: bool = False,
) -> Stays:
    x, y = frame.pixels(ra_deg, dec_deg)
    return Stays(
        which=which,
        beside=np.full(which.size, beside),
        entry_s=entry_s,
        exit_s=exit_s,
        places=np.stack([ra_deg, dec_deg], axis=-1),
        pixels=np.stack([x, y], axis=-1),
    )
