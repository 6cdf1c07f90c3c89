"""What is seen of an object: moments, passages, crossings, tracks, growth of error."""

from dataclasses import dataclass
from datetime import datetime
from math import nan
from typing import TYPE_CHECKING, Literal, Self

from passes.errors import InputError
from passes.model._frozen import (
    hold_arrays,
    hold_times,
    hold_tuples,
    hold_vectors,
)
from passes.model.places import Span

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Where an object stands at one time; altitude is geometric (no refraction)."""

    time: datetime
    altitude_deg: float
    azimuth_deg: float
    range_km: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Brightest(Moment):
    """The brightest moment of a passage; magnitudes are V."""

    magnitude: float
    magnitude_above_atmosphere: float
    magnitude_sigma: float
    magnitude_basis: str
    phase_angle_deg: float
    angular_rate_deg_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One stay of one object above the altitude limit, within a window.

    ``id`` is ``<catalog_number>-YYYYMMDDTHHMM``: the highest moment rounded to ten
    minutes, so that fresher elements keep it.  ``rise``, ``culmination`` and ``set``
    are None where they fall outside the window (a flag says so); ``start`` and
    ``end`` always exist.  ``sunlit`` includes the penumbra; ``clear`` lies above the
    site's horizon mask; ``visible`` is what the naked eye can see.
    """

    id: str
    catalog_number: int
    name: str
    designator: str = ""
    object_class: str = "unknown"
    start: datetime
    end: datetime
    rise: Moment | None = None
    culmination: Moment | None = None
    further_culminations: tuple[Moment, ...] = ()
    set: Moment | None = None
    brightest: Brightest | None = None
    sunlit: tuple[Span, ...] = ()
    clear: tuple[Span, ...] = ()
    visible: tuple[Span, ...] = ()
    sun_altitude_deg: float = nan
    moon_separation_deg: float = nan
    timing_sigma_s: float = nan
    timing_bound_s: float = nan
    cross_track_sigma_km: float = nan
    element_age_days: float = nan
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPoint:
    """A place on the star field at one time: astrometric ICRS, and pixels if known."""

    time: datetime
    ra_deg: float
    dec_deg: float
    x_px: float = nan
    y_px: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One run of one object through a field; entry and exit of the whole field.

    ``position_angle_deg`` is the direction of motion, north through east;
    ``lit_fraction`` the part of the Sun's disc the object sees at closest approach.
    """

    catalog_number: int
    name: str
    object_class: str = "unknown"
    entry: FieldPoint
    exit: FieldPoint
    closest: FieldPoint
    closest_deg: float
    angular_rate_deg_s: float
    position_angle_deg: float
    range_km: float
    altitude_deg: float = nan
    azimuth_deg: float = nan
    sunlit: bool = False
    lit_fraction: float = nan
    phase_angle_deg: float = nan
    magnitude: float = nan
    magnitude_above_atmosphere: float = nan
    magnitude_sigma: float = nan
    magnitude_basis: str = ""
    timing_sigma_s: float = nan
    timing_bound_s: float = nan
    cross_track_sigma_km: float = nan
    element_age_days: float = nan
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineOfSight:
    """Where something looks, and the field around it: a disc or a rectangle.

    Build one with :meth:`of_field` (fixed among the stars), :meth:`of_path` (moving)
    or :meth:`of_body` (the Moon, the Sun or a planet, its own disc being the field;
    the engine fills in the places).  Directions are astrometric ICRS; ``time_s``
    counts from ``start``; a fixed field has one direction and no times.
    """

    start: datetime | None = None
    time_s: "Floats | None" = None
    ra_deg: "Floats | None" = None
    dec_deg: "Floats | None" = None
    body: str = ""
    radius_deg: float = nan
    width_deg: float = nan
    height_deg: float = nan
    position_angle_deg: float = 0.0

    def __post_init__(self) -> None:
        hold_times(self, "start")
        hold_arrays(self, time_s="float64", ra_deg="float64", dec_deg="float64")

    @classmethod
    def of_field(
        cls,
        ra_deg: float,
        dec_deg: float,
        *,
        radius_deg: float = nan,
        width_deg: float = nan,
        height_deg: float = nan,
        position_angle_deg: float = 0.0,
    ) -> Self:
        """A field fixed among the stars: a disc, or a rectangle turned by an angle."""
        if not (radius_deg > 0 or (width_deg > 0 and height_deg > 0)):
            raise InputError(
                "a field needs a radius, or a width and a height, above 0°"
            )
        return cls(
            ra_deg=[ra_deg],  # type: ignore[arg-type]
            dec_deg=[dec_deg],  # type: ignore[arg-type]
            radius_deg=radius_deg,
            width_deg=width_deg,
            height_deg=height_deg,
            position_angle_deg=position_angle_deg,
        )

    @classmethod
    def of_path(
        cls,
        start: datetime,
        time_s: "Floats",
        ra_deg: "Floats",
        dec_deg: "Floats",
        *,
        radius_deg: float,
    ) -> Self:
        """A disc that moves among the stars, given at times from ``start``."""
        return cls(
            start=start,
            time_s=time_s,
            ra_deg=ra_deg,
            dec_deg=dec_deg,
            radius_deg=radius_deg,
        )

    @classmethod
    def of_body(cls, body: str, *, radius_deg: float = nan) -> Self:
        """The disc of a body; a radius, if given, replaces the body's own."""
        return cls(body=body.lower(), radius_deg=radius_deg)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """One object sampled along a stretch of time; every array is ``(n,)``.

    ``time_s`` counts from ``start``.  Altitude is geometric; RA and Dec are
    astrometric ICRS, and of date beside them.  Rates are true topocentric rates
    per second; ``hour_angle_deg`` grows westward.  nan is unknown.  Where they are
    given, ``position_icrs_km`` and ``velocity_icrs_km_s`` ``(n, 3)`` are the object's
    own, about the Earth's centre.
    """

    catalog_number: int
    name: str
    start: datetime
    site_name: str = ""
    object_class: str = "unknown"
    time_s: "Floats"
    azimuth_deg: "Floats"
    altitude_deg: "Floats"
    refracted_altitude_deg: "Floats"
    range_km: "Floats"
    ra_icrs_deg: "Floats"
    dec_icrs_deg: "Floats"
    ra_of_date_deg: "Floats"
    dec_of_date_deg: "Floats"
    hour_angle_deg: "Floats"
    angular_rate_deg_s: "Floats"
    azimuth_rate_deg_s: "Floats"
    altitude_rate_deg_s: "Floats"
    hour_angle_rate_deg_s: "Floats"
    dec_rate_deg_s: "Floats"
    azimuth_acceleration_deg_s2: "Floats"
    altitude_acceleration_deg_s2: "Floats"
    hour_angle_acceleration_deg_s2: "Floats"
    dec_acceleration_deg_s2: "Floats"
    phase_angle_deg: "Floats"
    lit_fraction: "Floats"
    magnitude: "Floats"
    magnitude_above_atmosphere: "Floats"
    magnitude_sigma: "Floats"
    sun_separation_deg: "Floats"
    sun_altitude_deg: "Floats"
    moon_separation_deg: "Floats"
    timing_sigma_s: float = nan
    timing_bound_s: float = nan
    cross_track_sigma_km: float = nan
    element_age_days: float = nan
    magnitude_basis: str = ""
    flags: tuple[str, ...] = ()
    designator: str = ""
    position_icrs_km: "Floats | None" = None
    velocity_icrs_km_s: "Floats | None" = None

    def __post_init__(self) -> None:
        hold_times(self, "start")
        hold_tuples(self, "flags")
        hold_arrays(self, **dict.fromkeys(TRACK_ARRAYS, "float64"))
        hold_vectors(self, self.time_s.size, "position_icrs_km", "velocity_icrs_km_s")


#: The array columns of a track, in the order in which they are listed.
TRACK_ARRAYS = tuple(
    name for name, annotation in Track.__annotations__.items() if annotation == "Floats"
)


GrowthBasis = Literal[
    "class_sigma", "class_fitted", "own_history", "ephemeris", "measured"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """How the error of one object's prediction grows with the age of its elements.

    At ``age`` days the timing sigma is ``hypot(sigma0_s, sigma1_s · age ** power)``
    and the 95 % bound likewise, with ``bound_power`` where that is not nan; across the
    track ``hypot(cross0_km, cross1_km · age)``.
    """

    basis: GrowthBasis = "class_sigma"
    sigma0_s: float
    sigma1_s: float
    bound0_s: float
    bound1_s: float
    power: float = 1.0
    cross0_km: float = nan
    cross1_km: float = nan
    manoeuvres: bool = False
    bound_power: float = nan
