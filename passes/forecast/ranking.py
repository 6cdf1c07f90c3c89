"""Which passes of a night are worth most, and which limit cuts the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from passes import objects
from passes.forecast.passages import Passages
from passes.forecast.ragged import Spans
from passes.forecast.tonight import Choice, EndedBy, TonightRow
from passes.model import Span

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: A longer view than this is not worth more, seconds.
_LONG_S = 240.0
#: An end this close to an edge of light or of the horizon was caused by it, seconds.
_CLOSE_S = 15.0
#: Members of a train are seen within this long of each other, seconds.
_IN_FILE_S = 1800.0


def worth_of(passages: Passages) -> Floats:
    """How much a pass is worth, 0 and up, for every pass of the table.

    Magnitudes above the naked-eye limit × √(share of four minutes visible) × sine of
    the greatest altitude while visible; 0 for a pass that is not visible.
    """
    light = passages.light
    seconds = light.visible.duration_s(len(passages.table))
    lasting = np.sqrt(np.minimum(seconds / _LONG_S, 1.0))
    high = np.sin(np.radians(np.nan_to_num(light.top_visible_deg)))
    return np.nan_to_num(light.margin_mag) * lasting * np.maximum(high, 0.0)


class Ranking:
    """Orders the passes of a night and tells which limit cut the others."""

    def __init__(
        self, passages: Passages, choice: Choice, now: datetime | None
    ) -> None:
        self.passages, self.choice = passages, choice
        self.light, self.table = passages.light, passages.table
        self.worth = worth_of(passages)
        self.visible_s = self.light.visible.duration_s(len(self.table))
        station = np.array(
            [fact.object_class == "station" for fact in self.light.facts], dtype=bool
        )
        self.station = station[passages.fact_of]
        self.rows = np.unique(self.table.row)
        middle = self.table.start + (self.table.end - self.table.start) / 2
        self._flying = (self.table.catalogue.take(self.rows), middle)
        docked = objects.attached(*self._flying) >= 0
        # Who names a docked craft wants it, though the station stands for it.
        self.docked = docked[passages.fact_of] & (not choice.named)
        self.over = self._over(now)

    def _over(self, now: datetime | None) -> Bools:
        """Passes whose visible part lies before now."""
        if now is None:
            return np.zeros(len(self.table), dtype=bool)
        last = np.full(len(self.table), -np.inf)
        np.maximum.at(last, self.light.visible.of, self.light.visible.end_s)
        return last < (now - self.table.start).total_seconds()

    def cuts(self) -> dict[str, Bools]:
        """Which passes each limit alone removes, in the order they are applied."""
        choice, light = self.choice, self.light
        low = ~(light.top_visible_deg >= choice.min_visible_altitude_deg)
        cuts = {
            "docked to a station": self.docked,
            "never in sunlight": np.isnan(light.brightest.time_s),
            "too faint for the naked eye, hidden or in daylight": self.visible_s <= 0,
            "already over": self.over,
            f"below {choice.min_visible_altitude_deg:g}° while visible": low
            & ~self.station,
        }
        if choice.magnitude is not None:
            faint = ~(light.best.magnitude <= choice.magnitude)
            cuts[f"fainter than magnitude {choice.magnitude:g}"] = faint
        return cuts

    def ranked(self) -> tuple[Ints, Counter[str]]:
        """Passes that survive every cut, best first, and how many each cut took."""
        alive = np.ones(len(self.table), dtype=bool)
        taken: Counter[str] = Counter()
        for why, cut in self.cuts().items():
            taken[why] = int((alive & cut).sum())
            alive &= ~cut
        order = np.argsort(-self.worth, kind="stable")
        return order[alive[order]], taken

    def ended_by(self, i: int) -> EndedBy:
        """What ends the visible part of passage ``i``."""
        mine = _slice(self.light.visible, i)
        if mine.start == mine.stop:
            return ""
        end = float(self.light.visible.end_s[mine].max())
        for edge, spans in (
            ("horizon", self.light.clear),
            ("shadow", self.light.sunlit),
        ):
            ends = spans.end_s[_slice(spans, i)]
            if np.any(np.abs(ends - end) < _CLOSE_S):
                finish = self.table.finish_s[i]
                at_window = edge == "shadow" and abs(finish - end) < _CLOSE_S
                if not at_window:
                    return edge  # type: ignore[return-value]
        return "dawn" if self._dawning(i) else "fades"

    def _dawning(self, i: int) -> bool:
        middle = (self.table.end - self.table.start).total_seconds() / 2
        late = self.passages.best_s[i] > middle
        return bool(late and self.light.sun_altitude_deg[i] > -18.0)

    def trains(self) -> Ints:
        """The train each passage's object flies in, −1 for none."""
        return objects.trains(*self._flying)[self.passages.fact_of]

    def row(
        self, i: int, group: tuple[str, ...] = (), members: Sequence[int] = ()
    ) -> TonightRow:
        """Row of passage ``i`` of the table, standing for the members of its group."""
        passages = self.passages
        visible = self.light.visible
        mine = [_slice(visible, k) for k in (members or [i])]
        starts = np.concatenate([visible.start_s[one] for one in mine])
        span = None
        if starts.size:
            ends = np.concatenate([visible.end_s[one] for one in mine])
            span = Span(
                start=passages.time(starts.min()), end=passages.time(ends.max())
            )
        best = passages.brightest_of(self.light.best, i)
        return TonightRow(
            passage=passages.record(i),
            best=best or passages.brightest_of(self.light.brightest, i),
            span=span,
            worth=float(self.worth[i]),
            ended_by=self.ended_by(i),
            group=group,
        )


def _slice(spans: Spans, i: int) -> slice:
    """Where the spans of passage ``i`` stand."""
    low, high = np.searchsorted(spans.of, [i, i + 1])
    return slice(int(low), int(high))


def _gather(ranking: Ranking, order: Ints) -> Iterator[tuple[int, list[int]]]:
    """Passes in order, those of one train that follow each other under the first."""
    group = ranking.trains()
    taken: set[int] = set()
    when = ranking.passages.best_s
    for i in order.tolist():
        if i in taken:
            continue
        members = [i]
        if group[i] >= 0:
            same = order[(group[order] == group[i])]
            near = same[np.abs(when[same] - when[i]) < _IN_FILE_S]
            members = [k for k in near.tolist() if k not in taken]
        taken.update(members)
        yield i, members


def rows_of(ranking: Ranking, order: Ints, limit: int) -> tuple[list[TonightRow], Ints]:
    """The rows to show, in order of time, and every passage they stand for."""
    facts, fact_of = ranking.light.facts, ranking.passages.fact_of
    rows, shown = [], []
    for place, (i, members) in enumerate(_gather(ranking, order)):
        if place >= limit and not ranking.station[i]:
            continue
        names = (
            tuple(facts[fact_of[k]].name for k in members) if len(members) > 1 else ()
        )
        rows.append(ranking.row(i, names, members))
        shown.extend(members)
    rows.sort(key=lambda row: row.span.start if row.span else row.passage.start)
    return rows, np.array(
        sorted(shown, key=lambda k: ranking.table.begin_s[k]), dtype=int
    )
