"""Invented sightings that agree with each other: one flight past the sample site."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from passes.model import (
    TRACK_ARRAYS,
    Brightest,
    Crossing,
    Event,
    FieldPoint,
    Growth,
    Moment,
    Passage,
    Pointing,
    Span,
    Track,
)
from passes.testing.places import site

#: When the sample object is nearest: an evening on the sample hill.
BEST = datetime(2031, 10, 12, 4, 30, 0, tzinfo=UTC)
#: From 10° altitude to 10° altitude, seconds either side of the nearest moment.
HALF_S = 308.0


def growth(**fields: Any) -> Growth:
    """The error of an object in low orbit, a value of its class."""
    record = Growth(
        sigma0_s=0.1,
        sigma1_s=0.25,
        bound0_s=0.3,
        bound1_s=0.8,
        power=1.5,
        cross0_km=0.2,
        cross1_km=0.1,
    )
    return replace(record, **fields)


def track(*, step_s: float = 4.0, **fields: Any) -> Track:
    """The sample object's flight past the site, ``(n,)`` samples ``step_s`` apart."""
    import numpy as np

    from passes.testing.flight import fly_past

    start = BEST - timedelta(seconds=HALF_S)
    time_s = np.arange(0.0, 2.0 * HALF_S + 0.5 * step_s, step_s)
    return replace(fly_past(site(), start, time_s, HALF_S), **fields)


def unknown_track() -> Track:
    """The same flight of which only the path is known: every rate and light is nan."""
    import numpy as np

    known = track()
    kept = {"time_s", "azimuth_deg", "altitude_deg", "range_km"}
    others = (name for name in TRACK_ARRAYS if name not in kept)
    unknown: dict[str, Any] = dict.fromkeys(others, np.full(len(known.time_s), np.nan))
    return replace(known, flags=(), **unknown)


def passage(**fields: Any) -> Passage:
    """The passage that the sample track shows."""
    sampled = track()
    first, last = 0, len(sampled.time_s) - 1
    highest = int(sampled.altitude_deg.argmax())
    lit = Span(start=BEST - timedelta(seconds=HALF_S), end=_time(sampled, 123))
    record = Passage(
        id=f"80001-{BEST:%Y%m%dT%H%M}",
        catalog_number=80001,
        name=sampled.name,
        designator="2031-001A",
        object_class=sampled.object_class,
        start=_time(sampled, first),
        end=_time(sampled, last),
        rise=_moment(sampled, first),
        culmination=_moment(sampled, highest),
        set=_moment(sampled, last),
        brightest=_brightest(sampled, highest),
        sunlit=(lit,),
        clear=(Span(start=_time(sampled, first), end=_time(sampled, last)),),
        visible=(lit,),
        sun_altitude_deg=-12.0,
        moon_separation_deg=75.0,
        timing_sigma_s=sampled.timing_sigma_s,
        timing_bound_s=sampled.timing_bound_s,
        cross_track_sigma_km=sampled.cross_track_sigma_km,
        element_age_days=sampled.element_age_days,
        flags=sampled.flags,
    )
    return replace(record, **fields)


def _time(sampled: Track, i: int) -> datetime:
    return sampled.start + timedelta(seconds=float(sampled.time_s[i]))


def _moment(sampled: Track, i: int) -> Moment:
    return Moment(
        time=_time(sampled, i),
        altitude_deg=float(sampled.altitude_deg[i]),
        azimuth_deg=float(sampled.azimuth_deg[i]),
        range_km=float(sampled.range_km[i]),
    )


def _brightest(sampled: Track, i: int) -> Brightest:
    return Brightest(
        time=_time(sampled, i),
        altitude_deg=float(sampled.altitude_deg[i]),
        azimuth_deg=float(sampled.azimuth_deg[i]),
        range_km=float(sampled.range_km[i]),
        magnitude=float(sampled.magnitude[i]),
        magnitude_above_atmosphere=float(sampled.magnitude_above_atmosphere[i]),
        magnitude_sigma=0.7,
        magnitude_basis=sampled.magnitude_basis,
        phase_angle_deg=float(sampled.phase_angle_deg[i]),
        angular_rate_deg_s=float(sampled.angular_rate_deg_s[i]),
    )


def crossing(**fields: Any) -> Crossing:
    """A run of the sample object through the sample field, in the first sub."""

    def point(seconds: float, ra_deg: float, x_px: float) -> FieldPoint:
        time = BEST + timedelta(seconds=seconds)
        return FieldPoint(time=time, ra_deg=ra_deg, dec_deg=40.0, x_px=x_px, y_px=540.0)

    record = Crossing(
        catalog_number=80001,
        name="SAMPLE STATION",
        object_class="station",
        entry=point(-0.1, 309.93, 0.0),
        exit=point(0.1, 310.07, 1920.0),
        closest=point(0.0, 310.0, 960.0),
        closest_deg=0.01,
        angular_rate_deg_s=0.85,
        position_angle_deg=90.0,
        range_km=516.1,
        altitude_deg=54.5,
        azimuth_deg=180.0,
        sunlit=True,
        lit_fraction=1.0,
        phase_angle_deg=90.0,
        magnitude=-1.5,
        magnitude_above_atmosphere=-1.7,
        magnitude_sigma=0.7,
        magnitude_basis="invented",
        timing_sigma_s=0.4,
        timing_bound_s=1.2,
        cross_track_sigma_km=0.3,
        element_age_days=1.5,
        flags=("class_sigma",),
    )
    return replace(record, **fields)


def event(**fields: Any) -> Event:
    """The sample object in front of something, for half a second."""
    record = Event(
        id=f"80001-transit-{BEST:%Y%m%dT%H%M}",
        kind="transit",
        subject="SAMPLE STATION",
        catalog_number=80001,
        start=BEST - timedelta(seconds=0.25),
        best=BEST,
        end=BEST + timedelta(seconds=0.25),
        timing_sigma_s=0.4,
        timing_bound_s=1.2,
        pointing=Pointing(time=BEST, azimuth_deg=180.0, altitude_deg=54.5),
        magnitude=-1.5,
        flags=("class_sigma",),
        details={"body": "moon"},
    )
    return replace(record, **fields)
