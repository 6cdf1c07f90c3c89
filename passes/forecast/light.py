"""The light on every pass: when lit, clear and visible, and how bright it gets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import sky, skylight
from passes.contributions import ObjectFacts
from passes.forecast.brightness import Magnitudes
from passes.forecast.peaks import Peaks, highest_s, peaks_of, surroundings
from passes.forecast.ragged import Spans, intersect, spans_where
from passes.forecast.sampled import CHUNK, Sampled, Thin
from passes.model import Note

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


#: How much brighter than the limit an object must be to be found (half a magnitude).
FINDABLE_MAG = 0.5
#: Fainter than this no naked eye needs a limit computed.
_HOPELESS_MAG = 7.5


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


class Lighting:
    """Lights a pass table with one brightness model and one site's sky."""

    def __init__(self, sampled: Sampled, sun_below_deg: float | None = None) -> None:
        self.sampled, self.sun_below_deg = sampled, sun_below_deg
        self.passage = sampled.samples.passage
        self.time_s = sampled.samples.time_s

    def light(self) -> Light:
        """Compute every column."""
        sampled, passage, time_s = self.sampled, self.passage, self.time_s
        thin = sampled.thin()
        magnitudes = sampled.magnitudes(passage, thin)
        margin = self._margin(thin, magnitudes)
        clear = spans_where(thin.clear, passage, time_s, self._is_clear)
        visible = self._visible(thin, margin, clear)
        shown = _inside(visible, passage, time_s) & (thin.lit > 0.0) & (margin > 0.0)
        brightest = peaks_of(sampled, magnitudes.seen)
        sun, moon = surroundings(sampled, brightest)
        altitude_deg = np.degrees(thin.altitude_rad)
        brightness = magnitudes.brightness
        return Light(
            facts=sampled.facts,
            basis=brightness.basis,
            class_average=brightness.class_average,
            model_failed=sampled.model.failed,
            notes=brightness.notes,
            highest_s=highest_s(sampled, thin.altitude_rad),
            sunlit=spans_where(thin.lit > 0.0, passage, time_s, self._is_lit),
            clear=clear,
            visible=visible,
            brightest=brightest,
            best=peaks_of(sampled, np.where(shown, magnitudes.seen, np.nan)),
            margin_mag=sampled.most(np.where(shown, margin, np.nan)),
            top_visible_deg=sampled.most(np.where(shown, altitude_deg, np.nan)),
            sun_altitude_deg=sun,
            moon_separation_deg=moon,
        )

    def _is_lit(self, passage: Ints, time_s: Floats) -> Bools:
        return self.sampled.at(passage, time_s).lit > 0.0

    def _is_clear(self, passage: Ints, time_s: Floats) -> Bools:
        return self.sampled.above_mask(self.sampled.at(passage, time_s))

    def _margin(self, thin: Thin, magnitudes: Magnitudes) -> Floats:
        """Magnitudes above the findable limit in full sun; nan where hopeless."""
        margin = np.full(self.time_s.shape, np.nan)
        worth = np.flatnonzero(
            (thin.lit > 0.0)
            & (magnitudes.full_sun < _HOPELESS_MAG)
            & (thin.altitude_rad > 0.0)
            & self._dark_enough(thin.sun_altitude_rad)
        )
        for low in range(0, worth.size, CHUNK):
            some = worth[low : low + CHUNK]
            limit = self._limit(thin, some)
            margin[some] = limit - FINDABLE_MAG - magnitudes.full_sun[some]
        return margin

    def _dark_enough(self, sun_altitude_rad: Floats) -> Bools:
        ceiling = 0.0 if self.sun_below_deg is None else -self.sun_below_deg
        return np.asarray(sun_altitude_rad < np.radians(ceiling))

    def _limit(self, thin: Thin, some: Ints) -> Floats:
        """The naked-eye limit around each of some samples."""
        viewer, time_s = self.sampled.viewer, self.time_s[some]
        view = viewer.look(time_s, self.sampled.samples.position_km[some])
        moon = viewer.moon(view, sky.moon_teme_km(viewer.start, time_s))
        sun_altitude = thin.sun_altitude_rad[some]
        if self.sun_below_deg is not None:
            sun_altitude = np.full(sun_altitude.shape, -np.pi / 2)
        return skylight.naked_eye_limit(
            sun_altitude,
            thin.altitude_rad[some],
            moon.altitude_rad,
            moon.phase_angle_rad,
            moon.separation_rad,
            self.sampled.sky_mag,
            self.sampled.extinction_mag,
        )

    def _visible(self, thin: Thin, margin: Floats, clear: Spans) -> Spans:
        """Spans in which the object, dimmed by the penumbra, clears the limit."""
        passage, time_s = self.passage, self.time_s
        enough = 10.0 ** (-0.4 * np.maximum(np.nan_to_num(margin, nan=0.0), 0.0))
        bright = (margin > 0.0) & (thin.lit >= enough)

        def holds(of: Ints, at_s: Floats) -> Bools:
            after = self.sampled.after(of, at_s)
            before = np.maximum(after - 1, 0)
            # the margin is unknown beside darkness: use the side that knows it
            left, right = margin[before], margin[after]
            left = np.where(np.isnan(left), right, left)
            right = np.where(np.isnan(right), left, right)
            step = np.maximum(time_s[after] - time_s[before], 1e-9)
            share = (at_s - time_s[before]) / step
            between = left + share * (right - left)
            fraction = self.sampled.at(of, at_s).lit
            return (between > 0.0) & (fraction >= 10.0 ** (-0.4 * between))

        return intersect(spans_where(bright, passage, time_s, holds), clear)


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
