"""Invented places and tools: a site, its night, rigs, and a session there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from passes.model import (
    Filter,
    Gain,
    Mount,
    Night,
    Rig,
    Session,
    Site,
    Span,
    Sub,
    Target,
    VideoMode,
)

_SUNSET = datetime(2031, 10, 12, 2, 33, 10, tzinfo=UTC)


def site(**fields: Any) -> Site:
    """A hill in the North Pacific, with trees to the north."""
    return replace(
        Site(
            name="sample-hill",
            latitude_deg=45.0,
            longitude_deg=-140.0,
            height_m=1200.0,
            zone="Etc/GMT+9",
            horizon=((0.0, 12.0), (90.0, 5.0), (180.0, 2.0), (270.0, 5.0)),
            seeing_arcsec=2.0,
            sky_mag_arcsec2=21.6,
            extinction_mag=0.2,
        ),
        **fields,
    )


def night(**fields: Any) -> Night:
    """An autumn night with full darkness and a Moon that rises late."""

    def span(start_min: float, end_min: float) -> Span:
        start, end = timedelta(minutes=start_min), timedelta(minutes=end_min)
        return Span(start=_SUNSET + start, end=_SUNSET + end)

    return replace(
        Night(
            site=site(),
            date=date(2031, 10, 11),
            window=span(0.0, 768.0),
            civil=span(29.0, 739.0),
            nautical=span(63.0, 705.0),
            dark=span(96.0, 672.0),
            moon_up=(span(412.0, 768.0),),
            moon_illuminated=0.21,
            moon_altitude_deg=-31.0,
        ),
        **fields,
    )


def rig(**fields: Any) -> Rig:
    """A long telescope with a video camera, on a mount that can follow."""
    return replace(
        Rig(
            name="long",
            focal_length_mm=2000.0,
            pixel_um=2.9,
            width_px=1920,
            height_px=1080,
            aperture_mm=200.0,
            obstruction=0.34,
            quantum_efficiency=0.8,
            gains=(
                Gain(
                    name="200",
                    electrons_per_adu=0.6,
                    read_noise_e=1.4,
                    full_well_e=9000.0,
                ),
            ),
            filters=(Filter(name="red", centre_nm=640.0, width_nm=100.0, peak=0.95),),
            modes=(
                VideoMode(
                    name="full",
                    width_px=1920,
                    height_px=1080,
                    frame_rate_hz=160.0,
                    line_time_us=5.7,
                    shutter="rolling",
                    shortest_exposure_s=3.2e-5,
                    bytes_per_px=1.0,
                ),
            ),
            link_mb_s=380.0,
            write_mb_s=900.0,
            buffer_mb=256.0,
            free_gb=300.0,
            mount=Mount(
                kind="alt-azimuth",
                rate_limits_deg_s=(6.0, 6.0),
                acceleration_limits_deg_s2=(3.0, 3.0),
                follows_satellites=True,
                tracking_error_arcsec=20.0,
                shake_arcsec=1.0,
                shake_hz=8.0,
            ),
        ),
        **fields,
    )


def bare_rig(name: str = "bare") -> Rig:
    """A rig of which only what is needed is known; all the rest is nan."""
    return Rig(
        name=name, focal_length_mm=50.0, pixel_um=4.0, width_px=6000, height_px=4000
    )


def target(**fields: Any) -> Target:
    """A deep-sky field high in the evening sky."""
    record = Target(name="sample-field", ra_deg=310.0, dec_deg=40.0)
    return replace(record, **fields)


def session(**fields: Any) -> Session:
    """Three subs of five minutes each, the first one over at the sample passage."""
    first = datetime(2031, 10, 12, 4, 25, 10, tzinfo=UTC)
    subs = tuple(
        Sub(
            index=i,
            start=first + timedelta(seconds=310.0 * i),
            exposure_s=300.0,
            target=target(),
            rig="long",
            filter="red",
            gain="200",
        )
        for i in range(3)
    )
    record = Session(night=night(), rigs=(rig(),), targets=(target(),), subs=subs)
    return replace(record, **fields)
