"""How far ahead elements say anything: until the strip's own width is in doubt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import cos, isnan, radians, sin, tan
from typing import TYPE_CHECKING

from passes.constants import EARTH_MU_KM3_S2, EARTH_RADIUS_KM, EARTH_ROTATION_RAD_S
from passes_plugins.transits.nearest import settled_at_age

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.elements import Catalogue, ElementSet

#: Half the mean disc of Sun and Moon; the altitude for which the strip is reckoned.
_HALF_DISC_DEG, _ALTITUDE_DEG = 0.266, 45.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Until when one object's strips are worth anything; None is never."""

    catalog_number: int
    name: str
    epoch: datetime
    until: datetime | None


def outlook(services: Services, one: ElementSet) -> Outlook:
    """Until the 95 % bound moves the line by as much as the strip is wide.

    The ground turns under the path by up to 465 m/s, less with the latitude; the strip
    of a low object is as wide as the disc at its distance.
    """
    latitude = radians(services.site.latitude_deg)
    turning = EARTH_ROTATION_RAD_S * EARTH_RADIUS_KM * cos(latitude)
    age = settled_at_age(
        services.growth(one.catalog_number), _width_km(one), turning, 1.0
    )
    until = None if isnan(age) else one.epoch + timedelta(days=age)
    return Outlook(
        catalog_number=one.catalog_number, name=one.name, epoch=one.epoch, until=until
    )


def outlooks(services: Services, catalogue: Catalogue) -> tuple[Outlook, ...]:
    """Of every object of a catalogue."""
    return tuple(outlook(services, one) for one in catalogue)


def _width_km(one: ElementSet) -> float:
    motion_rad_s = one.mean_motion_rad_min / 60.0
    axis_km = float((EARTH_MU_KM3_S2 / motion_rad_s**2) ** (1.0 / 3.0))
    low_km = max(axis_km * (1.0 - one.eccentricity) - EARTH_RADIUS_KM, 100.0)
    far_km = low_km / sin(radians(_ALTITUDE_DEG))
    return 2.0 * far_km * tan(radians(_HALF_DISC_DEG))
