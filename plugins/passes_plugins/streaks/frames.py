"""What each sub shows of the sky: centre, turn, size, and pixels of places."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import atan, degrees, isclose, radians

import numpy as np
from numpy.typing import NDArray

from passes import field as plane
from passes import vectors
from passes.constants import ARCSEC_PER_RAD
from passes.errors import InputError
from passes.model import LineOfSight, Rig, Session, Sub, Target

Floats = NDArray[np.float64]
ToPixels = Callable[[Floats, Floats], tuple[Floats, Floats]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A frame in the tangent plane about its middle; places are ICRS degrees.

    ``solved`` gives exact pixels (distortion included) where a plate solution is at
    hand; without it the frame is undistorted.  ``loose_deg`` is by how much the middle
    may lie elsewhere along either side: dithers, or a pointing that nobody measured.
    """

    ra_deg: float
    dec_deg: float
    position_angle_deg: float
    width_px: int
    height_px: int
    scale_arcsec_px: float
    mirrored: bool = False
    loose_deg: float = 0.0
    solved: ToPixels | None = field(default=None, compare=False, repr=False)

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.width_px, self.height_px

    @property
    def halves(self) -> tuple[float, float]:
        """Half width and half height in the tangent plane."""
        half = 0.5 * self.scale_arcsec_px / ARCSEC_PER_RAD
        return self.width_px * half, self.height_px * half

    @property
    def size_deg(self) -> tuple[float, float]:
        """Width and height on the sky."""
        right, up = self.halves
        return 2.0 * degrees(atan(right)), 2.0 * degrees(atan(up))

    @property
    def radius_deg(self) -> float:
        """Radius of the circle around the frame."""
        return degrees(atan(float(np.hypot(*self.halves))))

    def line_of_sight(self, aside_deg: float = 0.0) -> LineOfSight:
        """The frame as search B takes it, wider by so much on each side."""
        width, height = (size + 2.0 * aside_deg for size in self.size_deg)
        return LineOfSight.of_field(
            self.ra_deg,
            self.dec_deg,
            width_deg=width,
            height_deg=height,
            position_angle_deg=self.position_angle_deg % 360.0,
        )

    def place(self, ra_deg: Floats, dec_deg: Floats) -> tuple[Floats, Floats]:
        """Right and up in the tangent plane; nan on the far side of the sky."""
        east, north = plane.standard(
            np.radians(ra_deg),
            np.radians(dec_deg),
            radians(self.ra_deg),
            radians(self.dec_deg),
        )
        return plane.in_frame(
            east, north, radians(self.position_angle_deg), self.mirrored
        )

    def sky(self, right: Floats, up: Floats) -> tuple[Floats, Floats]:
        """RA and Dec, degrees, of places in the tangent plane."""
        east, north = plane.from_frame(
            right, up, radians(self.position_angle_deg), self.mirrored
        )
        ra, dec = plane.sky_of(east, north, radians(self.ra_deg), radians(self.dec_deg))
        return np.degrees(ra), np.degrees(dec)

    def pixels(self, ra_deg: Floats, dec_deg: Floats) -> tuple[Floats, Floats]:
        """Pixels, counted as FITS counts them."""
        if self.solved is not None:
            return self.solved(ra_deg, dec_deg)
        right, up = self.place(ra_deg, dec_deg)
        return plane.pixels(right, up, self.scale_arcsec_px, self.size_px)

    def same_field(self, other: Frame) -> bool:
        """Whether both show the same rectangle, upright or turned by 180°."""
        turn = (self.position_angle_deg - other.position_angle_deg) % 180.0
        return (
            self.size_px == other.size_px
            and isclose(self.ra_deg, other.ra_deg, abs_tol=1e-9)
            and isclose(self.dec_deg, other.dec_deg, abs_tol=1e-9)
            and isclose(self.scale_arcsec_px, other.scale_arcsec_px, rel_tol=1e-9)
            and min(turn, 180.0 - turn) < 1e-9
        )

    def away_deg(self, other: Frame) -> float:
        """Angle between the two middles."""
        ends = [
            vectors.direction(radians(one.ra_deg), radians(one.dec_deg))
            for one in (self, other)
        ]
        return float(np.degrees(vectors.separation_rad(*ends)))


def frame_of(target: Target, rig: Rig, loose_deg: float = 0.0) -> Frame:
    """The frame of a rig whose middle is put on a target."""
    return Frame(
        ra_deg=target.ra_deg,
        dec_deg=target.dec_deg,
        position_angle_deg=target.position_angle_deg,
        width_px=rig.width_px,
        height_px=rig.height_px,
        scale_arcsec_px=rig.scale_arcsec_px,
        loose_deg=loose_deg,
    )


def rig_of(sub: Sub, rigs: Mapping[str, Rig]) -> Rig | None:
    """The rig that takes a sub: by name, or the only one there is."""
    if sub.rig in rigs:
        return rigs[sub.rig]
    return next(iter(rigs.values())) if not sub.rig and len(rigs) == 1 else None


def frames_of(session: Session) -> dict[int, Frame]:
    """The frame of each sub, by index, from its target and rig.

    Dithers leave it loose.  Subs whose rig is not among the session's have none.
    InputError where two subs share an index.
    """
    rigs = {rig.name: rig for rig in session.rigs}
    dither = session.dither_arcsec
    loose_deg = dither / 3600.0 if dither > 0.0 else 0.0
    made: dict[tuple[Target, str], Frame] = {}
    frames: dict[int, Frame] = {}
    for sub in session.subs:
        if sub.index in frames:
            raise InputError(f"two subs have the index {sub.index}")
        rig = rig_of(sub, rigs)
        if rig is not None:
            key = sub.target, rig.name
            if key not in made:
                made[key] = frame_of(sub.target, rig, loose_deg)
            frames[sub.index] = made[key]
    return frames
