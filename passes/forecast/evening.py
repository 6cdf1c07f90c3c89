"""One evening's answer put together: search, light, ranking, rows, notes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, overload

import numpy as np
from numpy.typing import NDArray

from passes.finder import PassTable
from passes.forecast.operator_words import notes_by_operator
from passes.forecast.ranking import Ranking, rows_of
from passes.forecast.supply import classes_of
from passes.forecast.tonight import Choice, Searched, Tonight, TonightRow
from passes.forecast.trust import notes_on
from passes.forecast.words import notes_of
from passes.model import Note

if TYPE_CHECKING:
    from passes.forecast.passages import Passages
    from passes.forecast.services import Forecast


class EveryRow(Sequence[TonightRow]):
    """A row for every pass, made when looked at."""

    def __init__(self, ranking: Ranking) -> None:
        self._ranking = ranking

    def __len__(self) -> int:
        return len(self._ranking.table)

    @overload
    def __getitem__(self, item: int) -> TonightRow: ...
    @overload
    def __getitem__(self, item: slice) -> Sequence[TonightRow]: ...
    def __getitem__(self, item: int | slice) -> TonightRow | Sequence[TonightRow]:
        if isinstance(item, slice):
            return [self[i] for i in range(len(self))[item]]
        return self._ranking.row(range(len(self))[item])


def tonight_of(forecast: Forecast, choice: Choice) -> Tonight:
    """The passes worth going outside for, or every one of them."""
    passages = forecast.passes()
    now = forecast.clock() if _under_way(forecast) else None
    ranking = Ranking(passages, choice, now)
    order, cuts = ranking.ranked()
    if choice.everything:
        rows: Sequence[TonightRow] = EveryRow(ranking)
        shown = np.arange(len(passages))
    else:
        rows, shown = rows_of(ranking, order, choice.limit)
    searched = searched_of(forecast, passages.table)
    return Tonight(
        site=forecast.site,
        night=forecast.night,
        window=forecast.window,
        searched=searched,
        rows=rows,
        passages=passages.take(shown),
        notes=notes_of(
            forecast.site,
            forecast.night,
            searched,
            choice,
            len(passages),
            len(shown),
            cuts,
            (
                *passages.light.notes,
                *_trust(passages, shown),
                *notes_by_operator(
                    forecast.supply.operators,
                    passages.table.catalogue,
                    forecast.window,
                    passages.flags[shown],
                ),
            ),
        ),
        demo=forecast.demo,
    )


def _trust(passages: Passages, shown: NDArray[np.int64]) -> tuple[Note, ...]:
    """What is to be said of how uncertain the passes shown are."""
    facts = [passages.light.facts[i] for i in passages.fact_of[shown].tolist()]
    return notes_on(
        [one.name or str(one.catalog_number) for one in facts],
        passages.age_days[shown],
        passages.uncertainty.timing_bound_s[shown],
    )


def _under_way(forecast: Forecast) -> bool:
    """Whether tonight was asked for without a date, and has already begun."""
    asked = forecast.request
    if asked.date or asked.start or asked.end or asked.demo:
        return False
    return forecast.window.start <= forecast.clock() <= forecast.window.end


def searched_of(forecast: Forecast, table: PassTable) -> Searched:
    """What was searched: objects by class, ages, and what was left out."""
    catalogue = table.catalogue
    age = -catalogue.epoch_s(forecast.window.start) / 86400.0
    skipped = dict.fromkeys((*catalogue.skipped, *table.skipped))
    return Searched(
        objects=len(catalogue),
        classes=classes_of(catalogue),
        skipped=tuple(skipped),
        rejected=forecast.supply.rejected,
        whole=not forecast.request.objects,
        median_age_days=float(np.median(age)) if age.size else float("nan"),
        oldest_age_days=float(age.max()) if age.size else float("nan"),
    )
