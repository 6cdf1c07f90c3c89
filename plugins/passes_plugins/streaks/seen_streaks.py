"""From an image and pixels, or places and times, to a streak."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, isfinite, isnan

import numpy as np

from passes import field as plane
from passes.contributions import Services
from passes.errors import InputError
from passes.model import Span
from passes.plans import sexagesimal_deg
from passes_plugins.streaks.candidates import Streak
from passes_plugins.streaks.frames import Frame
from passes_plugins.streaks.from_files import Recorded, recorded

#: An end is measured to so many pixels.
_END_PX = 2.0
#: Within so many pixels of an edge, or this part of the longer side, it is cut by it:
#: few streaks are measured to the last pixel (common practice, no source).
_EDGE_PX, _EDGE = 6.0, 0.01


def numbers(text: str, what: str) -> tuple[float, float]:
    """``X,Y`` as two numbers; InputError for anything else."""
    parts = text.split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError:
        raise InputError(f"{what}: want X,Y, not {text!r}") from None
    if not (np.isfinite(x) and np.isfinite(y)):
        raise InputError(f"{what}: {text!r} is no place")
    return x, y


def place(text: str) -> tuple[float, float]:
    """``RA,DEC`` in degrees, or sexagesimal (hours for RA); InputError otherwise."""
    parts = text.split(",")
    if len(parts) != 2:
        raise InputError(f"--radec: want RA,DEC, not {text!r}")
    angles = []
    for part, hours in zip(parts, (True, False), strict=True):
        try:
            angles.append(float(part))
        except ValueError:
            angles.append(sexagesimal_deg(part.strip(), "--radec", hours=hours))
    ra, dec = angles
    if not 0.0 <= ra <= 360.0 or not -90.0 <= dec <= 90.0:
        raise InputError(f"--radec: RA {ra:g}°, Dec {dec:g}° is no place on the sky")
    return ra % 360.0, dec


def read_images(
    paths: Sequence[str], services: Services, *, site_named: bool, rig_name: str
) -> tuple[list[Recorded], list[str]]:
    """Each image by itself, and what is to be said; InputError for a useless one."""
    rig = services.rig(rig_name) if rig_name else None
    images, told = [], []
    for path in paths:
        one = recorded([path], services, rig=rig, site_named=site_named)
        told += one.complaints
        told += [f"{path}: {note.text}" for note in one.notes]
        if not one.session.subs:
            raise InputError("; ".join(one.complaints) or f"{path}: cannot be used")
        images.append(one)
    return images, told


def of_image(
    image: Recorded,
    ends: tuple[tuple[float, float], tuple[float, float]],
    clock_sigma_s: float,
) -> Streak:
    """The streak between two pixels (counted as FITS counts them) of an image."""
    sub = image.session.subs[0]
    frame = image.frames[sub.index]
    (first, second) = (_cut(frame, *end) for end in ends)
    jitter = sub.start_jitter_s
    measured_deg = _END_PX * frame.scale_arcsec_px / 3600.0
    return Streak(
        ends=(_sky(frame, *ends[0]), _sky(frame, *ends[1])),
        start=sub.start,
        exposure_s=sub.exposure_s,
        cut=(first, second),
        sigma_deg=hypot(measured_deg, frame.loose_deg),
        field_deg=min(frame.size_deg),
        clock_sigma_s=hypot(clock_sigma_s, 0.0 if isnan(jitter) else jitter),
        path=sub.path or "",
    )


def _cut(frame: Frame, x: float, y: float) -> bool:
    """Whether the frame's edge ends a streak there; InputError for outside of it."""
    wide, high = frame.size_px
    inside = min(x - 0.5, wide + 0.5 - x, y - 0.5, high + 0.5 - y)
    if inside < -_EDGE_PX:
        raise InputError(f"--ends: {x:g},{y:g} lies outside the {wide} × {high} px")
    return inside <= max(_EDGE_PX, _EDGE * max(wide, high))


def upside_down(
    image: Recorded, ends: tuple[tuple[float, float], tuple[float, float]]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The same ends if their rows were counted from the top."""
    frame = image.frames[image.session.subs[0].index]
    (x1, y1), (x2, y2) = ends
    return (x1, frame.height_px + 1.0 - y1), (x2, frame.height_px + 1.0 - y2)


def of_places(
    ends: tuple[tuple[float, float], tuple[float, float]],
    window: Span,
    cut: tuple[bool, bool],
    clock_sigma_s: float,
) -> Streak:
    """The streak between two places, the shutter open for all of a window."""
    exposure_s = window.duration_s
    if exposure_s > 86400.0:
        raise InputError("--from and --to: no exposure is longer than a day")
    return Streak(
        ends=ends,
        start=window.start,
        exposure_s=exposure_s,
        cut=cut,
        clock_sigma_s=clock_sigma_s,
    )


def _sky(frame: Frame, x: float, y: float) -> tuple[float, float]:
    """RA and Dec of a pixel: the frame's own, corrected until its pixels agree."""
    at_x, at_y = x, y
    for _ in range(12):
        right, up = plane.from_pixels(at_x, at_y, frame.scale_arcsec_px, frame.size_px)
        ra, dec = frame.sky(right, up)
        px, py = (float(value) for value in frame.pixels(ra, dec))
        if hypot(x - px, y - py) < 1e-3:
            break
        at_x, at_y = at_x + x - px, at_y + y - py
    if not (isfinite(at_x) and isfinite(at_y)):
        raise InputError(f"--ends: the plate solution gives no place to {x:g},{y:g}")
    return float(ra), float(dec)


def around(streaks: Sequence[Streak]) -> Span:
    """From the first exposure's start to the last one's end."""
    return Span(
        start=min(one.start for one in streaks),
        end=max(one.end for one in streaks),
    )
