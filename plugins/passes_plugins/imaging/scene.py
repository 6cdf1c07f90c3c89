"""What there is to shoot, sample by sample: size, motion, air, sky, light."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passes import atmosphere, mount, optics, sensor, sky, skylight, vectors
from passes.contributions import Briefing
from passes.model import Filter, Site, Track
from passes_plugins.imaging.bench import Assumed, Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.dimensions import size_for

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Where the site states none (common practice, no source).
_SEEING_ARCSEC = 2.0


@dataclass(frozen=True, slots=True)
class Dimensions:
    """Length and width of an object, m, the part it fills of them, and the source."""

    length_m: float = nan
    width_m: float = nan
    filled: float = nan
    source: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Columns ``(n,)`` along the track for a bench; nan is unknown.

    ``rates_arcsec_s`` holds what moves over the sensor of a mount that stands still,
    goes with the stars, or follows.  ``holds_s`` is how long the seeing keeps its
    pattern.  ``lit_arcsec2`` is what the object's light is spread over: its lit part
    and the blur.  ``signal_e_s`` and ``sky_e_s`` are a pixel's.  ``usable`` is above
    the horizon and lit (or wherever it is, where light is unknown).
    """

    track: Track
    bench: Bench
    usable: Bools
    dimensions: Dimensions
    size_arcsec: Floats
    seeing_arcsec: Floats
    holds_s: Floats
    dispersion_arcsec: Floats
    rates_arcsec_s: dict[str, Floats]
    exposures_s: dict[str, Floats]
    sky_mag: Floats
    lit_arcsec2: Floats
    signal_e_s: Floats
    sky_e_s: Floats
    assumed: tuple[Assumed, ...]

    @property
    def time_s(self) -> Floats:
        """Seconds from the track's start."""
        return np.asarray(self.track.time_s)

    @property
    def lit_known(self) -> bool:
        """Whether anything is known of the Sun's light on it."""
        return bool(np.isfinite(self.track.lit_fraction).any())

    @property
    def size_px(self) -> Floats:
        """The object's length in pixels."""
        return self.size_arcsec / self.bench.scale_arcsec


def scene_of(briefing: Briefing, bench: Bench, choices: Choices) -> Scene:
    """Work out every column."""
    track, site = briefing.track, briefing.site
    altitude = np.radians(np.fmax(track.refracted_altitude_deg, track.altitude_deg))
    seeing = _seeing(altitude, site, bench, choices)
    size = _dimensions(track, choices)
    lit = _lit_arcsec2(track, size, np.hypot(seeing, _known(bench.diffraction_arcsec)))
    sky_mag = _sky_mag(track, site, altitude)
    rates = _rates(track, bench, choices)
    return Scene(
        track=track,
        bench=bench,
        usable=_usable(track, site),
        dimensions=size,
        size_arcsec=optics.size_arcsec(size.length_m, track.range_km),
        seeing_arcsec=seeing,
        holds_s=_holds_s(seeing, bench, choices),
        dispersion_arcsec=spread_arcsec(bench.filter, site, altitude),
        rates_arcsec_s=rates,
        exposures_s={k: motion_s(rate, bench, choices) for k, rate in rates.items()},
        sky_mag=sky_mag,
        lit_arcsec2=lit,
        signal_e_s=object_e_s(track.magnitude, lit, bench),
        sky_e_s=surface_e_s(sky_mag, bench),
        assumed=tuple(_assumed(size, choices, site)),
    )


def _known(value: ArrayLike) -> Floats:
    return np.asarray(np.nan_to_num(value))


def _seeing(altitude: Floats, site: Site, bench: Bench, choices: Choices) -> Floats:
    zenith = _first_known(choices.seeing_arcsec, site.seeing_arcsec, _SEEING_ARCSEC)
    path = atmosphere.airmass(altitude)
    return optics.seeing_arcsec(zenith, path, bench.filter.centre_nm)


def _holds_s(seeing: Floats, bench: Bench, choices: Choices) -> Floats:
    """How long the seeing keeps its pattern."""
    fried_cm = optics.fried_cm(seeing, bench.filter.centre_nm)
    return optics.coherence_s(fried_cm, choices.wind_m_s)


# --- light -------------------------------------------------------------------


def _lit_arcsec2(track: Track, size: Dimensions, blur_arcsec: Floats) -> Floats:
    """What the object's light is spread over: the lit part of its outline, blurred.

    A phase that is unknown counts as full, which makes the light faintest.
    """
    length, width = (
        _known(optics.size_arcsec(metres, track.range_km))
        for metres in (size.length_m, size.width_m)
    )
    part = sensor.lit_part(np.radians(_known(track.phase_angle_deg)))
    outline = length * width * _known(size.filled) * part
    return sensor.spread_area_arcsec2(outline, blur_arcsec)


