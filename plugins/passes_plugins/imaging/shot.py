"""Shutter and gain: what motion allows, what light asks for, which of them binds."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, isnan, log10, nan

from passes import mount, sensor
from passes.model import Gain
from passes_plugins.imaging.bench import Bench
from passes_plugins.imaging.choices import Choices

#: Third stops, as cameras' dials have them (ISO 2721 rounds the same way; from memory).
_STOPS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.4, 8.0)
#: From here on a dial writes seconds and not fractions.
_FRACTIONS_BELOW_S = 0.3
#: Below this a frame alone shows little (common practice).
_FAINT_SNR = 8.0


@dataclass(frozen=True, slots=True)
class Shot:
    """One exposure at one moment; ``level_e``, ``sky_e`` and ``snr`` are a pixel's.

    ``motion_s`` is what blur allows, ``light_s`` what fills the well as asked at this
    gain; ``fill`` the part of the well filled, ``headroom_mag`` what is left for
    glints.  nan is unknown.
    """

    way: str
    exposure_s: float
    limit: str
    gain: Gain
    motion_s: float
    light_s: float
    level_e: float
    fill: float
    headroom_mag: float
    snr: float
    sky_e: float


def dialled_s(exposure_s: float) -> float:
    """The nearest setting of a dial that is not longer; nan stays unknown."""
    if isnan(exposure_s) or exposure_s <= 0.0:
        return nan
    short = exposure_s < _FRACTIONS_BELOW_S
    value = 1.0 / exposure_s if short else exposure_s
    decade = floor(log10(value))
    steps = [
        10.0**d * stop for d in (decade - 1, decade, decade + 1) for stop in _STOPS
    ]
    if short:
        return 1.0 / min(step for step in steps if step >= value * (1.0 - 1e-9))
    return max(step for step in steps if step <= value * (1.0 + 1e-9))


def dial(exposure_s: float) -> str:
    """A dialled exposure as the camera writes it."""
    if isnan(exposure_s):
        return "unknown"
    if exposure_s >= _FRACTIONS_BELOW_S:
        return f"{exposure_s:g} s"
    return f"1/{1.0 / exposure_s:.0f} s"


def milliseconds(exposure_s: float) -> str:
    """The same for cameras that count milliseconds or microseconds."""
    if exposure_s < 1e-3:
        return f"{exposure_s * 1e6:.3g} µs"
    return f"{exposure_s * 1e3:.3g} ms" if exposure_s < 1.0 else f"{exposure_s:g} s"


def shoot(
    bench: Bench,
    choices: Choices,
    way: str,
    motion_s: float,
    signal_e_s: float,
    sky_e_s: float,
) -> Shot:
    """Settle shutter and gain for a pixel that gets so many electrons a second."""
    flow = signal_e_s + sky_e_s
    wanted_s = _not_under(motion_s, bench.shortest_s)
    gain = _gain(bench.gains, flow * wanted_s, choices.glint_mag)
    light_s = float(sensor.exposure_for_level_s(choices.fill * gain.full_well_e, flow))
    exposure_s, limit = motion_s, _motion_limit(bench, way, motion_s)
    if light_s < motion_s or isnan(motion_s):
        exposure_s, limit = light_s, "light"
    exposure_s = dialled_s(exposure_s)
    if exposure_s < bench.shortest_s:
        exposure_s, limit = bench.shortest_s, "camera"
    level = flow * exposure_s
    known = not isnan(level)
    return Shot(
        way=way,
        exposure_s=exposure_s,
        limit="" if isnan(exposure_s) else limit,
        gain=gain,
        motion_s=motion_s,
        light_s=light_s,
        level_e=level,
        sky_e=sky_e_s * exposure_s,
        fill=level / gain.full_well_e,
        headroom_mag=float(sensor.headroom_mag(gain.full_well_e, level))
        if known
        else nan,
        snr=float(
            sensor.signal_to_noise(
                signal_e_s, exposure_s, 1.0, sky_e_s, 0.0, gain.read_noise_e
            )
        ),
    )


def _not_under(value: float, least: float) -> float:
    return value if isnan(least) else max(value, least)


def _gain(gains: tuple[Gain, ...], level_e: float, glint_mag: float) -> Gain:
    """The quietest gain that keeps the head-room, else the one with the deepest well.

    Where light is unknown, the deepest well too: it forgives most.
    """
    deepest = max(gains, key=lambda gain: gain.full_well_e)
    part = float(sensor.fill_allowing_glints(glint_mag))
    fitting = [gain for gain in gains if level_e <= part * gain.full_well_e]
    return min(fitting, key=lambda gain: gain.read_noise_e) if fitting else deepest


def _motion_limit(bench: Bench, way: str, motion_s: float) -> str:
    """What moves the image most: the target, the mount's error, or the shake."""
    carrier = bench.rig.mount
    if isnan(carrier.shake_arcsec) or isnan(carrier.shake_hz):
        return "tracking" if way == "follow" else "motion"
    shake = float(
        mount.shake_travel_arcsec(motion_s, carrier.shake_arcsec, carrier.shake_hz)
    )
    if shake > 0.5 * bench.allowed_arcsec:
        return "shake"
    return "tracking" if way == "follow" else "motion"


def changes(
    bench: Bench, shot: Shot, choices: Choices, *, may_follow: bool
) -> list[str]:
    """What to change where motion and light disagree."""
    if isnan(shot.level_e):
        return []
    gains = sorted(bench.gains, key=lambda gain: -gain.full_well_e)
    if shot.limit in ("light", "camera") and shot.fill > choices.fill:
        told = ["a darker filter", "a longer extender (the light falls on more pixels)"]
        if shot.gain is not gains[0]:
            told.insert(0, f"gain {gains[0].name} with its deeper well")
        return told
    if shot.snr >= _FAINT_SNR:
        return []
    told = []
    if shot.gain is not gains[-1]:
        told.append(f"gain {gains[-1].name}, quieter, and glints may clip")
    told.append(
        f"2 × 2 binning: twice the shutter ({dial(dialled_s(2 * shot.motion_s))}) and "
        "eight times the electrons"
    )
    if bench.rig.extender > 1.0:
        told.append(
            f"without the {bench.rig.extender:g}× extender: "
            f"{bench.rig.extender**3:.1f} times the electrons"
        )
    if shot.way != "follow" and may_follow:
        told.append("a mount that follows")
    return told


def ceil_to(value: float, step: float) -> float:
    """Rounded up to a step."""
    return ceil(value / step - 1e-9) * step
