"""Places on a disc, in its radii: the dark part, a chip, seconds along a chord."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from passes.model import Rig

Floats = NDArray[np.float64]

_TICKS_S = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)


def spot(position_angle_deg: float, radius: float) -> Floats:
    """A place on the disc, (left is east, up is north), in its radii."""
    angle = np.radians(position_angle_deg)
    return np.array([-np.sin(angle), np.cos(angle)]) * radius


def dark_part(illuminated: float, bright_limb_deg: float) -> tuple[Floats, Floats]:
    """The outline of a body's unlit part: a half limb and the terminator, ``(n,)``.

    The terminator is half an ellipse (the projection of a circle), whose short half
    axis is 1 − 2 × the lit fraction of the disc (geometry).
    """
    angle = np.linspace(0.0, np.pi, 91)
    across = np.concatenate([np.cos(angle), np.cos(angle)[::-1]])
    along = np.concatenate(
        [-np.sin(angle), (1.0 - 2.0 * illuminated) * np.sin(angle)[::-1]]
    )
    bright, side = spot(bright_limb_deg, 1.0), spot(bright_limb_deg + 90.0, 1.0)
    outline = across[:, None] * side + along[:, None] * bright
    return outline[:, 0], outline[:, 1]


def ticks_s(duration_s: float) -> list[float]:
    """Seconds from the middle at which the chord is marked, five or so of them."""
    step = next((s for s in _TICKS_S if duration_s / s <= 6.0), duration_s / 5.0)
    count = int(duration_s / 2.0 / step)
    return [round(i * step, 4) for i in range(-count, count + 1)]


def chip_outline(details: Any, rig: Rig) -> Floats:
    """Corners of the chip in radii, ``(4, 2)``: about the disc, or where it is crossed.

    A chip smaller than the disc is put on the middle of the chord.
    """
    radius_deg = float(details["disc_diameter_arcsec"]) / 7200.0
    width, height = (0.5 * side / radius_deg for side in rig.field_deg)
    up, right = spot(rig.rotation_deg, 1.0), spot(rig.rotation_deg - 90.0, 1.0)
    centre = np.zeros(2)
    if min(width, height) < 1.0:
        centre = spot(details["offset_position_angle_deg"], details["offset_radii"])
    return np.array(
        [
            centre + a * width * right + b * height * up
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )
