"""What binds the shutter, how full the pixels get, what would help."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes import sensor
from passes.model import Note
from passes_plugins.imaging.cautions import note
from passes_plugins.imaging.shot import changes, dial, dialled_s
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case

_LIMIT_WORDS = {
    "motion": "the object's own motion",
    "tracking": "the mount's following error",
    "shake": "the shake of the platform",
    "light": "light: a longer one overfills the pixels",
    "camera": "the camera, which has no shorter one",
    "": "nothing that is known",
}


def binding(case: Case) -> Iterator[Note]:
    """What binds the shutter, and what to change where motion and light disagree."""
    shot = case.shot
    if shot is None:
        return
    text = f"The shutter is bound by {_LIMIT_WORDS[shot.limit]}"
    if isfinite(shot.motion_s):
        text += (
            f"; blur stays below {case.bench.allowed_arcsec:.2f}″ up to "
            f"{dial(shot.motion_s)}"
        )
    i = case.best
    ways = {
        "standing still": "fixed",
        "with the stars": "stars",
        "following": "follow",
    }
    others = [
        f"{name} {dial(dialled_s(float(case.scene.exposures_s[way][i])))}"
        for name, way in ways.items()
        if isfinite(case.scene.exposures_s[way][i]) and _may(case, way)
    ]
    if others:
        text += f" ({', '.join(others)})"
    yield note("why", f"{text}.", motion_limit_s=shot.motion_s)
    if isfinite(shot.level_e) and shot.level_e > 0.0:
        yield _level(case)
    alone = disc_of(case.briefing.subject) is None
    told = changes(case.bench, shot, case.choices, may_follow=alone)
    if told:
        lack = "too bright" if shot.fill > case.choices.fill else "faint"
        yield note("why", f"The image is {lack}; what helps: {'; '.join(told)}.")
    yield from _skew(case)


def _may(case: Case, way: str) -> bool:
    """Whether the mount can do that at all."""
    carrier = case.bench.rig.mount
    if way == "follow":
        return carrier.follows_satellites or case.way == "follow"
    return way == "fixed" or carrier.kind != "fixed"


def _level(case: Case) -> Note:
    shot = case.shot
    assert shot is not None
    text = (
        f"Light: about {count(shot.level_e)} e⁻ a pixel, {count(100 * shot.fill)} % "
        f"of the well of {shot.gain.full_well_e:,.0f} e⁻ (asked for at most "
        f"{100 * case.choices.fill:.0f} %, which would take {dial(shot.light_s)}); "
        f"{max(shot.headroom_mag, 0.0):.1f} mag of head-room; "
        f"signal-to-noise {shot.snr:.1f} a pixel and frame"
    )
    if shot.headroom_mag < case.choices.glint_mag:
        text += f"; glints {case.choices.glint_mag:g} mag brighter clip"
    if shot.sky_e > 0.1 * shot.level_e:
        text += f"; {count(shot.sky_e)} e⁻ of that are sky"
    return note("why", f"{text}.", electrons_px=shot.level_e, snr_px=shot.snr)


def count(value: float) -> str:
    """Two figures, never with an exponent."""
    if not isfinite(value) or value <= 0.0:
        return "0" if value == 0.0 else "an unknown number of"
    digits = 1 - int(np.floor(np.log10(value)))
    return f"{round(value, digits):,.{max(digits, 0)}f}"


def _skew(case: Case) -> Iterator[Note]:
    mode, shot = case.bench.mode, case.shot
    if mode is None or mode.shutter != "rolling" or isnan(mode.line_time_us):
        return
    assert shot is not None
    rate = float(case.scene.rates_arcsec_s[shot.way][case.best])
    size = float(case.scene.size_px(case.bench)[case.best])
    if not (isfinite(rate) and isfinite(size)):
        return
    rows = min(size, case.bench.region_px[1])
    skew = float(
        sensor.skew_px(mode.line_time_us, rows, rate / case.bench.scale_arcsec)
    )
    what = "which leans it visibly: mend it afterwards" if skew > 1.0 else "not seen"
    yield note(
        "why",
        f"The rolling shutter skews the object by {skew:.1f} px over its "
        f"{rows:.0f} rows, {what}.",
        skew_px=skew,
    )
