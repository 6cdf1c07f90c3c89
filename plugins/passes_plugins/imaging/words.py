"""Why these settings: the sums as sentences, numbers with their assumptions."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite, isnan
from typing import TYPE_CHECKING

import numpy as np

from passes import optics
from passes.model import Note
from passes_plugins.imaging.case import time_of
from passes_plugins.imaging.cautions import (
    cautions,
    checklist,
    missing,
    note,
    sun_cautions,
)
from passes_plugins.imaging.mount_words import blind, mount
from passes_plugins.imaging.scene import spread_arcsec
from passes_plugins.imaging.shutter_words import binding
from passes_plugins.imaging.transit import disc_of

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case

__all__ = [
    "long_notes",
    "recording",
    "sun_cautions",
    "target",
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
        *blind(case),
        *mount(case),
        *_sharpness(case),
        *recording(case),
        *missing(case),
        *checklist(case),
        *cautions(case),
    ]


def target(case: Case) -> Iterator[Note]:
    """Where it is at its best, how large, how fast, how bright."""
    scene, track, i = case.scene, case.scene.track, case.best
    size = float(scene.size_arcsec[i])
    pixels = float(scene.size_px[i])
    told = f"At {time_of(case, i)}: {track.range_km[i]:.0f} km away"
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


def _sharpness(case: Case) -> Iterator[Note]:
    bench, scene, i = case.bench, case.scene, case.best
    text = f"{bench.scale_arcsec:.3f}″ a pixel"
    if isfinite(bench.diffraction_arcsec):
        text += (
            f", diffraction {bench.diffraction_arcsec:.2f}″, seeing "
            f"{scene.seeing_arcsec[i]:.1f}″ there; {_sampling(case)}"
        )
    spread = float(scene.dispersion_arcsec[i])
    if isfinite(spread) and not bench.wide:
        text += f". The air spreads the passband by {spread:.2f}″: "
        pays = spread > bench.allowed_arcsec
        text += (
            f"a corrector or a red filter pays{_redder(case)}"
            if pays
            else "no corrector needed"
        )
    yield note("why", f"{text}.", dispersion_arcsec=spread)


def _sampling(case: Case) -> str:
    """The focal ratio against the critical one."""
    rig = case.bench.rig
    critical = optics.critical_f_number(rig.pixel_um, case.bench.filter.centre_nm)
    ratio = rig.f_number / float(critical)
    verdict = "well sampled" if ratio < 1.6 else "more pixels than detail"
    if ratio < 0.8:
        verdict = "detail is lost between pixels"
    return f"f/{rig.f_number:.1f} against a critical f/{float(critical):.1f}: {verdict}"


def _redder(case: Case) -> str:
    """What the rig's own reddest filter would leave."""
    bench, i = case.bench, case.best
    red = max(bench.rig.filters, key=lambda f: f.centre_nm, default=bench.filter)
    if red.centre_nm < bench.filter.centre_nm + 40.0:
        return ""
    altitude = np.radians(float(case.scene.track.refracted_altitude_deg[i]))
    left = float(spread_arcsec(red, case.briefing.site, altitude))
    return f" (filter {red.name}: {left:.2f}″)"


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
        free, size = case.bench.rig.free_gb, found.gigabytes
        text += f"; the disk has {free:.0f} GB"
        if not found.fits:
            text += f": too little, good for {found.duration_s * free / size:.0f} s"
    yield note("why", f"{text}.", "info" if found.fits is not False else "warning")
