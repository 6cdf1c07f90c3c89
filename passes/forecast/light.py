"""The light on every pass: when lit, clear and visible, and how bright it gets."""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import isnan
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes import atmosphere, finder, sky, skylight
from passes.contributions import Brightness, Illumination, ObjectFacts
from passes.forecast.brightness import Magnitudes, facts_of, seen_through
from passes.forecast.geometry import Seen, View, Viewer
from passes.forecast.ragged import Spans, intersect, spans_where
from passes.model import Note, Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


class Model(Protocol):
    """A brightness model that always answers, and says whether it had to guess."""

    failed: bool

    def __call__(self, asked: Illumination, /) -> Brightness:
        """Magnitudes in full sun of every sample asked about."""


#: Zenith sky of a site whose darkness nobody stated, mag/arcsec² (a rural sky;
#: common practice, no source).
ASSUMED_SKY_MAG = 21.3
#: How much brighter than the limit an object must be to be found (half a magnitude).
FINDABLE_MAG = 0.5
#: Fainter than this no naked eye needs a limit computed.
_HOPELESS_MAG = 7.5
#: Samples handled at once, so that memory stays flat on a full catalogue.
_CHUNK = 150_000


@dataclass(frozen=True, slots=True, eq=False)
class Peaks:
    """One moment a passage, with its brightness; ``(n,)``, nan where there is none."""

    time_s: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    range_km: Floats
    magnitude: Floats
    magnitude_above_atmosphere: Floats
    magnitude_sigma: Floats
    phase_angle_deg: Floats
    angular_rate_deg_s: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """Everything about light, one entry a passage, and what the model said of rows.

    ``highest_s`` is the time of the highest sample.  ``margin_mag`` is how far above
    the naked-eye limit the object gets while visible; ``best`` is the brightest moment
    while visible, ``brightest`` while lit at all.
    """

    facts: tuple[ObjectFacts, ...]
    basis: tuple[str, ...]
    class_average: tuple[bool, ...]
    model_failed: bool
    notes: tuple[Note, ...]
    highest_s: Floats
    sunlit: Spans
    clear: Spans
    visible: Spans
    brightest: Peaks
    best: Peaks
    margin_mag: Floats
    top_visible_deg: Floats
    sun_altitude_deg: Floats
    moon_separation_deg: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Thin:
    """What is kept of each sample: a few columns instead of vectors."""

    altitude_rad: Floats
    range_km: Floats
    phase_rad: Floats
    lit: Floats
    sun_altitude_rad: Floats
    clear: Bools


