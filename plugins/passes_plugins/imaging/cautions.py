"""What can hurt, what to do beforehand, and what was assumed (common practice)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from passes import optics
from passes.model import Note, Severity
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case

#: The Sun with its upper limb on the horizon (USNO's definition).
_RISEN_DEG = -50.0 / 60.0


def note(
    section: str, text: str, severity: Severity = "info", **values: float | str | None
) -> Note:
    """A remark that belongs to a part of the page: why, before, caution or missing."""
    known = {
        key: None if isinstance(value, float) and not np.isfinite(value) else value
        for key, value in values.items()
    }
    return Note(text=text, severity=severity, values={"section": section, **known})


def sun_cautions(case: Case) -> Iterator[Note]:
    """The Sun near the path: never followed within a stated angle."""
    track, keep = case.scene.track, case.choices.sun_keep_deg
    risen = (track.sun_altitude_deg > _RISEN_DEG) & (track.altitude_deg > 0.0)
    if not risen.any():
        return
    near = float(np.nanmin(np.where(risen, track.sun_separation_deg, np.nan)))
    text = (
        "The Sun is up: cover telescope and finder while slewing, and never look "
        "through an optic that may meet it."
    )
    if near < keep and not _transits_sun(case):
        text += (
            f" The path comes within {near:.0f}° of it: nothing here follows within "
            f"{keep:.0f}°; a certified full-aperture solar filter on every instrument "
            "and finder, or leave it."
        )
    yield note("caution", text, "warning", sun_separation_deg=near)


def _transits_sun(case: Case) -> bool:
    disc = disc_of(case.briefing.subject)
    return disc is not None and disc.body == "sun"


def cautions(case: Case) -> Iterator[Note]:
    """Sun, moving mount, vehicle, aircraft; local rules come first."""
    yield from sun_cautions(case)
    if case.way == "follow":
        worst = case.following.worst_deg_s if case.following else float("nan")
        worst = float(np.fmin(worst, case.bench.rig.mount.rate_limits_deg_s[0]))
        yield note(
            "caution",
            "A mount that follows moves fast"
            + (f" (up to {worst:.1f}°/s here)" if np.isfinite(worst) else "")
            + ": people and cables clear, a hand on the stop, a dry run first.",
            "caution",
        )
    yield note(
        "caution",
        "On a vehicle: parked off the road, braked, jacked, nobody aboard. No laser "
        "pointer: aircraft. Local rules and licensed practice come first.",
        "caution",
    )


def checklist(case: Case) -> Iterator[Note]:
    """Focus, rehearsal, a steady platform (common practice)."""
    disc = disc_of(case.briefing.subject)
    on, by = "a bright star or the Moon at that height", "a star near"
    if disc is not None:
        on = "the Moon's limb" if disc.body == "moon" else "the Sun's limb, filtered"
        by = "it at"
    yield note("before", f"Focus on {on}{_near_focus(case)}; lock it.")
    if case.trail is not None:
        yield note(
            "before",
            "Tripod low and weighted; level the frame, start by the clock (within "
            "1 s), and try the series on the stars first.",
        )
        return
    yield note(
        "before",
        f"Clock within 0.1 s (satellite time or a time server); sync on {by} the first "
        "pointing; rehearse slew and recording on it with these settings.",
    )
    yield note(
        "before",
        "Platform: jacks down, engine off an hour earlier, nobody aboard or leaning on "
        "it, cables slack, out of the wind; optics at the air's temperature.",
    )


def _near_focus(case: Case) -> str:
    """How far off the focus on the stars is at the object's range."""
    aperture, away = case.bench.rig.aperture_mm, case.scene.track.range_km[case.best]
    blur = float(optics.near_focus_blur_arcsec(aperture, away))
    width = max(case.bench.diffraction_arcsec, case.bench.scale_arcsec)
    if not blur >= 0.5 * width:
        return ""
    return f", then on the object if you can ({blur:.2f}″ off at this range)"


def missing(case: Case) -> Iterator[Note]:
    """What the rig, the object or the site lacks, one line each."""
    for one in (*case.bench.assumed, *case.scene.assumed):
        if case.trail is not None and one.what == "modes":
            continue  # stills need none
        in_rig = not one.what.startswith("the ")
        where = (
            f"rig {case.bench.rig.name}: no {one.what}"
            if in_rig
            else f"{one.what} is unknown"
        )
        yield note(
            "missing",
            f"{where}; assumed: {one.value}; on it hangs: {one.effect}.",
            "caution",
            what=one.what,
        )
