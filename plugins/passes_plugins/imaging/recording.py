"""Frames a second, how many, and whether the disk takes them."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan

from passes import sensor
from passes_plugins.imaging.bench import Bench


@dataclass(frozen=True, slots=True)
class Recording:
    """A burst: its rate and what limits it, its frames and its size; nan is unknown."""

    frame_rate_hz: float
    limit: str
    limits_hz: dict[str, float]
    duration_s: float
    gigabytes: float
    fits: bool | None


def recording_of(bench: Bench, exposure_s: float, duration_s: float) -> Recording:
    """The least of what each link of the chain allows; the unknown is left out."""
    rig = bench.rig
    limits = sensor.frame_rate_limits_hz(
        exposure_s=exposure_s,
        read_out_hz=bench.mode.frame_rate_hz if bench.mode else nan,
        frame_mb=bench.frame_mb,
        link_mb_s=rig.link_mb_s,
        write_mb_s=rig.write_mb_s,
        buffer_mb=rig.buffer_mb,
        duration_s=max(duration_s, 0.01),
    )
    known = {name: float(v) for name, v in limits.items() if not isnan(float(v))}
    if set(known) <= {"exposure"}:  # nothing is known of the camera's own speed
        return Recording(nan, "", known, duration_s, nan, None)
    limit = min(known, key=lambda name: known[name])
    gigabytes = known[limit] * duration_s * bench.frame_mb / 1e3
    fits = None if isnan(rig.free_gb) else bool(gigabytes <= rig.free_gb)
    return Recording(known[limit], limit, known, duration_s, gigabytes, fits)
