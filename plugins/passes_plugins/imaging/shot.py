"""Shutter and gain: what motion, seeing and light allow, and which of them binds."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan

import numpy as np

from passes import mount, sensor
from passes.model import Gain
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.dial import dialled_s
from passes_plugins.imaging.light import Light

#: With so much in a pixel a frame stands by itself; the shutter is shortened to freeze
#: the seeing down to this and no further (common practice).
AMPLE_SNR = 20.0


@dataclass(frozen=True, slots=True)
class Shot:
    """One exposure at one moment; ``level_e``, ``sky_e`` and ``snr`` are a pixel's.

    ``motion_s`` is what blur allows, ``light_s`` what fills the well as asked at this
    gain, ``seeing_s`` what freezes the seeing or, where that is too dark, gives an
    ample signal; ``fill`` the part of the well filled, ``headroom_mag`` what is left
    for glints.  nan is unknown.
    """

    way: str
    exposure_s: float
    limit: str
    gain: Gain
    motion_s: float
    light_s: float
    seeing_s: float
    holds_s: float
    level_e: float
    fill: float
    headroom_mag: float
    snr: float
    sky_e: float
    ample: bool

    @property
    def freezes(self) -> bool:
        """Whether the seeing keeps its pattern during the exposure."""
        return self.exposure_s <= self.holds_s

    def keeps(self, glint_mag: float) -> bool:
        """Whether a glint so much brighter stays below the full well, or unknown."""
        return not self.headroom_mag < glint_mag


def shoot(bench: Bench, choices: Choices, light: Light) -> Shot:
    """Settle shutter and gain for a pixel.

    At every gain the shutter is the longest that neither blurs nor overfills, no longer
    than freezes the seeing where the signal is ample.  Of the gains with an ample
    signal the one whose well fills best is taken, else the one with the most signal
    over noise; where light is unknown the deepest well, which forgives most.
    """
    shots = [_at(bench, choices, light, gain) for gain in bench.gains]
    most = choices.fullest * (1.0 + 1e-6)
    fitting = [one for one in shots if one.fill <= most]
    if not fitting:
        return max(shots, key=lambda one: one.gain.full_well_e)
    ample = [one for one in fitting if one.ample]
    if ample:
        return max(ample, key=lambda one: (_asked(one, choices.level), one.snr))
    return max(fitting, key=lambda one: (one.snr, one.gain.full_well_e))


def _asked(shot: Shot, level: float) -> float:
    """Part of the well filled, before the dial rounds it; hundredths are a tie."""
    return level if shot.limit == "light" else round(shot.fill, 2)


@dataclass(frozen=True, slots=True)
class _Bounds:
    """How long motion, light and seeing let one gain be exposed; nan is no bound.

    ``full_s`` fills the well to the most that may be, ``ample_s`` gives an ample
    signal: the seeing shortens no further than that.
    """

    motion_s: float
    light_s: float
    full_s: float
    ample_s: float
    holds_s: float

    @property
    def seeing_s(self) -> float:
        return float(np.maximum(self.holds_s, self.ample_s))  # nan where either is

    @property
    def least_s(self) -> float:
        return float(np.fmin.reduce([self.motion_s, self.light_s, self.seeing_s]))

    @property
    def dialled_s(self) -> float:
        wanted = np.fmin.reduce([self.motion_s, self.full_s, self.seeing_s])
        return dialled_s(float(wanted))


def _at(bench: Bench, choices: Choices, light: Light, gain: Gain) -> Shot:
    """The exposure at one gain."""
    noise = bench.noise_e(gain)
    levels = np.array([choices.level, choices.fullest]) * gain.full_well_e
    ample = sensor.exposure_for_ratio_s(
        AMPLE_SNR, light.signal_e_s, light.sky_e_s, noise
    )
    asked, full = sensor.exposure_for_level_s(levels, light.flow_e_s).tolist()
    bounds = _Bounds(light.motion_s, asked, full, float(ample), light.holds_s)
    return _shot(bench, light, gain, bounds)


def _shot(bench: Bench, light: Light, gain: Gain, bounds: _Bounds) -> Shot:
    """What comes of the bounds: the dialled exposure and what it gathers."""
    exposure_s, limit = _limit(bench, light, bounds)
    level_e = light.flow_e_s * exposure_s
    room = nan if isnan(level_e) else sensor.headroom_mag(gain.full_well_e, level_e)
    ratio = sensor.signal_to_noise(
        light.signal_e_s, exposure_s, 1.0, light.sky_e_s, 0.0, bench.noise_e(gain)
    )
    return Shot(
        way=light.way,
        exposure_s=exposure_s,
        limit=limit,
        gain=gain,
        motion_s=bounds.motion_s,
        light_s=bounds.light_s,
        seeing_s=bounds.seeing_s,
        holds_s=bounds.holds_s,
        level_e=level_e,
        fill=level_e / gain.full_well_e,
        headroom_mag=float(room),
        snr=float(ratio),
        sky_e=light.sky_e_s * exposure_s,
        ample=bounds.least_s >= bounds.ample_s,
    )


def _limit(bench: Bench, light: Light, bounds: _Bounds) -> tuple[float, str]:
    """The exposure as dialled, and what binds it."""
    exposure_s = bounds.dialled_s
    if isnan(exposure_s):
        return nan, ""
    if exposure_s < bench.shortest_s:
        return bench.shortest_s, "camera"
    if bounds.least_s == bounds.light_s:
        return exposure_s, "light"
    if bounds.least_s == bounds.seeing_s:
        return exposure_s, "seeing"
    return exposure_s, _motion_limit(bench, light)


def _motion_limit(bench: Bench, light: Light) -> str:
    """What moves the image most: the target, the mount's error, or the shake."""
    carrier = bench.rig.mount
    moving = "tracking" if light.way == "follow" else "motion"
    if isnan(carrier.shake_arcsec) or isnan(carrier.shake_hz):
        return moving
    shake = float(
        mount.shake_travel_arcsec(
            light.motion_s, carrier.shake_arcsec, carrier.shake_hz
        )
    )
    return "shake" if shake > 0.5 * bench.allowed_arcsec else moving