class Lighting:
    """Lights a pass table with one brightness model and one site's sky."""

    def __init__(
        self,
        table: finder.PassTable,
        model: Model,
        sun_below_deg: float | None = None,
    ) -> None:
        self.table, self.model = table, model
        self.sun_below_deg = sun_below_deg
        self.viewer = Viewer(table.site, table.start)
        self.samples = finder.sample(table)
        self.rows, self.fact_of = np.unique(table.row, return_inverse=True)
        self.facts = facts_of(table.catalogue.take(self.rows))
        self.sky_mag, self.extinction_mag = sky_of(table.site)
        self._key: Floats | None = None

    def light(self) -> Light:
        """Compute every column."""
        thin = self._thin()
        passage, time_s = self.samples.passage, self.samples.time_s
        magnitudes = self._magnitudes(passage, thin)
        margin = self._margin(passage, time_s, thin, magnitudes)
        sunlit = spans_where(thin.lit > 0.0, passage, time_s, self._is_lit)
        clear = spans_where(thin.clear, passage, time_s, self._is_clear)
        visible = self._visible(thin, margin, clear)
        brightest = self._peaks(magnitudes.seen)
        inside = _inside(visible, passage, time_s)
        shown = inside & (thin.lit > 0.0) & (margin > 0.0)
        best = self._peaks(np.where(shown, magnitudes.seen, np.nan))
        sun, moon = self._surroundings(brightest)
        brightness = magnitudes.brightness
        return Light(
            facts=self.facts,
            basis=brightness.basis,
            class_average=brightness.class_average,
            model_failed=self.model.failed,
            notes=brightness.notes,
            highest_s=self._highest(thin.altitude_rad),
            sunlit=sunlit,
            clear=clear,
            visible=visible,
            brightest=brightest,
            best=best,
            margin_mag=self._most(np.where(shown, margin, np.nan)),
            top_visible_deg=self._most(
                np.where(shown, np.degrees(thin.altitude_rad), np.nan)
            ),
            sun_altitude_deg=sun,
            moon_separation_deg=moon,
        )

    # --- samples -------------------------------------------------------------

    def _thin(self) -> _Thin:
        """Look at every sample, in chunks, keeping what later steps need."""
        m = self.samples.time_s.size
        columns = {f.name: np.empty(m) for f in fields(_Thin)}
        columns["clear"] = np.empty(m, dtype=bool)
        for low in range(0, m, _CHUNK):
            part = slice(low, low + _CHUNK)
            view = self._view(part)
            for name in (
                "altitude_rad",
                "range_km",
                "phase_rad",
                "lit",
                "sun_altitude_rad",
            ):
                columns[name][part] = getattr(view, name)
            columns["clear"][part] = self._above_mask(view)
        return _Thin(**columns)

    def _view(self, part: slice) -> View:
        return self.viewer.look(
            self.samples.time_s[part], self.samples.position_km[part]
        )

    def _at(self, passage: Ints, time_s: Floats) -> View:
        return self.viewer.look(time_s, self.samples.at(passage, time_s))

    def _above_mask(self, view: View) -> Bools:
        if not self.viewer.masked:
            return np.ones(view.time_s.shape, dtype=bool)
        return view.altitude_rad > self.viewer.mask_rad(view.azimuth_rad)

    def _is_lit(self, passage: Ints, time_s: Floats) -> Bools:
        return self._at(passage, time_s).lit > 0.0

    def _is_clear(self, passage: Ints, time_s: Floats) -> Bools:
        return self._above_mask(self._at(passage, time_s))

    # --- brightness ----------------------------------------------------------

    def _ask(self, passage: Ints, view: Seen) -> Brightness:
        return self.model(
            Illumination(
                facts=self.facts,
                object_index=self.fact_of[passage],
                range_km=view.range_km,
                phase_angle_rad=view.phase_rad,
                altitude_rad=view.altitude_rad,
            )
        )

    def _magnitudes(self, passage: Ints, view: Seen) -> Magnitudes:
        return seen_through(view, self._ask(passage, view), self.extinction_mag)

    def _margin(
        self, passage: Ints, time_s: Floats, thin: _Thin, magnitudes: Magnitudes
    ) -> Floats:
        """Magnitudes above the findable limit in full sun; nan where hopeless."""
        margin = np.full(time_s.shape, np.nan)
        worth = np.flatnonzero(
            (thin.lit > 0.0)
            & (magnitudes.full_sun < _HOPELESS_MAG)
            & (thin.altitude_rad > 0.0)
            & self._dark_enough(thin.sun_altitude_rad)
        )
        for low in range(0, worth.size, _CHUNK):
            some = worth[low : low + _CHUNK]
            limit = self._limit(passage[some], time_s[some], thin, some)
            margin[some] = limit - FINDABLE_MAG - magnitudes.full_sun[some]
        return margin

    def _dark_enough(self, sun_altitude_rad: Floats) -> Bools:
        ceiling = 0.0 if self.sun_below_deg is None else -self.sun_below_deg
        return sun_altitude_rad < np.radians(ceiling)

    def _limit(self, passage: Ints, time_s: Floats, thin: _Thin, some: Ints) -> Floats:
        """The naked-eye limit around each of some samples."""
        view = self.viewer.look(time_s, self.samples.position_km[some])
        moon_km = sky.moon_teme_km(self.viewer.start, time_s)
        moon = self.viewer.moon(view, moon_km)
        sun_altitude = thin.sun_altitude_rad[some]
        if self.sun_below_deg is not None:
            sun_altitude = np.full(sun_altitude.shape, -np.pi / 2)
        return skylight.naked_eye_limit(
            sun_altitude,
            thin.altitude_rad[some],
            moon.altitude_rad,
            moon.phase_angle_rad,
            moon.separation_rad,
            self.sky_mag,
            self.extinction_mag,
        )

    def _visible(self, thin: _Thin, margin: Floats, clear: Spans) -> Spans:
        """Spans in which the object, dimmed by the penumbra, clears the limit."""
        passage, time_s = self.samples.passage, self.samples.time_s
        enough = 10.0 ** (-0.4 * np.maximum(np.nan_to_num(margin, nan=0.0), 0.0))
        bright = (margin > 0.0) & (thin.lit >= enough)

        def holds(of: Ints, at_s: Floats) -> Bools:
            after = self._after(of, at_s)
            before = np.maximum(after - 1, 0)
            # the margin is unknown beside darkness: use the side that knows it
            left, right = margin[before], margin[after]
            left = np.where(np.isnan(left), right, left)
            right = np.where(np.isnan(right), left, right)
            step = np.maximum(time_s[after] - time_s[before], 1e-9)
            share = (at_s - time_s[before]) / step
            between = left + share * (right - left)
            fraction = self._at(of, at_s).lit
            return (between > 0.0) & (fraction >= 10.0 ** (-0.4 * between))

        return intersect(spans_where(bright, passage, time_s, holds), clear)

    def _after(self, of: Ints, at_s: Floats) -> Ints:
        """Index of the first sample of each passage at or after a time, ``(k,)``."""
        stride = 2.0 * (self.samples.time_s.max(initial=0.0) + 1.0)
        if self._key is None:
            self._key = self.samples.passage * stride + self.samples.time_s
        after = np.searchsorted(self._key, of * stride + at_s)
        return np.minimum(after, self._key.size - 1)

    # --- one moment a passage ------------------------------------------------

    def _most(self, values: Floats) -> Floats:
        """Greatest value of each passage, nan where there is none, ``(n,)``."""
        filled = np.where(np.isnan(values), -np.inf, values)
        most = (
            np.maximum.reduceat(filled, self.samples.offsets[:-1])
            if len(self.table)
            else np.empty(0)
        )
        return np.where(np.isfinite(most), most, np.nan)

    def _highest(self, altitude_rad: Floats) -> Floats:
        """Time of the highest sample of each passage, ``(n,)``."""
        top = self._most(altitude_rad)
        at = np.flatnonzero(altitude_rad == top[self.samples.passage])
        _, first = np.unique(self.samples.passage[at], return_index=True)
        return self.samples.time_s[at[first]]

    def _peaks(self, seen: Floats) -> Peaks:
        """The brightest moment of each passage, placed between samples."""
        n = len(self.table)
        lowest = -self._most(-seen)
        first = np.flatnonzero(seen == lowest[self.samples.passage])
        of, where = np.unique(self.samples.passage[first], return_index=True)
        time_s = self._vertex(seen, first[where])
        view = self._at(of, time_s)
        magnitudes = self._magnitudes(of, view)
        columns = {
            "time_s": time_s,
            "altitude_deg": np.degrees(view.altitude_rad),
            "azimuth_deg": np.degrees(view.azimuth_rad),
            "range_km": view.range_km,
            "magnitude": magnitudes.seen,
            "magnitude_above_atmosphere": magnitudes.above,
            "magnitude_sigma": magnitudes.sigma,
            "phase_angle_deg": np.degrees(view.phase_rad),
            "angular_rate_deg_s": self._rate(of, time_s, view),
        }
        spread = {name: np.full(n, np.nan) for name in columns}
        for name, column in columns.items():
            spread[name][of] = column
        return Peaks(**spread)

    def _vertex(self, seen: Floats, at: Ints) -> Floats:
        """Where a parabola through a sample and its neighbours is brightest."""
        time_s, passage = self.samples.time_s, self.samples.passage
        before, after = np.maximum(at - 1, 0), np.minimum(at + 1, seen.size - 1)
        a, b, c = seen[before], seen[at], seen[after]
        inside = (passage[before] == passage[at]) & (passage[after] == passage[at])
        bend = a - 2 * b + c
        usable = inside & (before < at) & (after > at) & (bend > 0.0)
        shift = np.where(usable, 0.5 * (a - c) / np.where(usable, bend, 1.0), 0.0)
        return time_s[at] + np.clip(shift, -1.0, 1.0) * (time_s[after] - time_s[at])

    def _rate(self, of: Ints, time_s: Floats, view: View) -> Floats:
        half = 0.25
        ahead = self.samples.at(of, time_s + half)
        behind = self.samples.at(of, time_s - half)
        return self.viewer.rate_deg_s(view, (ahead - behind) / (2 * half))

    def _surroundings(self, brightest: Peaks) -> tuple[Floats, Floats]:
        """Sun's altitude and distance from the Moon, at brightest or else highest."""
        table = self.table
        middle = (table.begin_s + table.finish_s) / 2
        when = np.where(
            np.isnan(table.culmination.time_s), middle, table.culmination.time_s
        )
        when = np.where(np.isnan(brightest.time_s), when, brightest.time_s)
        view = self._at(np.arange(len(table)), when)
        moon = self.viewer.moon(view, sky.moon_teme_km(self.viewer.start, when))
        return np.degrees(view.sun_altitude_rad), np.degrees(moon.separation_rad)


def _inside(spans: Spans, passage: Ints, time_s: Floats) -> Bools:
    """Whether each sample lies in a span of its passage."""
    inside = np.zeros(time_s.shape, dtype=bool)
    key = spans.of
    candidate = np.searchsorted(key, passage, side="right")
    begin = np.searchsorted(key, passage, side="left")
    for step in range(int((candidate - begin).max(initial=0))):
        k = np.minimum(begin + step, key.size - 1)
        inside |= (
            (begin + step < candidate)
            & (time_s >= spans.start_s[k])
            & (time_s <= spans.end_s[k])
        )
    return inside


def sky_of(site: Site) -> tuple[float, float]:
    """Zenith darkness and extinction of a site, assumed where not stated."""
    sky_mag = ASSUMED_SKY_MAG if isnan(site.sky_mag_arcsec2) else site.sky_mag_arcsec2
    if isnan(site.extinction_mag):
        return sky_mag, float(atmosphere.extinction_mag(site.height_m))
    return sky_mag, site.extinction_mag
