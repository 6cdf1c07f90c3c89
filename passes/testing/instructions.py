"""Invented answers for a person or a machine to act on: one advice, the steps of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from passes.model import Advice, Note, Pointing, Step, StepEvent
from passes.testing.sightings import BEST, HALF_S

_POINTING = Pointing(
    time=BEST,
    azimuth_deg=180.0,
    altitude_deg=54.5,
    refracted_altitude_deg=54.51,
)


def advice(**fields: Any) -> Advice:
    """How to shoot the sample passage with the long rig."""
    half = timedelta(seconds=HALF_S)
    record = Advice(
        rig="long",
        subject=f"80001-{BEST:%Y%m%dT%H%M}",
        adviser="sample",
        image_scale_arcsec_px=0.299,
        exposure_s=0.002,
        frame_rate_hz=160.0,
        region_px=(1920, 1080),
        gain="200",
        start=BEST - half,
        stop=BEST + half,
        pointing=_POINTING,
        limit="blur",
        notes=(Note(text="An invented remark.", values={"blur_px": 0.5}),),
    )
    return replace(record, **fields)


def steps() -> tuple[Step, ...]:
    """What a capture script is told for the sample passage: point, start, stop."""

    def step(event: StepEvent, time: datetime, told: dict[str, Any] | None) -> Step:
        return Step(
            id=f"80001-{BEST:%Y%m%dT%H%M}-long-{event}",
            event=event,
            time=time,
            subject="SAMPLE STATION",
            catalog_number=80001,
            rig="long",
            advice=told,
            demo=True,
        )

    half, how = timedelta(seconds=HALF_S), {"exposure_s": 0.002, "gain": "200"}
    where = {"azimuth_deg": 180.0, "altitude_deg": 54.5}
    return (
        step("point", BEST - half - timedelta(seconds=90), where),
        step("start", BEST - half, how),
        step("stop", BEST + half, None),
    )
