"""What is to be said of a session beside its verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from passes.model import Note, Site, Sub
from passes_plugins.streaks.exposing import Exposures
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.surroundings import Surroundings

if TYPE_CHECKING:
    from passes_plugins.streaks.assessing import Judged

#: The Sun above this spoils deep-sky subs; end of nautical twilight (convention).
_TWILIGHT_DEG = -12.0

STACKING = (
    "A stack is taken to be an average with rejection of outliers, frame by frame "
    "normalised, of all subs of one target and filter (common practice)."
)


def remarks_on(
    subs: Sequence[Sub],
    frames: Mapping[int, Frame],
    judged: Sequence[Judged],
    site: Site,
    around: Surroundings,
    exposures: Exposures,
) -> list[Note]:
    """Horizon, daylight, unknown rigs, stand-ins, doubtful times."""
    return [
        *_horizon(subs, site, around),
        *_daylight(subs, around),
        *_frameless(subs, frames),
        *_full_of_sky(subs, exposures),
        *_doubtful(judged),
        *(Note(text=f"Assumed: {text}.") for text in exposures.assumed),
    ]


def _mask_deg(site: Site, azimuth_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    if not site.horizon:
        return np.zeros_like(azimuth_deg)
    corners = np.array(site.horizon, dtype=np.float64)
    return np.interp(azimuth_deg, corners[:, 0], corners[:, 1], period=360.0)


def _horizon(subs: Sequence[Sub], site: Site, around: Surroundings) -> list[Note]:
    """Subs whose field is down, or behind the site's own horizon."""
    altitude = np.degrees(around.altitude_rad)
    down = altitude < 0.0
    mask = _mask_deg(site, np.degrees(around.azimuth_rad))
    hidden = ~down & (altitude < mask)
    notes = []
    if down.any():
        notes.append(
            Note(
                text=f"The field is below the horizon in {_some(down, subs)}.",
                severity="warning",
                values={"subs": int(down.sum())},
            )
        )
    if hidden.any():
        notes.append(
            Note(
                text="The field is behind the site's horizon in "
                f"{_some(hidden, subs)}.",
                severity="caution",
                values={"subs": int(hidden.sum())},
            )
        )
    return notes


def _daylight(subs: Sequence[Sub], around: Surroundings) -> list[Note]:
    sun = np.degrees(around.sun_altitude_rad)
    day = sun > -0.833
    dusk = ~day & (sun > _TWILIGHT_DEG)
    notes = []
    if day.any():
        notes.append(
            Note(
                text=f"The Sun is up in {_some(day, subs)}: mind the optics, and "
                "check the times.",
                severity="warning",
                values={"subs": int(day.sum())},
            )
        )
    if dusk.any():
        notes.append(
            Note(
                text=f"The Sun is less than 12° down in {_some(dusk, subs)}.",
                severity="caution",
                values={"subs": int(dusk.sum())},
            )
        )
    return notes


def _full_of_sky(subs: Sequence[Sub], exposures: Exposures) -> list[Note]:
    """Subs whose pixels the sky alone fills: every trail counts as saturated there."""
    full = exposures.sky_e_s * exposures.exposure_s >= exposures.full_well_e
    if not full.any():
        return []
    return [
        Note(
            text=f"The sky alone fills the pixels in {_some(full, subs)}: take shorter "
            "subs, or another gain.",
            severity="caution",
            values={"subs": int(full.sum())},
        )
    ]


def _some(which: NDArray[np.bool_], subs: Sequence[Sub]) -> str:
    """``3 of 96 subs (94 to 96)``."""
    found = [sub.index for sub, there in zip(subs, which, strict=True) if there]
    if len(found) == len(subs):
        return "every sub" if len(found) > 1 else "the only sub"
    return f"{len(found)} of {len(subs)} subs ({found[0]} to {found[-1]})"


def _frameless(subs: Sequence[Sub], frames: Mapping[int, Frame]) -> list[Note]:
    lost = [sub for sub in subs if sub.index not in frames]
    if not lost:
        return []
    return [
        Note(
            text=f"{len(lost)} of {len(subs)} subs have no known rig, so no field: "
            "they are not judged.",
            severity="warning",
        )
    ]


def _doubtful(judged: Sequence[Judged]) -> list[Note]:
    """Crossings that may belong to another sub than the one named, or come in."""
    best = _chances(judged, beside=False)
    unsure = sum(chance < 0.9 for chance in best)
    notes = []
    if unsure:
        text = (
            f"{unsure} of {len(best)} lit crossings may fall beside the sub they are "
            "listed with: see their chances."
        )
        notes.append(Note(text=text))
    near = _chances(judged, beside=True)
    if near:
        text = (
            "Beside the frame, but perhaps in it by their own error: "
            f"{len(near)} lit crossing{'' if len(near) == 1 else 's'}, the likeliest "
            f"with a chance of {100.0 * max(near):.0f} %."
        )
        notes.append(Note(text=text, values={"crossings": len(near)}))
    return notes


def _chances(judged: Sequence[Judged], *, beside: bool) -> list[float]:
    """The best chance of each lit crossing, of those in the frame or beside it."""
    best: dict[int, float] = {}
    for one in judged:
        for mark in one.marks:
            past = "beside_frame" in mark.crossing.flags
            if mark.verdict and past is beside:
                key = id(mark.crossing)
                best[key] = max(best.get(key, 0.0), mark.chance)
    return list(best.values())
