"""What a site sees of positions in TEME: direction, height, light, motion."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from passes import photometry, shadow, sky, vectors
from passes.constants import EARTH_ROTATION_RAD_S
from passes.model import Site

Floats = NDArray[np.float64]

_SPIN = np.array([0.0, 0.0, EARTH_ROTATION_RAD_S])


def _turned(fixed: Floats, turn_rad: Floats) -> Floats:
    """An Earth-fixed vector ``(3,)`` in TEME at angles ``(k,)``; gives ``(k, 3)``."""
    return vectors.rotate_z(np.broadcast_to(fixed, (*turn_rad.shape, 3)), turn_rad)


class Seen(Protocol):
    """What brightness needs of samples, ``(k,)`` each."""

    @property
    def range_km(self) -> Floats:
        """Distance from the site."""

    @property
    def phase_rad(self) -> Floats:
        """Angle Sun-object-observer."""

    @property
    def altitude_rad(self) -> Floats:
        """Geometric altitude."""

    @property
    def lit(self) -> Floats:
        """Fraction of the Sun's disc the object sees."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Objects seen at times; ``(k,)`` each, ``(k, 3)`` for the vectors (TEME).

    ``line`` is the unit vector from the site to the object.
    """

    time_s: Floats
    line: Floats
    axes: Floats
    range_km: Floats
    altitude_rad: Floats
    phase_rad: Floats
    lit: Floats
    sun_altitude_rad: Floats

    @property
    def azimuth_rad(self) -> Floats:
        """Azimuth, 0 to 2π, north through east."""
        east = vectors.dot(self.line, self.axes[..., 0, :])
        north = vectors.dot(self.line, self.axes[..., 1, :])
        return np.arctan2(east, north) % (2 * np.pi)


@dataclass(frozen=True, slots=True, eq=False)
class MoonView:
    """The Moon at the same times: height, phase angle (0 full), distance; ``(k,)``."""

    altitude_rad: Floats
    phase_angle_rad: Floats
    separation_rad: Floats


class Viewer:
    """One site looking up during one window (seconds from ``start``)."""

    def __init__(self, site: Site, start: datetime) -> None:
        self.site, self.start = site, start
        self._site_km = sky.site_km(site)
        self._axes = sky.site_axes(site)
        corners = site.horizon or ((0.0, 0.0),)
        azimuth, altitude = np.radians(np.array(sorted(corners), dtype=float).T)
        self._mask = (azimuth, altitude)

    def look(self, time_s: Floats, position_km: Floats) -> View:
        """Geometry and light of positions ``(k, 3)`` at times ``(k,)``."""
        turn = sky.gmst_rad(self.start, time_s)
        site_km = _turned(self._site_km, turn)
        axes = np.stack([_turned(axis, turn) for axis in self._axes], axis=-2)
        sun_km = sky.sun_teme_km(self.start, time_s)
        away = position_km - site_km
        range_km = vectors.norm(away)
        line = away / range_km[..., None]
        up = axes[..., 2, :]
        return View(
            time_s=time_s,
            line=line,
            axes=axes,
            range_km=range_km,
            altitude_rad=np.arcsin(np.clip(vectors.dot(line, up), -1.0, 1.0)),
            phase_rad=photometry.phase_angle_rad(position_km, sun_km, site_km),
            lit=shadow.lit_fraction(position_km, sun_km),
            sun_altitude_rad=np.arcsin(vectors.dot(vectors.unit(sun_km - site_km), up)),
        )

    def rate_deg_s(self, view: View, velocity_km_s: Floats) -> Floats:
        """Angular speed among the stars, seen from the turning site, ``(k,)``."""
        turn = sky.gmst_rad(self.start, view.time_s)
        site_km = _turned(self._site_km, turn)
        relative = velocity_km_s - np.cross(_SPIN, site_km)
        across = np.cross(view.line, relative)
        return np.degrees(vectors.norm(across) / view.range_km)

    def moon(self, view: View, moon_km: Floats) -> MoonView:
        """The Moon (geocentric TEME, km) beside the objects of a view."""
        turn = sky.gmst_rad(self.start, view.time_s)
        site_km = _turned(self._site_km, turn)
        sun_km = sky.sun_teme_km(self.start, view.time_s)
        line = vectors.unit(moon_km - site_km)
        return MoonView(
            altitude_rad=np.arcsin(vectors.dot(line, view.axes[..., 2, :])),
            phase_angle_rad=photometry.phase_angle_rad(moon_km, sun_km, site_km),
            separation_rad=vectors.separation_rad(line, view.line),
        )

    def mask_rad(self, azimuth_rad: Floats) -> Floats:
        """Altitude of the site's horizon at azimuths, linear between corners."""
        azimuth, altitude = self._mask
        return np.asarray(np.interp(azimuth_rad, azimuth, altitude, period=2 * np.pi))

    @property
    def masked(self) -> bool:
        """Whether anything stands above the mathematical horizon."""
        return bool(np.any(self._mask[1] > 0.0))
