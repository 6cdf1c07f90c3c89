"""Why these settings: the sums as sentences, numbers with their assumptions."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes import optics
from passes.model import Note
from passes.tables import clock, zone_of
from passes_plugins.imaging import details
from passes_plugins.imaging.cautions import (
    cautions,
    checklist,
    missing,
    note,
    sun_cautions,
)
from passes_plugins.imaging.following import offset_arcmin
from passes_plugins.imaging.scene import spread_arcsec
from passes_plugins.imaging.shutter_words import binding
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.advising import Case

__all__ = [
    "long_notes",
    "recording",
    "sun_cautions",
    "target",
    "time_of",
    "why_nothing",
]


def why_nothing(case: Case) -> Note:
    """The one reason why there is nothing to shoot."""
    track, scene = case.scene.track, case.scene
    name = track.name or str(track.catalog_number)
    highest = (
        float(np.nanmax(track.altitude_deg)) if len(track.time_s) else float("nan")
    )
    if not highest > 0.0:
        text = f"{name} stays below the horizon (highest {highest:.1f}°)."
    elif scene.lit_known and not (np.nan_to_num(track.lit_fraction) > 0.0).any():
        text = f"{name} is in the Earth's shadow for the whole pass: nothing to expose."
    elif np.isnan(track.altitude_deg).all():
        text = f"Where {name} stands is unknown: no advice follows."
    else:
        text = (
            f"{name} is never lit, above the site's horizon and clear of the Sun at "
            f"once (highest {highest:.1f}°): nothing to expose."
        )
    return note("why", text, "warning", highest_deg=highest)


def long_notes(case: Case) -> list[Note]:
    """Everything worth saying about a long rig."""
    return [
        *target(case),
        *binding(case),
        *_blind(case),
        *_mount(case),
        *_sharpness(case),
        *_stacking(case),
        *recording(case),
        *missing(case),
        *checklist(case),
        *cautions(case),
    ]


def time_of(case: Case, i: int) -> str:
    """Local time of a sample, to the second."""
    moment = case.time(float(case.scene.time_s[i]))
    assert moment is not None
    return clock(moment, zone_of(case.briefing.site.zone), 1.0)


def target(case: Case) -> Iterator[Note]:
    """Where it is at its best, how large, how fast, how bright."""
    scene, track, i = case.scene, case.scene.track, case.best
    size = float(scene.size_arcsec[i])
    pixels = float(scene.size_px(case.bench)[i])
    told = f"At {time_of(case, i)}: range {track.range_km[i]:.0f} km"
    if isfinite(size):
        told += f", {size:.0f}″ long ({pixels:.0f} px, face on)"
    rate = scene.rates_arcsec_s["fixed"][i] / 3600.0
    if isfinite(rate):
        told += f", {rate:.2f}°/s over the ground"
    if isfinite(track.phase_angle_deg[i]):
        told += f", phase {track.phase_angle_deg[i]:.0f}°"
    if isfinite(track.magnitude[i]) and disc_of(case.briefing.subject) is None:
        told += f", mag {track.magnitude[i]:.1f}"
        if isfinite(track.magnitude_sigma[i]):
            spread = 100.0 * (10.0 ** (0.4 * track.magnitude_sigma[i]) - 1.0)
            told += f" ± {track.magnitude_sigma[i]:.1f} (light to {spread:.0f} %)"
    yield note("why", f"{told}.", size_arcsec=size, size_px=pixels)


def _blind(case: Case) -> Iterator[Note]:
    chance, miss = case.blind
    if isnan(chance) or case.way != "follow":
        return
    chip = 60.0 * min(case.bench.width_deg, case.bench.height_deg)
    text = (
        f"Followed blind it is on the chip ({chip:.1f}′) with a chance of "
        f"{100 * chance:.0f} %: 95 % miss {miss:.0f}′ (timing, path, mount)"
    )
    if chance < 0.9:
        text += (
            ". So: full frame, centre it through a finder or the wide camera, crop "
            "only then; or measure how late it is on an earlier pass (--late-by)"
        )
    else:
        text += ": a smaller region and a higher frame rate may be used"
    text += _smaller(case)
    yield note("why", f"{text}.", blind_chance=chance, blind_miss_arcmin=miss)


def _smaller(case: Case) -> str:
    """The mode to crop to once the object is centred."""
    modes, now = case.bench.rig.modes, case.bench.mode
    if now is None:
        return ""
    area = now.width_px * now.height_px
    faster = [
        m
        for m in modes
        if m.width_px * m.height_px < area and m.frame_rate_hz > now.frame_rate_hz
    ]
    if not faster:
        return ""
    best = max(faster, key=lambda m: m.frame_rate_hz)
    return (
        f". Once it is centred: mode “{best.name}”, {best.width_px} × {best.height_px} "
        f"px at {best.frame_rate_hz:.0f} a second"
    )


def _mount(case: Case) -> Iterator[Note]:
    found = case.following
    carrier = case.bench.rig.mount
    aside = offset_arcmin(case.bench)
    if aside > 0.5:
        yield note(
            "why",
            f"This rig looks {aside:.0f}′ beside the platform's main instrument: the "
            "pointing above is where this one must look.",
        )
    if found is None or not (case.way == "follow" or carrier.follows_satellites):
        return
    usable = case.scene.usable
    shares = [100.0 * (r & usable).sum() / max(usable.sum(), 1) for r in found.reach]
    text = (
        f"Axes: {found.axes[0]} keeps up for {shares[0]:.0f} % of the usable path, "
        f"{found.axes[1]} for {shares[1]:.0f} %"
    )
    if found.pole is not None:
        pole = "pole" if carrier.kind == "equatorial" else "zenith"
        text += (
            f"; fastest {found.worst_deg_s:.1f}°/s at {time_of(case, found.pole)}, "
            f"nearest the {pole}"
        )
    if found.stretch is not None:
        first, last = found.stretch
        text += f". Stretch to follow {time_of(case, first)} to {time_of(case, last)}"
    yield note("why", f"{text}.")
    if found.pier:
        yield note("why", f"Start with the {found.pier}.")


def _sharpness(case: Case) -> Iterator[Note]:
    bench, scene, i = case.bench, case.scene, case.best
    critical = float(
        optics.critical_f_number(bench.rig.pixel_um, bench.filter.centre_nm)
    )
    text = f"{bench.scale_arcsec:.3f}″ a pixel"
    if isfinite(bench.diffraction_arcsec):
        text += (
            f", diffraction {bench.diffraction_arcsec:.2f}″, seeing "
            f"{scene.seeing_arcsec[i]:.1f}″ there; f/{bench.rig.f_number:.1f} against "
            f"a critical f/{critical:.1f}: "
        )
        ratio = bench.rig.f_number / critical
        text += (
            "detail is lost between pixels"
            if ratio < 0.8
            else ("well sampled" if ratio < 1.6 else "more pixels than detail")
        )
    yield note("why", f"{text}.")
    yield from _seeing(case)
    spread = float(scene.dispersion_arcsec[i])
    if isfinite(spread) and bench.rig.name and not bench.wide:
        pays = spread > bench.allowed_arcsec
        advice = "no corrector needed"
        if pays:
            advice = f"a corrector or a red filter pays{_redder(case)}"
        yield note(
            "why",
            f"The air spreads the passband by {spread:.2f}″: {advice}.",
            dispersion_arcsec=spread,
        )


def _seeing(case: Case) -> Iterator[Note]:
    """Whether the shutter freezes the air, and what that is good for."""
    shot, i = case.shot, case.best
    seeing = float(case.scene.seeing_arcsec[i])
    if shot is None or not isfinite(seeing) or isnan(shot.exposure_s):
        return
    wave = case.bench.filter.centre_nm
    holds = optics.coherence_s(optics.fried_cm(seeing, wave), case.choices.wind_m_s)
    frozen = shot.exposure_s < float(holds)
    yield note(
        "why",
        f"The seeing's pattern holds for about {1e3 * float(holds):.1f} ms (wind of "
        f"{case.choices.wind_m_s:g} m/s): this shutter "
        + ("freezes it; keep the sharpest frames." if frozen else "averages over it."),
        coherence_s=float(holds),
    )


def _redder(case: Case) -> str:
    """What the rig's own reddest filter would leave."""
    bench, i = case.bench, case.best
    red = max(bench.rig.filters, key=lambda f: f.centre_nm, default=bench.filter)
    if red.centre_nm < bench.filter.centre_nm + 40.0:
        return ""
    altitude = np.radians(float(case.scene.track.refracted_altitude_deg[i]))
    left = float(spread_arcsec(red, case.briefing.site, altitude))
    return f" (filter {red.name}: {left:.2f}″)"


def _stacking(case: Case) -> Iterator[Note]:
    frames, ratio = details.stacked(case)
    if isnan(frames) or case.shot is None:
        return
    turned = (
        f"in {details.aspect_s(case):.2f} s its aspect turns by half a resolution "
        "element"
    )
    yield note(
        "why",
        f"Stack at most {frames:.0f} frames of it ({turned}): signal-to-noise "
        f"{ratio:.0f}.",
        frames=frames,
    )


def recording(case: Case) -> Iterator[Note]:
    """Frames a second, what limits them, and what they take of the disk."""
    found = case.recording
    if found is None or isnan(found.frame_rate_hz):
        return
    text = (
        f"{found.frame_rate_hz:.0f} frames a second, limited by {found.limit}: "
        f"{found.frame_rate_hz * found.duration_s:,.0f} frames and "
        f"{found.gigabytes:.1f} GB in {found.duration_s:.0f} s"
    )
    if found.fits is not None:
        free = case.bench.rig.free_gb
        text += f"; the disk has {free:.0f} GB" + ("" if found.fits else ": too little")
    yield note("why", f"{text}.", "info" if found.fits is not False else "warning")
