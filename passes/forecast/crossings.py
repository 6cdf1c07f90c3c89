"""Crossings with their light and errors: columns until a record is looked at."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cached_property
from math import nan

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import field
from passes.constants import ARCSEC_PER_RAD, SECONDS_PER_DAY
from passes.contributions import Illumination, ObjectFacts
from passes.crossings import CrossingTable, Places, search_crossings
from passes.elements import Catalogue
from passes.forecast.brightness import Magnitudes, facts_of, seen_through
from passes.forecast.by_operator import Overlay, overlay
from passes.forecast.chosen import Chosen
from passes.forecast.errors_in_time import GrowthColumns, Uncertainty
from passes.forecast.geometry import View, Viewer
from passes.forecast.sampled import Model, sky_of
from passes.model import Crossing, FieldPoint, Flags, LineOfSight, Site, Span
from passes.track import STALE_DAYS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Crossings(Chosen[Crossing]):
    """Crossings in order of entry; ``[i]`` makes a record, :meth:`take` a selection.

    Light and magnitude hold for the closest approach.  Columns are of the whole
    ``table``; ``chosen`` ``(n,)`` says which of its crossings are in.  Pixels are nan
    until somebody tells how many the field has (:meth:`in_pixels`).
    """

    def __init__(
        self,
        table: CrossingTable,
        model: Model,
        growth: GrowthColumns,
        chosen: Ints | None = None,
        size_px: tuple[int, int] | None = None,
    ) -> None:
        self.table, self._model, self._growth = table, model, growth
        self.size_px = size_px
        self.chosen = np.arange(len(table)) if chosen is None else chosen

    def take(self, which: ArrayLike) -> Crossings:
        """Some of these crossings (indices or a mask), in that order."""
        chosen = self.chosen[np.asarray(which)]
        other = Crossings(self.table, self._model, self._growth, chosen, self.size_px)
        # worked out once for all selections; of nothing there is nothing to ask
        for name in _SHARED if len(self.table) else ():
            other.__dict__[name] = getattr(self, name)
        return other

    def in_pixels(self, width_px: int, height_px: int) -> Crossings:
        """The same with pixels: the field is a fixed frame of so many.

        Counted as FITS counts, from (1, 1) at the lower left, up at the frame's
        position angle, the image not mirrored.
        """
        size_px = (width_px, height_px)
        return Crossings(self.table, self._model, self._growth, self.chosen, size_px)

    # --- columns of the whole table -------------------------------------------

    @cached_property
    def fact_of(self) -> Ints:
        """Index into :attr:`facts` of each crossing."""
        return np.unique(self.table.row, return_inverse=True)[1]

    @cached_property
    def facts(self) -> tuple[ObjectFacts, ...]:
        """What a brightness model may know of the objects that cross."""
        return facts_of(self.table.catalogue.take(np.unique(self.table.row)))

    @cached_property
    def view(self) -> View:
        """Geometry and light at the closest approach."""
        table = self.table
        viewer = Viewer(table.site, table.start)
        return viewer.look(table.closest.time_s, table.position_km)

    @cached_property
    def magnitudes(self) -> Magnitudes:
        """V magnitudes at the closest approach, nan in the Earth's shadow."""
        view = self.view
        brightness = self._model(
            Illumination(
                facts=self.facts,
                object_index=self.fact_of,
                range_km=view.range_km,
                phase_angle_rad=view.phase_rad,
                altitude_rad=view.altitude_rad,
            )
        )
        return seen_through(view, brightness, sky_of(self.table.site)[1])

    @cached_property
    def _published(self) -> Overlay | None:
        """What operators have published of these stretches."""
        table = self.table
        begin_s, end_s = table.entry.time_s, table.exit.time_s
        return overlay(table.catalogue, table.row, table.start, begin_s, end_s)

    @cached_property
    def age_days(self) -> Floats:
        """Age of the elements at the closest approach; negative before the epoch."""
        epoch_s = self.table.catalogue.epoch_s(self.table.start)[self.table.row]
        age_days = (self.table.closest.time_s - epoch_s) / SECONDS_PER_DAY
        return self._published.ages(age_days) if self._published else age_days

    @cached_property
    def uncertainty(self) -> Uncertainty:
        """Sigma and bound in time, and sigma across the track, of every crossing."""
        errors = self._growth.at(self.table.row, self.age_days)
        return self._published.errors(errors) if self._published else errors

    @cached_property
    def flags(self) -> Ints:
        """Flag bits of every crossing: geometry, age, sigma, brightness."""
        row, brightness = self.table.row, self.magnitudes.brightness
        average = np.array(brightness.class_average, dtype=bool)
        late_s = self.table.catalogue.late_s
        late = np.zeros(len(row), bool) if late_s is None else late_s[row] != 0.0
        bits = self.table.flags.copy()
        for flag, where in (
            (Flags.STALE_ELEMENTS, np.abs(self.age_days) > STALE_DAYS),
            (Flags.CLASS_SIGMA, self._growth.by_class[row]),
            (Flags.MANOEUVRES, self._growth.manoeuvres[row]),
            (Flags.CLASS_MAGNITUDE, average[self.fact_of]),
            (Flags.MODEL_FAILED, np.full(len(row), self._model.failed)),
            (Flags.LATENESS_APPLIED, late),
        ):
            bits |= np.where(where, int(flag), 0)
        return self._published.flags(bits) if self._published else bits

    # --- one record -------------------------------------------------------------

    def time(self, seconds: float) -> datetime:
        """A time of the window as an aware datetime."""
        return self.table.start.astimezone(UTC) + timedelta(seconds=float(seconds))

    def _point(self, places: Places, i: int) -> FieldPoint:
        ra_deg, dec_deg = float(places.ra_deg[i]), float(places.dec_deg[i])
        x_px, y_px = self._pixel(ra_deg, dec_deg) if self.size_px else (nan, nan)
        time = self.time(places.time_s[i])
        return FieldPoint(
            time=time, ra_deg=ra_deg, dec_deg=dec_deg, x_px=x_px, y_px=y_px
        )

    def _pixel(self, ra_deg: float, dec_deg: float) -> tuple[float, float]:
        """The pixel of a place, by the tangent plane."""
        line, size_px = self.table.line_of_sight, self.size_px
        assert size_px is not None
        assert line.ra_deg is not None
        assert line.dec_deg is not None
        centre = np.radians([line.ra_deg[0], line.dec_deg[0]])
        east, north = field.standard(*np.radians([ra_deg, dec_deg]), *centre)
        angle = np.radians(line.position_angle_deg)
        right, up = field.in_frame(east, north, angle)
        wide = 2.0 * np.tan(np.radians(line.width_deg) / 2.0)
        scale = wide * ARCSEC_PER_RAD / size_px[0]
        x_px, y_px = field.pixels(right, up, scale, size_px)
        return float(x_px), float(y_px)

    def record(self, i: int) -> Crossing:
        """The record of crossing ``i`` of the table."""
        table, light, view, errors = (
            self.table,
            self.magnitudes,
            self.view,
            self.uncertainty,
        )
        fact = self.facts[self.fact_of[i]]
        return Crossing(
            catalog_number=fact.catalog_number,
            name=fact.name,
            object_class=fact.object_class,
            entry=self._point(table.entry, i),
            exit=self._point(table.exit, i),
            closest=self._point(table.closest, i),
            closest_deg=float(table.closest_deg[i]),
            angular_rate_deg_s=float(table.angular_rate_deg_s[i]),
            position_angle_deg=float(table.position_angle_deg[i]),
            range_km=float(table.range_km[i]),
            altitude_deg=float(table.altitude_deg[i]),
            azimuth_deg=float(table.azimuth_deg[i]),
            sunlit=bool(view.lit[i] > 0.0),
            lit_fraction=float(view.lit[i]),
            phase_angle_deg=float(np.degrees(view.phase_rad[i])),
            magnitude=float(light.seen[i]),
            magnitude_above_atmosphere=float(light.above[i]),
            magnitude_sigma=float(light.sigma[i]),
            magnitude_basis=light.brightness.basis[self.fact_of[i]],
            timing_sigma_s=float(errors.timing_sigma_s[i]),
            timing_bound_s=float(errors.timing_bound_s[i]),
            cross_track_sigma_km=float(errors.cross_track_sigma_km[i]),
            element_age_days=float(self.age_days[i]),
            flags=Flags(int(self.flags[i])).names,
        )


#: Columns that selections share.
_SHARED = (
    "fact_of",
    "facts",
    "view",
    "magnitudes",
    "_published",
    "age_days",
    "uncertainty",
    "flags",
)


def lit_crossings(
    catalogue: Catalogue,
    site: Site,
    line_of_sight: LineOfSight,
    window: Span,
    model: Model,
    growth: GrowthColumns,
) -> Crossings:
    """Every crossing in a window, with light and errors."""
    table = search_crossings(catalogue, site, line_of_sight, window.start, window.end)
    return Crossings(table, model, growth)
