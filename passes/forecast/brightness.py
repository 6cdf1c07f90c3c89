"""Magnitudes of many samples through a plugin that is not believed blindly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import atmosphere, objects, photometry
from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM
from passes.contributions import Brightness, Illumination, ObjectFacts
from passes.elements import Catalogue
from passes.forecast.geometry import Seen

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def facts_of(catalogue: Catalogue) -> tuple[ObjectFacts, ...]:
    """What a brightness model may know of each row of a catalogue."""
    classes = objects.object_class(catalogue.name, catalogue.designator)
    axis = (60.0 / catalogue.mean_motion_rad_min) ** (2 / 3) * EARTH_MU_KM3_S2 ** (
        1 / 3
    )
    perigee = axis * (1 - catalogue.eccentricity) - EARTH_RADIUS_KM
    apogee = axis * (1 + catalogue.eccentricity) - EARTH_RADIUS_KM
    inclination = np.degrees(catalogue.inclination_rad)
    columns = zip(
        catalogue.catalog_number.tolist(),
        catalogue.name,
        catalogue.designator,
        classes,
        perigee.tolist(),
        apogee.tolist(),
        inclination.tolist(),
        strict=True,
    )
    return tuple(
        ObjectFacts(
            catalog_number=number,
            name=name,
            designator=designator,
            object_class=kind,
            perigee_km=low,
            apogee_km=high,
            inclination_deg=tilt,
        )
        for number, name, designator, kind, low, high, tilt in columns
    )


@dataclass(frozen=True, slots=True, eq=False)
class Magnitudes:
    """V magnitudes ``(m,)``: above the atmosphere in full sun, dimmed, and as seen."""

    full_sun: Floats
    above: Floats
    seen: Floats
    sigma: Floats
    brightness: Brightness


def guess(asked: Illumination) -> Brightness:
    """A stand-in when the model has failed: class averages, nothing about objects."""
    rows = objects.rows_for([objects.class_averages()], asked.facts)
    value = np.array([row.value_mag if row else np.nan for row in rows])
    sigma = np.array([row.sigma_mag if row else np.nan for row in rows])
    of = asked.object_index
    magnitude = np.full(of.shape, np.nan)
    conventions = np.array([row.convention if row else "" for row in rows])[of]
    for convention in np.unique(conventions[conventions != ""]).tolist():
        some = conventions == convention
        magnitude[some] = photometry.apparent_magnitude(
            value[of[some]],
            asked.range_km[some],
            asked.phase_angle_rad[some],
            convention,
        )
    return Brightness(
        magnitude=magnitude,
        sigma=sigma[of],
        basis=tuple(row.basis if row else "nothing known" for row in rows),
        class_average=(True,) * len(rows),
    )


def seen_through(
    view: Seen, brightness: Brightness, extinction_mag: float
) -> Magnitudes:
    """Dim by the penumbra and the atmosphere; nan where the object is not lit."""
    lit = view.lit > 0.0
    above = photometry.dim_by_fraction(
        brightness.magnitude, np.where(lit, view.lit, np.nan)
    )
    path = atmosphere.airmass(np.maximum(view.altitude_rad, 0.0))
    return Magnitudes(
        full_sun=brightness.magnitude + extinction_mag * path,
        above=above,
        seen=above + extinction_mag * path,
        sigma=brightness.sigma,
        brightness=brightness,
    )
