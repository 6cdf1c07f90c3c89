"""Lying in wait: where a pointing that does not follow catches most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passes import mount
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.following import motion_angle
from passes_plugins.imaging.ground import Ground
from passes_plugins.imaging.light import light_at
from passes_plugins.imaging.recording import recording_of
from passes_plugins.imaging.scene import Scene
from passes_plugins.imaging.shot import Shot, shoot
from passes_plugins.imaging.stars import Star, nearest_star

Floats = NDArray[np.float64]

_PLACES = 3
#: Places nearer to each other than this, s, or this part of the pass, are one place.
_APART_S, _APART_SHARE = 30.0, 0.05
#: How close together places are tried, s, and the lowest worth trying, degrees.
_TRIED_S, _LOWEST_DEG = 5.0, 15.0
#: More are never tried, however long the pass.
_MOST_TRIED = 150
#: A camera of unknown speed is taken to deliver so many frames a second.
_SLOW_HZ = 30.0
#: Signal-to-noise of a pixel from which a frame shows something (common practice).
_SHOWS_SNR = 3.0
_ROTATIONS = np.radians(np.arange(0.0, 180.0, 5.0))


@dataclass(frozen=True, slots=True)
class Place:
    """One place to wait at; ``up_deg`` is where the frame's up points.

    That angle runs from the vertical (from north on an equatorial mount) to the left,
    which is north through east; ``best_up_deg`` is the rotation that helps most.
    """

    index: int
    way: str
    up_from: str
    shot: Shot
    in_field_s: float
    frames: float
    chance: float
    up_deg: float
    best_up_deg: float
    best_chance: float
    star: Star


@dataclass(frozen=True, slots=True, eq=False)
class Waiting:
    """What every place of one pass shares.

    ``aside_rad`` is how far this rig looks from the one that leads the platform, right
    and up in its own frame: the path runs through the leading one's centre.
    """

    scene: Scene
    ground: Ground
    bench: Bench
    choices: Choices
    way: str
    error: mount.Errors
    aside_rad: tuple[float, float] = (0.0, 0.0)

    def shot(self, i: int) -> Shot:
        """Shutter and gain at a sample, on a mount that does not follow."""
        light = light_at(self.scene, self.bench, self.choices, self.way, i)
        return shoot(self.bench, self.choices, light)

    def frames_hz(self, shot: Shot) -> float:
        """Frames a second; where none is known, what any video camera delivers."""
        hz = recording_of(self.bench, shot.exposure_s, 1.0).frame_rate_hz
        return min(1.0 / shot.exposure_s, _SLOW_HZ) if np.isnan(hz) else hz

    def chord_rad(self, i: int, up_rad: Floats, off_rad: Floats | float) -> Floats:
        """Length of the path in the frame, turned so and aside so far, ``(r, m)``."""
        turn = self.error.turn_rad if np.ndim(off_rad) else 0.0
        moving = motion_angle(self.scene, self.bench, self.way, i)
        tilt = mount.path_tilt_rad(moving, up_rad)[:, np.newaxis]
        unturned = mount.path_tilt_rad(moving, self.own_rad)
        aside = mount.left_of_path_rad(unturned, *self.aside_rad)
        return mount.chord_rad(*self.field_rad, tilt + turn, off_rad - aside)

    def chances(self, i: int, up_rad: Floats, hz: float) -> Floats:
        """Chance to catch enough frames with the camera turned so, ``(r,)``."""
        off = self.ground.across_rad(i, self.error, among_stars=self.way == "stars")
        chord = self.chord_rad(i, up_rad, off)
        return mount.catch_chance(
            chord, self.speed_rad_s(i), hz, int(self.choices.frames)
        )

    @property
    def own_rad(self) -> float:
        """How the camera is turned as it stands."""
        return float(np.radians(self.bench.rig.rotation_deg))

    @property
    def field_rad(self) -> tuple[float, float]:
        """Width and height of the frame."""
        wide, high = np.radians([self.bench.width_deg, self.bench.height_deg])
        return float(wide), float(high)

    def speed_rad_s(self, i: int) -> float:
        """Motion over the sensor."""
        return float(np.radians(self.scene.rates_arcsec_s[self.way][i] / 3600.0))


def waiting_of(
    scene: Scene,
    ground: Ground,
    bench: Bench,
    choices: Choices,
    way: str,
    aside_arcmin: tuple[float, float] = (0.0, 0.0),
) -> Waiting:
    """What the places of a pass share, with the errors drawn."""
    error = ground.errors(scene.track, bench, choices)
    right, up = np.radians(np.divide(aside_arcmin, 60.0))
    return Waiting(scene, ground, bench, choices, way, error, (float(right), float(up)))


def places_of(shared: Waiting) -> tuple[Place, ...]:
    """The best three places of the pass, the best first."""
    scene, up = shared.scene, np.array([shared.own_rad])
    worth = {}
    tried = _tried(scene)
    for i in map(int, tried):
        shot = shared.shot(i)
        caught = float(shared.chances(i, up, shared.frames_hz(shot))[0])
        worth[i] = caught * _detail(scene, shared.bench, i) * _light(shot)
    if not worth:
        return ()
    length_s = float(scene.time_s[tried[-1]] - scene.time_s[tried[0]])
    least_s = max(_APART_S, _APART_SHARE * length_s)
    chosen: list[int] = []
    for i in sorted(worth, key=lambda i: -worth[i]):
        apart = [abs(scene.time_s[i] - scene.time_s[k]) for k in chosen]
        if worth[i] > 0.0 and all(a >= least_s for a in apart):
            chosen.append(i)
    return tuple(place_at(shared, i) for i in chosen[:_PLACES])


def _tried(scene: Scene) -> NDArray[np.int64]:
    """Samples worth trying: usable, high enough, a few seconds apart."""
    track = scene.track
    high = scene.usable & (track.altitude_deg >= _LOWEST_DEG)
    index = np.flatnonzero(high & np.isfinite(scene.rates_arcsec_s["fixed"]))
    if index.size < 3:
        return index
    step_s = float(np.median(np.diff(scene.time_s)))
    every = max(1, round(_TRIED_S / step_s), -(-index.size // _MOST_TRIED))
    return index[::every]


def _detail(scene: Scene, bench: Bench, i: int) -> float:
    """What a place is worth besides its chance: detail across the object."""
    blur = np.hypot(scene.seeing_arcsec[i], np.nan_to_num(bench.diffraction_arcsec))
    size = scene.size_arcsec[i]
    size = size if np.isfinite(size) else 1e4 / scene.track.range_km[i]
    return float(size / blur)


def _light(shot: Shot) -> float:
    """1 where a frame shows something, less the fainter it is; 1 where unknown."""
    if np.isnan(shot.snr):
        return 1.0
    return float(np.clip(shot.snr / _SHOWS_SNR, 0.0, 1.0))


def place_at(shared: Waiting, i: int) -> Place:
    """One place in full, with the rotation of the camera that helps most."""
    shot = shared.shot(i)
    hz, own = shared.frames_hz(shot), shared.own_rad
    chances = shared.chances(i, np.concatenate([[own], _ROTATIONS]), hz)
    straight = shared.chord_rad(i, np.array([own]), 0.0)
    in_field_s = float(straight[0, 0]) / shared.speed_rad_s(i)
    best = int(np.argmax(chances[1:]))
    return Place(
        index=i,
        way=shared.way,
        up_from=_up_from(shared.bench),
        shot=shot,
        in_field_s=in_field_s,
        frames=in_field_s * hz,
        chance=float(chances[0]),
        up_deg=shared.bench.rig.rotation_deg,
        best_up_deg=float(np.degrees(_ROTATIONS[best])),
        best_chance=max(float(chances[1:][best]), float(chances[0])),
        star=_star(shared.scene, i),
    )


def _up_from(bench: Bench) -> str:
    return "north" if bench.rig.mount.kind == "equatorial" else "the vertical"


def _star(scene: Scene, i: int) -> Star:
    ra, dec = scene.track.ra_icrs_deg[i], scene.track.dec_icrs_deg[i]
    if not np.isfinite(ra):
        return Star("", np.nan, np.nan, np.nan, np.nan, np.nan)
    return nearest_star(float(ra), float(dec))
