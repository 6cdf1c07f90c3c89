"""All passes of a window as a sequence of records, kept as columns until looked at."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes.constants import SECONDS_PER_DAY
from passes.finder import PassTable, Points
from passes.forecast.by_operator import Overlay, overlay
from passes.forecast.chosen import Chosen
from passes.forecast.errors_in_time import GrowthColumns, Uncertainty, growth_of
from passes.forecast.light import Light, Lighting
from passes.forecast.peaks import Peaks
from passes.forecast.ragged import Spans
from passes.forecast.sampled import Model, Sampled
from passes.model import Brightest, Flags, Moment, Passage, Span
from passes.track import STALE_DAYS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Passages(Chosen[Passage]):
    """Passes with their light; ``[i]`` makes a record, :meth:`take` a selection.

    ``chosen`` ``(n,)`` says which passes of the table are in and in which order.
    """

    def __init__(
        self,
        table: PassTable,
        light: Light,
        growth: GrowthColumns,
        chosen: Ints | None = None,
    ) -> None:
        self.table, self.light, self._growth = table, light, growth
        self.chosen = np.arange(len(table)) if chosen is None else chosen

    def take(self, which: ArrayLike) -> Passages:
        """Some of these passes (indices or a mask), in that order."""
        return Passages(
            self.table, self.light, self._growth, self.chosen[np.asarray(which)]
        )

    # --- columns of the whole table -------------------------------------------

    @cached_property
    def fact_of(self) -> Ints:
        """Index into ``light.facts`` of each passage of the table."""
        return np.searchsorted(np.unique(self.table.row), self.table.row)

    @cached_property
    def highest_s(self) -> Floats:
        """Time of the highest moment of each passage, inside the window."""
        culmination = self.table.culmination.time_s
        return np.where(np.isnan(culmination), self.light.highest_s, culmination)

    @cached_property
    def best_s(self) -> Floats:
        """The time a passage stands for: brightest, else highest."""
        brightest = self.light.brightest.time_s
        return np.where(np.isnan(brightest), self.highest_s, brightest)

    @cached_property
    def age_days(self) -> Floats:
        """Age of the elements at that time; negative before the epoch."""
        epoch_s = self.table.catalogue.epoch_s(self.table.start)[self.table.row]
        age_days = (self.best_s - epoch_s) / SECONDS_PER_DAY
        return self._published.ages(age_days) if self._published else age_days

    @cached_property
    def _published(self) -> Overlay | None:
        """What operators have published of these passes."""
        table = self.table
        return overlay(
            table.catalogue, table.row, table.start, table.begin_s, table.finish_s
        )

    @cached_property
    def uncertainty(self) -> Uncertainty:
        """Sigma and bound of every passage."""
        errors = self._growth.at(self.table.row, self.age_days)
        return self._published.errors(errors) if self._published else errors

    @cached_property
    def flags(self) -> Ints:
        """Flag bits of every passage: geometry, age, sigma, brightness."""
        average = np.array(self.light.class_average, dtype=bool)
        row = self.table.row
        bits = self.table.flags.copy()
        late_s = self.table.catalogue.late_s
        late = np.zeros(len(row), bool) if late_s is None else late_s[row] != 0.0
        for flag, where in (
            (Flags.STALE_ELEMENTS, np.abs(self.age_days) > STALE_DAYS),
            (Flags.CLASS_SIGMA, self._growth.by_class[row]),
            (Flags.MANOEUVRES, self._growth.manoeuvres[row]),
            (Flags.CLASS_MAGNITUDE, average[self.fact_of]),
            (Flags.MODEL_FAILED, np.full(len(row), self.light.model_failed)),
            (Flags.LATENESS_APPLIED, late),
        ):
            bits |= np.where(where, int(flag), 0)
        return self._published.flags(bits) if self._published else bits

    @cached_property
    def ids(self) -> list[str]:
        """The id of every passage: number and highest moment to ten minutes."""
        stamp = np.datetime64(self.table.start.replace(tzinfo=None), "ms")
        since = stamp + np.round(self.highest_s * 1e3).astype("timedelta64[ms]")
        minutes = (since.astype(np.int64) + 300_000) // 600_000 * 10
        words = np.datetime_as_string(minutes.astype("datetime64[m]"), unit="m")
        numbers = self.table.catalogue.catalog_number[self.table.row].tolist()
        return [
            f"{number}-{word.replace('-', '').replace(':', '')}"
            for number, word in zip(numbers, words.tolist(), strict=True)
        ]

    # --- one record -------------------------------------------------------------

    def time(self, seconds: float) -> datetime:
        """A time of the window as an aware datetime."""
        return self.table.start.astimezone(UTC) + timedelta(seconds=float(seconds))

    def _moment(self, points: Points, i: int) -> Moment | None:
        if np.isnan(points.time_s[i]):
            return None
        return Moment(
            time=self.time(points.time_s[i]),
            altitude_deg=float(points.altitude_deg[i]),
            azimuth_deg=float(points.azimuth_deg[i]),
            range_km=float(points.range_km[i]),
        )

    def brightest_of(self, peaks: Peaks, i: int) -> Brightest | None:
        """The moment of passage ``i`` of the table, None where there is none."""
        if np.isnan(peaks.time_s[i]):
            return None
        return Brightest(
            time=self.time(peaks.time_s[i]),
            magnitude_basis=self.light.basis[self.fact_of[i]],
            **{
                name: float(getattr(peaks, name)[i])
                for name in peaks.__slots__
                if name != "time_s"
            },
        )

    def _spans(self, spans: Spans, i: int) -> tuple[Span, ...]:
        low, high = np.searchsorted(spans.of, [i, i + 1])
        return tuple(
            Span(start=self.time(start), end=self.time(end))
            for start, end in zip(
                spans.start_s[low:high], spans.end_s[low:high], strict=True
            )
        )

    def record(self, i: int) -> Passage:
        """The record of passage ``i`` of the table."""
        table, light = self.table, self.light
        fact = light.facts[self.fact_of[i]]
        further = np.flatnonzero(table.further_of == i).tolist()
        moments = [self._moment(table.further, k) for k in further]
        return Passage(
            id=self.ids[i],
            catalog_number=fact.catalog_number,
            name=fact.name,
            designator=fact.designator,
            object_class=fact.object_class,
            start=self.time(table.begin_s[i]),
            end=self.time(table.finish_s[i]),
            rise=self._moment(table.rise, i),
            culmination=self._moment(table.culmination, i),
            further_culminations=tuple(one for one in moments if one),
            set=self._moment(table.set, i),
            brightest=self.brightest_of(light.brightest, i),
            sunlit=self._spans(light.sunlit, i),
            clear=self._spans(light.clear, i),
            visible=self._spans(light.visible, i),
            sun_altitude_deg=float(light.sun_altitude_deg[i]),
            moon_separation_deg=float(light.moon_separation_deg[i]),
            timing_sigma_s=float(self.uncertainty.timing_sigma_s[i]),
            timing_bound_s=float(self.uncertainty.timing_bound_s[i]),
            cross_track_sigma_km=float(self.uncertainty.cross_track_sigma_km[i]),
            element_age_days=float(self.age_days[i]),
            flags=Flags(int(self.flags[i])).names,
        )

    def documents(self) -> list[dict[str, Any]]:
        """Every chosen pass in its JSON shape, made column by column."""
        from passes.forecast.documents import pass_documents

        return pass_documents(self)


def light_passes(
    table: PassTable,
    model: Model,
    sun_below_deg: float | None = None,
    growth: GrowthColumns | None = None,
) -> Passages:
    """Light, brightness and errors of every pass of a table.

    ``growth`` says how the errors of its catalogue grow; by class where it is None.
    """
    light = Lighting(Sampled(table, model), sun_below_deg).light()
    return Passages(table, light, growth or growth_of(table.catalogue))
