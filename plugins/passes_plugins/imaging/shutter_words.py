"""What binds the shutter, how full the pixels get, what would help."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes.model import Note
from passes_plugins.imaging import details
from passes_plugins.imaging.cautions import note
from passes_plugins.imaging.dial import dial, dialled_s
from passes_plugins.imaging.remedies import Option, helpful
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.shot import Shot

_LIMIT_WORDS = {
    "motion": "the object's own motion",
    "tracking": "the mount's following error",
    "shake": "the shake of the platform",
    "light": "light",
    "seeing": "the seeing",
    "camera": "the camera, which has no shorter one",
    "": "nothing that is known",
}
#: A lean of the object by less than this is not seen, px.
_SKEW_SEEN_PX = 1.0


def binding(case: Case) -> Iterator[Note]:
    """What binds the shutter, how full the well gets, and what would help."""
    shot = case.shot
    if shot is None:
        return
    yield note(
        "why",
        f"The shutter is bound by {_LIMIT_WORDS[shot.limit]}: {_limits(case, shot)}.",
        motion_limit_s=shot.motion_s,
        coherence_s=shot.holds_s,
    )
    if isfinite(shot.level_e) and shot.level_e > 0.0:
        yield _level(case, shot)
    told = helpful(case, case.options)
    if told or _too_bright(case, shot):
        lack = "too bright" if _too_bright(case, shot) else "short"
        words = "; ".join(map(_told, told)) or "a darker filter"
        yield note("why", f"Light is {lack}; what helps: {words}.")
    yield from _skew(case)


def _too_bright(case: Case, shot: Shot) -> bool:
    return shot.fill > case.choices.fullest


def _told(option: Option) -> str:
    shot = option.shot
    return f"{option.what} ({dial(shot.exposure_s)}, {shot_words(shot)})"


def shot_words(shot: Shot) -> str:
    """Gain and signal-to-noise of a shot."""
    gain = f"gain {shot.gain.name}, " if shot.gain.name else ""
    return f"{gain}S/N {count(shot.snr)}"


def _limits(case: Case, shot: Shot) -> str:
    """How long each of blur, seeing and light would let the shutter be."""
    told = []
    if isfinite(shot.motion_s):
        told.append(
            f"blur stays below {case.bench.allowed_arcsec:.2f}″ up to "
            f"{dial(shot.motion_s)}{_other_ways(case)}"
        )
    if isfinite(shot.holds_s):
        done = (
            "which it freezes: keep the sharpest frames"
            if shot.freezes
            else "which it averages over"
        )
        told.append(
            f"the seeing keeps its pattern for {1e3 * shot.holds_s:.1f} ms (wind "
            f"{case.choices.wind_m_s:g} m/s), {done}"
        )
    if isfinite(shot.light_s):
        asked = f"{100 * case.choices.level:.0f} % of the well"
        told.append(f"{asked} {_at_gain(shot)}takes {dial(shot.light_s)}")
    return "; ".join(told) or "no limit is known"


def _at_gain(shot: Shot) -> str:
    return f"at gain {shot.gain.name} " if shot.gain.name else ""


def _other_ways(case: Case) -> str:
    """The same for what else the mount could do."""
    ways = {"standing still": "fixed", "with the stars": "stars", "following": "follow"}
    others = [
        f"{name} {dial(dialled_s(float(case.scene.exposures_s[way][case.best])))}"
        for name, way in ways.items()
        if way != case.way
        and isfinite(case.scene.exposures_s[way][case.best])
        and _may(case, way)
    ]
    return f" ({', '.join(others)})" if others else ""


def _may(case: Case, way: str) -> bool:
    """Whether the mount can do that at all."""
    carrier = case.bench.rig.mount
    if disc_of(case.briefing.subject) is not None:
        return False  # it keeps pace with the disc
    if way == "follow":
        return carrier.follows_satellites or case.way == "follow"
    return way == "fixed" or carrier.kind != "fixed"


def _level(case: Case, shot: Shot) -> Note:
    text = (
        f"Light: {count(shot.level_e)} e⁻ a pixel, {count(100 * shot.fill)} % of a "
        f"well of {shot.gain.full_well_e:,.0f} e⁻; signal-to-noise {count(shot.snr)} a "
        f"pixel and frame{_stacked(case)}"
    )
    if shot.sky_e > 0.1 * shot.level_e:
        text += f"; {count(shot.sky_e)} e⁻ of that are sky"
    return note("why", f"{text}.", electrons_px=shot.level_e, snr_px=shot.snr)


def _stacked(case: Case) -> str:
    """How many frames stack, and what they give."""
    frames, ratio = details.stacked(case)
    if isnan(frames) or disc_of(case.briefing.subject) is not None:
        return ""
    return (
        f", {ratio:.0f} with the {frames:.0f} that stack at most (in "
        f"{details.aspect_s(case):.2f} s its aspect turns by half a resolution element)"
    )


def count(value: float) -> str:
    """Two figures, never with an exponent."""
    if not isfinite(value) or value <= 0.0:
        return "0" if value == 0.0 else "an unknown number of"
    digits = 1 - int(np.floor(np.log10(value)))
    return f"{round(value, digits):,.{max(digits, 0)}f}"


def _skew(case: Case) -> Iterator[Note]:
    skew = details.skew_px(case)
    if skew > _SKEW_SEEN_PX:
        yield note(
            "why",
            f"The rolling shutter leans the object by {skew:.0f} px over its "
            f"{details.rows_px(case):.0f} rows: mend it afterwards.",
            skew_px=skew,
        )
