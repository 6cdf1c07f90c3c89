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

_SEEING_ARCSEC = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Columns ``(n,)`` along the track; nan is unknown.

    ``rates_arcsec_s`` holds what moves over the sensor of a mount that stands still,
    goes with the stars, or follows.  ``signal_e_s`` and ``sky_e_s`` are a pixel's.
    ``usable`` is above the horizon and lit (or wherever it is, where light is unknown).
    """

    track: Track
    usable: Bools
    lit_known: bool
    length_m: float
    size_arcsec: Floats
    seeing_arcsec: Floats
    seeing_known: bool
    dispersion_arcsec: Floats
    rates_arcsec_s: dict[str, Floats]
    exposures_s: dict[str, Floats]
    sky_mag: Floats
    signal_e_s: Floats
    sky_e_s: Floats
    size_source: str
    assumed: tuple[Assumed, ...]

    @property
    def time_s(self) -> Floats:
        """Seconds from the track's start."""
        return np.asarray(self.track.time_s)

    def size_px(self, bench: Bench) -> Floats:
        """The object's length in pixels."""
        return self.size_arcsec / bench.scale_arcsec


def scene_of(briefing: Briefing, bench: Bench, choices: Choices) -> Scene:
    """Work out every column."""
    track, site = briefing.track, briefing.site
    altitude = np.radians(np.fmax(track.refracted_altitude_deg, track.altitude_deg))
    path = atmosphere.airmass(altitude)
    zenith = _first_known(choices.seeing_arcsec, site.seeing_arcsec, _SEEING_ARCSEC)
    seeing = optics.seeing_arcsec(zenith, path, bench.filter.centre_nm)
    length, width, filled, source = _dimensions(track, choices)
    size = optics.size_arcsec(length, track.range_km)
    outline = size * optics.size_arcsec(width, track.range_km) * filled
    spread = np.hypot(seeing, np.nan_to_num(bench.diffraction_arcsec))
    pixels = sensor.lit_pixels(np.nan_to_num(outline), spread, bench.scale_arcsec)
    flow = (bench.area_m2, bench.filter.width_nm, bench.efficiency)
    sky_mag = _sky_mag(track, site, altitude)
    rates = _rates(track, bench, choices)
    return Scene(
        track=track,
        usable=_usable(track, site),
        lit_known=bool(np.isfinite(track.lit_fraction).any()),
        length_m=length,
        size_arcsec=size,
        seeing_arcsec=seeing,
        seeing_known=not isnan(choices.seeing_arcsec) or not isnan(site.seeing_arcsec),
        dispersion_arcsec=spread_arcsec(bench.filter, site, altitude),
        rates_arcsec_s=rates,
        exposures_s=_exposures(rates, bench, choices),
        sky_mag=sky_mag,
        signal_e_s=sensor.electrons_s(track.magnitude, *flow) / pixels,
        sky_e_s=sensor.electrons_s(sky_mag, *flow) * bench.scale_arcsec**2,
        size_source=source,
        assumed=tuple(_assumed(source, choices, site)),
    )


def _first_known(*values: float) -> float:
    return next(value for value in values if not isnan(value))


def _dimensions(track: Track, choices: Choices) -> tuple[float, float, float, str]:
    """Length, width (m), filled fraction, and where they come from."""
    if not isnan(choices.length_m):
        width = _first_known(choices.width_m, choices.length_m)
        return choices.length_m, width, _first_known(choices.filled, 0.5), "as stated"
    size = size_for(track.catalog_number, track.name, choices)
    if size is None:
        return nan, nan, nan, ""
    return size.length_m, size.width_m, size.filled_fraction, size.source


def _assumed(source: str, choices: Choices, site: Site) -> list[Assumed]:
    found = []
    if not source:
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


def _exposures(
    rates: dict[str, Floats], bench: Bench, choices: Choices
) -> dict[str, Floats]:
    """Longest exposure without visible blur by what the mount does, s."""
    carrier = bench.rig.mount
    allowed = bench.allowed_arcsec
    if not isnan(choices.blur_px):
        allowed = choices.blur_px * bench.scale_arcsec
    shake = np.nan_to_num([carrier.shake_arcsec, carrier.shake_hz])
    return {
        way: mount.blur_exposure_s(allowed, rate, shake[0], shake[1])
        for way, rate in rates.items()
    }