def object_e_s(magnitude: ArrayLike, lit_arcsec2: ArrayLike, bench: Bench) -> Floats:
    """Electrons a second in a pixel on the object, ``(...)``."""
    pixels = sensor.lit_pixels(lit_arcsec2, bench.scale_arcsec)
    return np.asarray(sensor.electrons_s(magnitude, *bench.flow) / pixels)


def surface_e_s(mag_arcsec2: ArrayLike, bench: Bench) -> Floats:
    """Electrons a second in a pixel from a surface so bright, ``(...)``."""
    return sensor.electrons_s(mag_arcsec2, *bench.flow) * bench.scale_arcsec**2


def _first_known(*values: float) -> float:
    return next(value for value in values if not isnan(value))


def _dimensions(track: Track, choices: Choices) -> Dimensions:
    if not isnan(choices.length_m):
        width = _first_known(choices.width_m, choices.length_m)
        filled = _first_known(choices.filled, 0.5)
        return Dimensions(choices.length_m, width, filled, "as stated")
    size = size_for(track.catalog_number, track.name, choices)
    if size is None:
        return Dimensions()
    return Dimensions(size.length_m, size.width_m, size.filled_fraction, size.source)


def _assumed(size: Dimensions, choices: Choices, site: Site) -> list[Assumed]:
    found = []
    if not size.source:
        found.append(
            Assumed(
                "the object's size",
                "a point",
                "size on the sensor and spread of the light; state it with --size",
            )
        )
    if isnan(choices.seeing_arcsec) and isnan(site.seeing_arcsec):
        found.append(
            Assumed("the site's seeing", f"{_SEEING_ARCSEC:g}″", "what is resolved")
        )
    return found


def mask_deg(site: Site, azimuth_deg: Floats) -> Floats:
    """Altitude of the site's horizon at azimuths, ``(n,)``; 0 where it is clear."""
    if not site.horizon:
        return np.zeros_like(azimuth_deg)
    corners = np.array(site.horizon, dtype=np.float64)
    return np.interp(azimuth_deg, corners[:, 0], corners[:, 1], period=360.0)


def _usable(track: Track, site: Site) -> Bools:
    above = track.altitude_deg > np.maximum(mask_deg(site, track.azimuth_deg), 0.0)
    lit = np.asarray(track.lit_fraction)
    if not np.isfinite(lit).any():
        return np.asarray(above)
    return np.asarray(above & (lit > 0.0))


def spread_arcsec(band: Filter, site: Site, altitude: ArrayLike) -> Floats:
    """How far the air spreads a passband at apparent altitudes, ``(...)`` ″."""
    half = band.width_nm / 2.0
    pressure = float(atmosphere.standard_pressure_hpa(site.height_m))
    return atmosphere.dispersion_arcsec(
        np.maximum(altitude, np.radians(1.0)),
        band.centre_nm - half,
        band.centre_nm + half,
        pressure_hpa=pressure,
    )


def _sky_mag(track: Track, site: Site, altitude: Floats) -> Floats:
    """Brightness of the sky behind it: twilight, Moon and dark sky together."""
    moon_altitude, _ = sky.moon_altaz(site, track.start, track.time_s)
    sun = sky.sun_teme_km(track.start, track.time_s)
    moon = sky.moon_teme_km(track.start, track.time_s)
    dark = skylight.DARK_ZENITH_MAG
    k = float(atmosphere.extinction_mag(site.height_m))
    return skylight.sky_brightness(
        np.radians(track.sun_altitude_deg),
        altitude,
        np.radians(moon_altitude),
        vectors.separation_rad(sun - moon, -moon),
        np.radians(track.moon_separation_deg),
        dark if isnan(site.sky_mag_arcsec2) else site.sky_mag_arcsec2,
        k if isnan(site.extinction_mag) else site.extinction_mag,
    )


# --- motion ------------------------------------------------------------------


def _rates(track: Track, bench: Bench, choices: Choices) -> dict[str, Floats]:
    """Motion over the sensor by what the mount does, ″/s."""
    level = track.azimuth_rate_deg_s * np.cos(np.radians(track.altitude_deg))
    ground = 3600.0 * np.hypot(level, track.altitude_rate_deg_s)
    stars = 3600.0 * np.asarray(track.angular_rate_deg_s)
    error = bench.rig.mount.tracking_error_arcsec
    follow = mount.residual_rate_arcsec_s(ground, error, choices.build_up_s)
    return {"fixed": ground, "stars": stars, "follow": follow}


def motion_s(rate_arcsec_s: ArrayLike, bench: Bench, choices: Choices) -> Floats:
    """Longest exposure without visible blur at a speed over the sensor, ``(...)`` s."""
    carrier = bench.rig.mount
    allowed = bench.allowed_arcsec
    if not isnan(choices.blur_px):
        allowed = choices.blur_px * bench.scale_arcsec
    shake = _known([carrier.shake_arcsec, carrier.shake_hz])
    return mount.blur_exposure_s(allowed, rate_arcsec_s, shake[0], shake[1])
