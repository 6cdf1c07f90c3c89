"""An adviser: the exposure during which the image moves by one pixel.

Image scale over angular rate, at the fastest and at the best moment, on a mount that
stands still; and, if the mount follows satellites, image scale over the rate at which
its error builds up.  Light, diffraction, seeing and shake are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import isnan, nan
from typing import TYPE_CHECKING, Any

from passes.contributions import Adviser
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    from datetime import datetime

    from passes.contributions import Briefing
    from passes.model import Advice, Note, Pointing, Rig, Track

#: Time in which a following mount's error is taken to build up to its full size.
#: Common practice, no source: makers state the size of the error, not how fast it is.
ERROR_GROWS_IN_S = 1.0
#: Nearer than this to a risen Sun the advice carries a warning (common practice).
SUN_NEAR_DEG = 30.0
#: A Sun with its upper limb on the horizon stands this low (USNO's definition).
SUN_RISEN_DEG = -50.0 / 60.0
MOST_ROWS = 13


@dataclass(frozen=True, slots=True)
class Limits:
    """Exposures that move the image by one pixel, s; nan is unknown."""

    fastest_s: float
    best_s: float
    following_s: float

    def choose(self, shortest_s: float) -> tuple[float, str]:
        """The exposure to use and what binds it, given the camera's shortest."""
        exposure_s, limit = self.fastest_s, "motion"
        if self.following_s > _or_zero(exposure_s):  # never worse than standing still
            exposure_s, limit = self.following_s, "tracking"
        if shortest_s > exposure_s:
            exposure_s, limit = shortest_s, "camera"
        return exposure_s, "" if isnan(exposure_s) else limit


def advise(briefing: Briefing) -> Advice:
    """The longest exposure without smear of more than a pixel, for the whole pass."""
    from passes.model import Advice

    rig, track = briefing.rig, briefing.track
    start, best, stop = _when(briefing)
    limits = _limits(rig, track, _seconds(track, best))
    shortest_s = min(_known(m.shortest_exposure_s for m in rig.modes), default=nan)
    exposure_s, limit = limits.choose(shortest_s)
    return Advice(
        rig=rig.name,
        subject=_subject_id(briefing),
        adviser="freeze",
        image_scale_arcsec_px=rig.scale_arcsec_px,
        exposure_s=exposure_s,
        frame_rate_hz=_frame_rate_hz(rig, exposure_s),
        start=start,
        stop=stop,
        pointing=_pointing(track, best),
        limit=limit,
        notes=tuple(_notes(briefing, limits, exposure_s, limit)),
        table=tuple(_rows(rig, track)),
    )


# --- arithmetic --------------------------------------------------------------


def still_exposure_s(scale_arcsec_px: float, rate_deg_s: float) -> float:
    """Exposure in which an image moves by one pixel, s; nan if it does not move."""
    return scale_arcsec_px / (rate_deg_s * 3600.0) if rate_deg_s > 0.0 else nan


def following_exposure_s(scale_arcsec_px: float, error_arcsec: float) -> float:
    """The same on a mount that follows with an error, s (see ERROR_GROWS_IN_S)."""
    return (
        scale_arcsec_px * ERROR_GROWS_IN_S / error_arcsec if error_arcsec > 0 else nan
    )


def _limits(rig: Rig, track: Track, best_s: float) -> Limits:
    import numpy as np

    rates = track.angular_rate_deg_s
    known = np.isfinite(rates)
    fastest, at_best = nan, nan
    if known.any():
        fastest = float(rates[known].max())
        at_best = float(
            np.interp(best_s, track.time_s[known], rates[known], left=nan, right=nan)
        )
    error = rig.mount.tracking_error_arcsec if rig.mount.follows_satellites else nan
    scale = rig.scale_arcsec_px
    return Limits(
        fastest_s=still_exposure_s(scale, fastest),
        best_s=still_exposure_s(scale, at_best),
        following_s=following_exposure_s(scale, error),
    )


def _frame_rate_hz(rig: Rig, exposure_s: float) -> float:
    """Frames follow each other without a gap, or as fast as the camera can."""
    fastest = max(_known(mode.frame_rate_hz for mode in rig.modes), default=nan)
    if isnan(fastest) or isnan(exposure_s):
        return nan
    return min(fastest, 1.0 / exposure_s)


def _known(values: Iterable[float]) -> list[float]:
    return [value for value in values if value > 0.0]


# --- the subject -------------------------------------------------------------


def _when(briefing: Briefing) -> tuple[datetime, datetime, datetime]:
    """Start, best moment and end of a passage, a crossing or an event."""
    from passes.model import Crossing, Event

    subject = briefing.subject
    if isinstance(subject, Event):
        return subject.start, subject.best, subject.end
    if isinstance(subject, Crossing):
        return subject.entry.time, subject.closest.time, subject.exit.time
    best = subject.brightest or subject.culmination
    middle = subject.start + (subject.end - subject.start) / 2
    return subject.start, best.time if best else middle, subject.end


def _subject_id(briefing: Briefing) -> str:
    subject: Any = briefing.subject
    return getattr(subject, "id", "") or f"{subject.catalog_number}-crossing"


def _seconds(track: Track, time: datetime) -> float:
    return (time - track.start).total_seconds()


