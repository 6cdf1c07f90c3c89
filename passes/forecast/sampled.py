"""Every pass sampled and looked at once: geometry, light, and what a model says."""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import isnan
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes import atmosphere, finder
from passes.contributions import Brightness, Illumination
from passes.forecast.brightness import Magnitudes, facts_of, seen_through
from passes.forecast.geometry import Seen, View, Viewer
from passes.model import Site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: Zenith sky of a site whose darkness nobody stated, mag/arcsec² (a rural sky;
#: common practice, no source).
ASSUMED_SKY_MAG = 21.3
#: Samples handled at once, so that memory stays flat on a full catalogue.
CHUNK = 150_000


class Model(Protocol):
    """A brightness model that always answers, and says whether it had to guess."""

    failed: bool

    def __call__(self, asked: Illumination, /) -> Brightness:
        """Magnitudes in full sun of every sample asked about."""


@dataclass(frozen=True, slots=True, eq=False)
class Thin:
    """What is kept of each sample: a few columns instead of vectors."""

    altitude_rad: Floats
    range_km: Floats
    phase_rad: Floats
    lit: Floats
    sun_altitude_rad: Floats
    clear: Bools


class Sampled:
    """The samples of a pass table, seen from its site through a brightness model."""

    def __init__(self, table: finder.PassTable, model: Model) -> None:
        self.table, self.model = table, model
        self.viewer = Viewer(table.site, table.start)
        self.samples = finder.sample(table)
        rows, self.fact_of = np.unique(table.row, return_inverse=True)
        self.facts = facts_of(table.catalogue.take(rows))
        self.sky_mag, self.extinction_mag = sky_of(table.site)
        self._key: Floats | None = None

    def thin(self) -> Thin:
        """Look at every sample, in chunks, keeping what later steps need."""
        m = self.samples.time_s.size
        names = [f.name for f in fields(Thin) if f.name != "clear"]
        columns = {name: np.empty(m) for name in names}
        clear = np.empty(m, dtype=bool)
        for low in range(0, m, CHUNK):
            part = slice(low, low + CHUNK)
            view = self.view(part)
            for name in names:
                columns[name][part] = getattr(view, name)
            clear[part] = self.above_mask(view)
        return Thin(clear=clear, **columns)

    def view(self, part: slice) -> View:
        """Look at a stretch of the samples."""
        return self.viewer.look(
            self.samples.time_s[part], self.samples.position_km[part]
        )

    def at(self, passage: Ints, time_s: Floats) -> View:
        """Look at passages ``(k,)`` at times between their samples."""
        return self.viewer.look(time_s, self.samples.at(passage, time_s))

    def above_mask(self, view: View) -> Bools:
        """Whether the object stands above the site's own horizon, ``(k,)``."""
        if not self.viewer.masked:
            return np.ones(view.time_s.shape, dtype=bool)
        return view.altitude_rad > self.viewer.mask_rad(view.azimuth_rad)

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

    def magnitudes(self, passage: Ints, view: Seen) -> Magnitudes:
        """Magnitudes of passages as seen, by the model."""
        return seen_through(view, self._ask(passage, view), self.extinction_mag)

    def after(self, of: Ints, at_s: Floats) -> Ints:
        """Index of the first sample of each passage at or after a time, ``(k,)``."""
        stride = 2.0 * (self.samples.time_s.max(initial=0.0) + 1.0)
        if self._key is None:
            self._key = self.samples.passage * stride + self.samples.time_s
        after = np.searchsorted(self._key, of * stride + at_s)
        return np.asarray(np.minimum(after, self._key.size - 1))

    def most(self, values: Floats) -> Floats:
        """Greatest value of each passage, nan where there is none, ``(n,)``."""
        filled = np.where(np.isnan(values), -np.inf, values)
        most = (
            np.maximum.reduceat(filled, self.samples.offsets[:-1])
            if len(self.table)
            else np.empty(0)
        )
        return np.where(np.isfinite(most), most, np.nan)


def sky_of(site: Site) -> tuple[float, float]:
    """Zenith darkness and extinction of a site, assumed where not stated."""
    sky_mag = ASSUMED_SKY_MAG if isnan(site.sky_mag_arcsec2) else site.sky_mag_arcsec2
    if isnan(site.extinction_mag):
        return sky_mag, float(atmosphere.extinction_mag(site.height_m))
    return sky_mag, site.extinction_mag
