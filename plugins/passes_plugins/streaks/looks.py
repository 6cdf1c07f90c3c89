"""One search for all subs of a field: crossings, and what of them each sub sees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes.contributions import Services
from passes.model import Crossing, LineOfSight, Session, Span, Sub
from passes_plugins.streaks.frames import Frame

Floats = NDArray[np.float64]

#: Subs further apart than this are searched in windows of their own, seconds.
_APART_S = 7200.0
#: How far (in short sides) a middle may stray and still be the same field.
_STRAY = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Subs that share a search: one frame they all have, or a disc around theirs."""

    subs: tuple[Sub, ...]
    line: LineOfSight
    exact: bool

    def window(self, margin_s: float) -> Span:
        """From before the first to after the last."""
        margin = timedelta(seconds=margin_s)
        return Span(
            start=min(sub.start for sub in self.subs) - margin,
            end=max(sub.end for sub in self.subs) + margin,
        )


def looks_of(session: Session, frames: Mapping[int, Frame]) -> list[Look]:
    """Subs sorted into searches, by field and by stretch of the night."""
    fields: list[tuple[Frame, list[Sub]]] = []
    for sub in sorted(session.subs, key=lambda one: one.start):
        frame = frames.get(sub.index)
        if frame is None:
            continue
        for first, subs in fields:
            if _near(first, frame) and (sub.start - subs[-1].end) < timedelta(
                seconds=_APART_S
            ):
                subs.append(sub)
                break
        else:
            fields.append((frame, [sub]))
    return [_look(first, subs, frames) for first, subs in fields]


def _near(first: Frame, other: Frame) -> bool:
    if first is other:
        return True
    alike = abs(first.radius_deg - other.radius_deg) < 0.02 * first.radius_deg
    return alike and first.away_deg(other) < _STRAY * min(first.size_deg)


def _look(first: Frame, subs: list[Sub], frames: Mapping[int, Frame]) -> Look:
    distinct = {frames[sub.index] for sub in subs}
    exact = all(frame.same_field(first) and not frame.solved for frame in distinct)
    if exact:
        return Look(subs=tuple(subs), line=first.line_of_sight(), exact=True)
    reach = max(first.away_deg(one) + one.radius_deg for one in distinct)
    disc = LineOfSight.of_field(first.ra_deg, first.dec_deg, radius_deg=1.001 * reach)
    return Look(subs=tuple(subs), line=disc, exact=False)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A look and the crossings found in it, as records."""

    look: Look
    crossings: Sequence[Crossing]


def search(
    services: Services, looks: Sequence[Look], margin_s: float
) -> tuple[list[Found], Searched]:
    """Search each look once."""
    found, searched = [], Searched()
    for look in looks:
        crossings = services.crossings(look.line, window=look.window(margin_s))
        searched = searched.with_(crossings)
        found.append(Found(look, list(crossings)))
    return found, searched


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
    ``places`` holds RA and Dec at entry and exit, ``pixels`` the same as x and y.
    """

    which: NDArray[np.int64]
    entry_s: Floats
    exit_s: Floats
    places: Floats
    pixels: Floats


class Paths:
    """The three known places of each crossing, as arrays ``(m, 3)``."""

    def __init__(self, crossings: Sequence[Crossing]) -> None:
        moments = [(c.entry, c.closest, c.exit) for c in crossings]
        self.origin = crossings[0].entry.time
        self.time_s = np.array(
            [[(p.time - self.origin).total_seconds() for p in row] for row in moments]
        )
        self.ra_deg = np.array([[p.ra_deg for p in row] for row in moments])
        self.dec_deg = np.array([[p.dec_deg for p in row] for row in moments])

    def whole(self, frame: Frame) -> Stays:
        """Crossings of a frame that was searched itself: entry and exit as found."""
        ra, dec = self.ra_deg[:, ::2], self.dec_deg[:, ::2]
        every = np.arange(len(self.time_s))
        return _stays(every, self.time_s[:, 0], self.time_s[:, 2], ra, dec, frame)

    def through(self, frame: Frame) -> Stays:
        """The part of each crossing of a disc that lies in a frame inside it."""
        right, up = frame.place(self.ra_deg, self.dec_deg)
        middle, half, path_right, path_up = plane.parabolas(self.time_s, right, up)
        wide, high = (np.full(len(right), value) for value in frame.halves)
        first, last = plane.stay_in(path_right, path_up, wide, high)
        inside = np.flatnonzero(np.isfinite(first))
        u = np.stack([first, last], axis=-1)[inside]
        ra, dec = frame.sky(
            plane.at(path_right[inside, np.newaxis], u),
            plane.at(path_up[inside, np.newaxis], u),
        )
        time_s = middle[inside, np.newaxis] + half[inside, np.newaxis] * u
        return _stays(inside, time_s[:, 0], time_s[:, 1], ra, dec, frame)


def _stays(
    which: NDArray[np.int64],
    entry_s: Floats,
    exit_s: Floats,
    ra_deg: Floats,
    dec_deg: Floats,
    frame: Frame,
) -> Stays:
    x, y = frame.pixels(ra_deg, dec_deg)
    return Stays(
        which=which,
        entry_s=entry_s,
        exit_s=exit_s,
        places=np.stack([ra_deg, dec_deg], axis=-1),
        pixels=np.stack([x, y], axis=-1),
    )
