"""Wide lenses: the trail across a landscape, in how many exposures, how long each."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

import numpy as np
from numpy.typing import NDArray

from passes import optics, sensor, vectors
from passes.model import Gain
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices
from passes_plugins.imaging.dial import dialled_s
from passes_plugins.imaging.scene import Scene

Floats = NDArray[np.float64]

#: A frame of a landscape is exposed no longer than this, s (common practice).
_LONGEST_S = 30.0
#: A trail is about so wide, pixels; and a point counts as seen at this many sigmas.
_TRAIL_PX, _SEEN_SIGMAS = 2.0, 3.0
#: The sky may fill so much of the well (common practice, no source).
_SKY_FILL = 1.0 / 3.0
#: Reading a still frame takes at least so long (common practice, no source).
_LEAST_GAP_S = 0.1
#: A buffer of more frames than this takes them while the disk catches up.
_BUFFERED = 4.0


@dataclass(frozen=True, slots=True)
class Framing:
    """What a level camera pointed at a sample holds of the path.

    ``entry`` and ``exit`` index the samples, ``nearest`` the one between them at the
    least range; ``upright`` is the long side.
    """

    pointing: int
    entry: int
    exit: int
    nearest: int
    length_deg: float
    duration_s: float
    upright: bool


@dataclass(frozen=True, slots=True)
class StarLimits:
    """Exposures up to which stars stay points: full and short formula, rule of 500."""

    npf_s: float
    npf_simple_s: float
    rule_500_s: float


@dataclass(frozen=True, slots=True)
class Look:
    """Electrons of trail and sky in a pixel, their surface brightness; what is seen."""

    trail_e: float
    trail_fill: float
    sky_e: float
    limiting_mag: float
    trail_mag_arcsec2: float
    sky_mag_arcsec2: float


@dataclass(frozen=True, slots=True)
class Trail:
    """A trail in the frame and how to expose it; nan is unknown."""

    framing: Framing
    exposure_s: float
    limit: str
    gain: Gain
    count: int
    length_px: float
    gap_s: float
    gap_px: float
    sky_third_s: float
    stars: StarLimits
    look: Look


def trail_of(scene: Scene, bench: Bench, choices: Choices) -> Trail | None:
    """The most of the trail that one pointing can hold; None where nothing is seen."""
    framing = _framing(scene, bench)
    if framing is None:
        return None
    light = _light_at(scene, bench, framing.nearest)
    gain = _gain(bench, light.trail_e(_LONGEST_S), choices.fill)
    third = float(
        sensor.exposure_for_level_s(_SKY_FILL * gain.full_well_e, 0.0, light.sky_e_s)
    )
    exposure, limit = _exposure(third)
    gap = _gap_s(bench)
    return Trail(
        framing=framing,
        exposure_s=exposure,
        limit=limit,
        gain=gain,
        count=int(np.ceil(framing.duration_s / (exposure + gap))),
        length_px=framing.length_deg * 3600.0 / bench.scale_arcsec,
        gap_s=gap,
        gap_px=gap / light.dwell_s,
        sky_third_s=third,
        stars=_star_limits(scene, bench, framing),
        look=_look(scene, bench, framing, light, gain, exposure),
    )


def _framing(scene: Scene, bench: Bench) -> Framing | None:
    """The pointing that holds most of the visible path."""
    seen = scene.usable & np.isfinite(scene.track.azimuth_deg)
    if seen.sum() < 2:
        return None
    pointing, inside, upright = _best_pointing(scene, bench, seen)
    index = np.flatnonzero(inside)
    if index.size < 2:
        return None
    entry, last = int(index[0]), int(index[-1])
    return Framing(
        pointing=pointing,
        entry=entry,
        exit=last,
        nearest=int(index[np.nanargmin(scene.track.range_km[index])]),
        length_deg=float(_steps_deg(scene)[entry:last].sum()),
        duration_s=float(scene.time_s[last] - scene.time_s[entry]),
        upright=upright,
    )


def _directions(scene: Scene) -> Floats:
    track = scene.track
    return vectors.direction(
        np.radians(90.0 - track.azimuth_deg), np.radians(track.refracted_altitude_deg)
    )


def _steps_deg(scene: Scene) -> Floats:
    d = _directions(scene)
    return np.degrees(vectors.separation_rad(d[1:], d[:-1]))


def _best_pointing(
    scene: Scene, bench: Bench, seen: NDArray[np.bool_]
) -> tuple[int, NDArray[np.bool_], bool]:
    """The sample to point at, what is then inside, long side level or upright."""
    directions = _directions(scene)
    index = np.flatnonzero(seen)
    best: tuple[int, int, NDArray[np.bool_], bool] | None = None
    for upright in (False, True):
        width, height = bench.width_deg, bench.height_deg
        if upright:
            width, height = height, width
        for i in index[:: max(1, index.size // 60)]:
            inside = seen & _in_frame(directions, int(i), width, height)
            if best is None or inside.sum() > best[0]:
                best = int(inside.sum()), int(i), inside, upright
    assert best is not None
    return best[1], best[2], best[3]


def _in_frame(
    directions: Floats, i: int, width_deg: float, height_deg: float
) -> NDArray[np.bool_]:
    """Which directions (east, north, up) a level camera sees that points at one."""
    ahead = directions[i]
    right = vectors.unit(np.array([ahead[1], -ahead[0], 0.0]))
    up = vectors.cross(right, ahead)
    depth = vectors.dot(directions, ahead)
    x, y = vectors.dot(directions, right), vectors.dot(directions, up)
    tangents = np.tan(np.radians([width_deg / 2.0, height_deg / 2.0]))
    front = depth > 0.0
    return np.asarray(
        front & (np.abs(x) <= tangents[0] * depth) & (np.abs(y) <= tangents[1] * depth)
    )


@dataclass(frozen=True, slots=True)
class _Light:
    """Electrons a second: of the object, of the sky in a pixel, of magnitude 0.

    ``dwell_s`` is how long the object stays on a pixel.
    """

    point_e_s: float
    sky_e_s: float
    zero_e_s: float
    dwell_s: float
    rate_arcsec_s: float

    def lit_s(self, exposure_s: float) -> float:
        """How long a pixel sees it in an exposure."""
        return min(self.dwell_s, exposure_s)

    def trail_e(self, exposure_s: float) -> float:
        """Electrons in a pixel of the trail, shared over its width."""
        return self.point_e_s * self.lit_s(exposure_s) / _TRAIL_PX


def _light_at(scene: Scene, bench: Bench, i: int) -> _Light:
    rate = float(scene.rates_arcsec_s["fixed"][i])
    return _Light(
        point_e_s=float(sensor.electrons_s(scene.track.magnitude[i], *bench.flow)),
        sky_e_s=float(scene.sky_e_s[i]),
        zero_e_s=float(sensor.electrons_s(0.0, *bench.flow)),
        dwell_s=bench.scale_arcsec / rate,
        rate_arcsec_s=rate,
    )


def _limiting_mag(light: _Light, gain: Gain, exposure_s: float) -> float:
    """The faintest point moving so fast that stands out of the noise."""
    noise = np.sqrt(light.sky_e_s * exposure_s + gain.read_noise_e**2)
    reaching = _SEEN_SIGMAS * noise * np.sqrt(_TRAIL_PX) / light.lit_s(exposure_s)
    return float(-2.5 * np.log10(reaching / light.zero_e_s))


def _star_limits(scene: Scene, bench: Bench, framing: Framing) -> StarLimits:
    rig = bench.rig
    lens = (rig.f_number, rig.effective_focal_length_mm, rig.pixel_um)
    dec = np.radians(float(scene.track.dec_of_date_deg[framing.pointing]))
    return StarLimits(
        npf_s=float(optics.npf_s(*lens, dec)),
        npf_simple_s=float(optics.npf_simple_s(*lens, dec)),
        rule_500_s=float(optics.rule_500_s(lens[1])),
    )


def _look(
    scene: Scene,
    bench: Bench,
    framing: Framing,
    light: _Light,
    gain: Gain,
    exposure_s: float,
) -> Look:
    i, width = framing.nearest, _TRAIL_PX * bench.scale_arcsec
    spread = (light.rate_arcsec_s, exposure_s, width)
    return Look(
        trail_e=light.trail_e(exposure_s),
        trail_fill=light.trail_e(exposure_s) / gain.full_well_e,
        sky_e=light.sky_e_s * exposure_s,
        limiting_mag=_limiting_mag(light, gain, exposure_s),
        trail_mag_arcsec2=float(
            sensor.trail_mag_arcsec2(scene.track.magnitude[i], *spread)
        ),
        sky_mag_arcsec2=float(scene.sky_mag[i]),
    )


def _gain(bench: Bench, trail_e: float, fill: float) -> Gain:
    """The quietest gain at which the trail keeps below its part of the well."""
    fitting = [g for g in bench.gains if trail_e <= fill * g.full_well_e]
    if fitting:
        return min(fitting, key=lambda g: g.read_noise_e)
    return max(bench.gains, key=lambda g: g.full_well_e)


def _exposure(third_s: float) -> tuple[float, str]:
    if isnan(third_s) or third_s >= _LONGEST_S:
        return _LONGEST_S, "practice"
    return dialled_s(third_s), "sky"


def _gap_s(bench: Bench) -> float:
    """Time between two exposures: a blink while the buffer takes them, else writing."""
    writing, held = bench.frame_mb / bench.rig.write_mb_s, bench.rig.buffer_mb
    if isnan(writing) or held > _BUFFERED * bench.frame_mb:
        return _LEAST_GAP_S
    return max(writing, _LEAST_GAP_S)
