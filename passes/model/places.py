"""Where and when: a site, a span of time, a night."""

from dataclasses import dataclass
from datetime import date, datetime
from math import isnan, nan

from passes.errors import InputError
from passes.model._frozen import hold_times, hold_tuples, within


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of time, both ends aware and in UTC."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        hold_times(self, "start", "end")
        if self.end < self.start:
            raise InputError(
                f"the span ends ({self.end}) before it starts ({self.start})"
            )

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return (self.end - self.start).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """An observing place.

    Latitude north, longitude east, height above the WGS 84 ellipsoid.  ``horizon``
    holds (azimuth, altitude) corners in degrees, linear between, closed over north;
    empty means a clear horizon.  ``sky_mag_arcsec2`` is the zenith's darkness on a
    moonless night, ``extinction_mag`` the loss per airmass in V; nan is unknown.
    """

    name: str = ""
    latitude_deg: float
    longitude_deg: float
    height_m: float = 0.0
    zone: str = "UTC"
    horizon: tuple[tuple[float, float], ...] = ()
    seeing_arcsec: float = nan
    sky_mag_arcsec2: float = nan
    extinction_mag: float = nan

    def __post_init__(self) -> None:
        within(self.latitude_deg, -90.0, 90.0, "latitude", "°")
        within(self.longitude_deg, -180.0, 360.0, "longitude", "°")
        within(self.height_m, -500.0, 9000.0, "height", " m")
        for name, low, high, unit in (
            ("seeing_arcsec", 0.1, 30.0, "″"),
            ("sky_mag_arcsec2", 10.0, 23.0, " mag/arcsec²"),
            ("extinction_mag", 0.0, 3.0, " mag"),
        ):
            if not isnan(getattr(self, name)):
                within(getattr(self, name), low, high, name.rsplit("_", 1)[0], unit)
        hold_tuples(self, "horizon")


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """One night at a site: sunset to sunrise around the evening of ``date`` (local).

    A span is None where that stage does not occur; ``note`` then says so in a
    sentence (polar day, polar night, no full darkness).  ``window`` always exists.
    ``dark`` is astronomical darkness (Sun below −18°); the twilight spans reach from
    the evening's crossing of −6° (−12°) to the morning's.  ``moon_up`` lists when
    the Moon is above the horizon; its figures are for the middle of the window.
    """

    site: Site
    date: date
    window: Span
    civil: Span | None = None
    nautical: Span | None = None
    dark: Span | None = None
    moon_up: tuple[Span, ...] = ()
    moon_illuminated: float = nan
    moon_altitude_deg: float = nan
    note: str = ""
