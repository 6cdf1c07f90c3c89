"""One advice in a few words."""

from __future__ import annotations

from datetime import tzinfo
from math import isfinite
from typing import TYPE_CHECKING, Any

from passes.tables import clock, compass

if TYPE_CHECKING:
    from passes.model import Advice


def shooting(advice: Advice, local: tzinfo) -> dict[str, Any]:
    """Rig, settings, when to record, where to point; what is unknown is left out."""
    settings = []
    if isfinite(advice.exposure_s) and advice.exposure_s > 0.0:
        settings.append(shutter(advice.exposure_s))
    if isfinite(advice.frame_rate_hz):
        settings.append(f"{advice.frame_rate_hz:.3g} frames/s")
    if advice.gain:
        settings.append(f"gain {advice.gain}")
    if advice.region_px:
        settings.append(f"{advice.region_px[0]} × {advice.region_px[1]} px")
    when = ""
    if advice.start is not None and advice.stop is not None:
        when = f"{clock(advice.start, local, 1.0)}–{clock(advice.stop, local, 1.0)}"
    return {
        "rig": advice.rig,
        "adviser": advice.adviser,
        "settings": ", ".join(settings),
        "when": when,
        "where": _where(advice, local),
    }


def _where(advice: Advice, local: tzinfo) -> str:
    point = advice.pointing
    if point is None or not isfinite(point.azimuth_deg):
        return ""
    altitude = point.refracted_altitude_deg
    if not isfinite(altitude):
        altitude = point.altitude_deg
    words = f"azimuth {point.azimuth_deg:.1f}° ({compass(point.azimuth_deg)})"
    words += f", altitude {altitude:.1f}°"
    return words + (f" at {clock(point.time, local, 1.0)}" if point.time else "")


def shutter(exposure_s: float) -> str:
    """A shutter as on a camera."""
    if exposure_s < 0.5:
        return f"1/{1.0 / exposure_s:.0f} s"
    return f"{exposure_s:.3g} s"