def _pointing(track: Track, best: datetime) -> Pointing | None:
    """Where the object stands at the sample next to the best moment."""
    import numpy as np

    from passes.model import Pointing

    at_s = _seconds(track, best)
    if not len(track.time_s) or not track.time_s[0] <= at_s <= track.time_s[-1]:
        return None
    i = int(np.abs(track.time_s - at_s).argmin())
    return Pointing(
        time=_time(track, i),
        azimuth_deg=float(track.azimuth_deg[i]),
        altitude_deg=float(track.altitude_deg[i]),
        refracted_altitude_deg=float(track.refracted_altitude_deg[i]),
        ra_icrs_deg=float(track.ra_icrs_deg[i]),
        dec_icrs_deg=float(track.dec_icrs_deg[i]),
        ra_of_date_deg=float(track.ra_of_date_deg[i]),
        dec_of_date_deg=float(track.dec_of_date_deg[i]),
    )


def _time(track: Track, i: int) -> datetime:
    from datetime import timedelta

    return track.start + timedelta(seconds=float(track.time_s[i]))


def _rows(rig: Rig, track: Track) -> Iterator[dict[str, float | str]]:
    """A few moments along the track, with the exposure that each would allow."""
    n = len(track.time_s)
    rows = min(n, MOST_ROWS)
    for k in range(rows):
        i = round(k * (n - 1) / max(rows - 1, 1))
        rate = float(track.angular_rate_deg_s[i])
        yield {
            "time": _time(track, i).isoformat(timespec="milliseconds")[:-6] + "Z",
            "altitude_deg": float(track.altitude_deg[i]),
            "angular_rate_deg_s": rate,
            "exposure_s": still_exposure_s(rig.scale_arcsec_px, rate),
        }


# --- words -------------------------------------------------------------------


def dial(exposure_s: float) -> str:
    """An exposure as a camera's dial writes it, never longer than it is."""
    from math import ceil, floor, log10

    if exposure_s >= 0.1:
        step = 10.0 ** (floor(log10(exposure_s)) - 1)  # two figures
        return f"{floor(exposure_s / step + 1e-9) * step:.4g} s"
    step = 10.0 ** (floor(log10(1.0 / exposure_s)) - 1)
    return f"1/{ceil(1.0 / exposure_s / step - 1e-9) * step:.0f} s"


def _notes(
    briefing: Briefing, limits: Limits, exposure_s: float, limit: str
) -> Iterator[Note]:
    from passes.model import Note

    if isnan(limits.fastest_s):
        yield Note(
            text="How fast it moves is unknown, so no exposure follows.",
            severity="caution",
        )
    else:
        yield _still_note(limits)
    if briefing.rig.mount.follows_satellites:
        yield _following_note(briefing.rig, limits)
    if limit == "camera" and not isnan(limits.fastest_s):
        moved = exposure_s / max(limits.fastest_s, _or_zero(limits.following_s))
        yield Note(
            text=f"The camera's shortest exposure, {dial(exposure_s)}, "
            f"smears the image over {moved:.1f} px.",
            severity="caution",
            values={"shortest_exposure_s": exposure_s, "smear_px": moved},
        )
    yield Note(
        text="The rate is taken as constant during the exposure; light, diffraction, "
        "seeing and shake are left out.",
    )
    yield from _cautions(briefing)


def _or_zero(value: float) -> float:
    return 0.0 if isnan(value) else value


def _still_note(limits: Limits) -> Note:
    from passes.model import Note

    fastest = dial(limits.fastest_s)
    text = f"On a mount that stands still, up to {fastest} at the fastest moment"
    if not isnan(limits.best_s):
        best = dial(limits.best_s)
        text += f", {'the same' if best == fastest else best} at the best one"
    return Note(
        text=f"{text}.",
        values={"fastest_s": limits.fastest_s, "best_s": limits.best_s},
    )


def _following_note(rig: Rig, limits: Limits) -> Note:
    from passes.model import Note

    error = rig.mount.tracking_error_arcsec
    if isnan(limits.following_s):
        return Note(
            text=f"The mount follows, but how well is unknown: give rig {rig.name} a "
            "tracking error; the exposure is for a mount that stands still.",
            severity="caution",
        )
    return Note(
        text=f"Following, up to {dial(limits.following_s)}, if the mount's error of "
        f"{error:g}″ takes {ERROR_GROWS_IN_S:g} s to build up; rehearse it.",
        values={"following_s": limits.following_s, "tracking_error_arcsec": error},
    )


def _cautions(briefing: Briefing) -> Iterator[Note]:
    from passes.model import Note

    track = briefing.track
    risen = track.sun_altitude_deg > SUN_RISEN_DEG
    near = track.sun_separation_deg[risen & (track.sun_separation_deg < SUN_NEAR_DEG)]
    if near.size:
        yield Note(
            text=f"The path comes within {near.min():.0f}° of the Sun: a certified "
            "full-aperture solar filter on every instrument and finder, or leave it.",
            severity="warning",
            values={"sun_separation_deg": float(near.min())},
        )
    if briefing.rig.mount.follows_satellites:
        yield Note(
            text="A mount that follows moves fast: keep people and cables clear, and "
            "a hand on the stop.",
            severity="caution",
        )


@hookimpl
def passes_advisers() -> Iterator[Adviser]:
    yield Adviser(
        name="freeze",
        summary="The longest exposure before motion smears the image over a pixel.",
        advise=advise,
    )
