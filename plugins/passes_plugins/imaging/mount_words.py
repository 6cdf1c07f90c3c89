"""Whether it can be followed blind, and what the mount can reach."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import TYPE_CHECKING

from passes.model import Note
from passes_plugins.imaging.case import time_of
from passes_plugins.imaging.cautions import note

if TYPE_CHECKING:
    from passes_plugins.imaging.case import Case
    from passes_plugins.imaging.following import Blind

#: From this chance on a blind prediction is trusted.
_TRUSTED = 0.9
#: An offset below this is none, ′.
_ASIDE_ARCMIN = 0.5


def blind(case: Case) -> Iterator[Note]:
    """The chance of following a prediction without looking, and what to do about it."""
    found = case.blind
    if found is None or case.way != "follow":
        return
    text = (
        f"Followed blind it is on the chip ({_chip(case)}) with a chance "
        f"of {100 * found.chance:.0f} %: 95 % miss {found.miss_arcmin:.0f}′ (timing, "
        f"path, mount{_aside(case, found)})"
    )
    if found.chance < _TRUSTED:
        text += (
            ". So: full frame; centre it through a finder or the wide camera, and crop "
            f"only then{_smaller(case)}; or measure its lateness on an earlier pass "
            "(--late-by)"
        )
    else:
        text += ": a smaller region and a higher frame rate may be used"
        text += _smaller(case)
    yield note(
        "why",
        f"{text}.",
        blind_chance=found.chance,
        blind_miss_arcmin=found.miss_arcmin,
    )


def _chip(case: Case) -> str:
    """Width and height of the field."""
    wide, high = case.bench.width_deg, case.bench.height_deg
    if wide > 1.0:
        return f"{wide:.1f}° × {high:.1f}°"
    return f"{60.0 * wide:.1f}′ × {60.0 * high:.1f}′"


def _aside(case: Case, found: Blind) -> str:
    """The part of the offset, and what syncing through this rig itself would give."""
    if found.aside_arcmin < _ASIDE_ARCMIN:
        return ""
    lead = "the main instrument" if case.lead is None else case.lead.rig.name
    return (
        f", this rig {found.aside_arcmin:.0f}′ beside {lead}; synced through this rig "
        f"itself {100 * found.synced_here:.0f} %"
    )


def _smaller(case: Case) -> str:
    """The mode to crop to once the object is centred."""
    modes, now = case.bench.rig.modes, case.bench.mode
    if now is None:
        return ""
    area = now.width_px * now.height_px
    faster = [
        m
        for m in modes
        if m.binning == 1
        and m.width_px * m.height_px < area
        and m.frame_rate_hz > now.frame_rate_hz
    ]
    if not faster:
        return ""
    best = max(faster, key=lambda m: m.frame_rate_hz)
    return (
        f" (“{best.name}”, {best.width_px} × {best.height_px} px, "
        f"{best.frame_rate_hz:.0f} a second)"
    )


def mount(case: Case) -> Iterator[Note]:
    """Which part of the path each axis keeps up with, and where to start."""
    found, carrier = case.following, case.bench.rig.mount
    follows = case.way == "follow" or carrier.follows_satellites
    if found is None or case.lead is not None or not follows:
        return
    text = _shares(case)
    if found.pole is not None:
        pole = "pole" if carrier.kind == "equatorial" else "zenith"
        text += (
            f"; {found.axes[0]} fastest at {time_of(case, found.pole)}, nearest the "
            f"{pole}: {found.worst_deg_s:.1f}°/s"
        )
        if isfinite(found.worst_deg_s2):
            text += f" and {found.worst_deg_s2:.2g}°/s²"
    if found.stretch is not None:
        first, last = found.stretch
        text += f". Follow from {time_of(case, first)} to {time_of(case, last)}"
    yield note("why", f"{text}.")
    if found.pier:
        yield note("why", f"Start with the {found.pier}.")


def _shares(case: Case) -> str:
    """How much of the usable path each axis reaches."""
    found, usable = case.following, case.scene.usable
    assert found is not None
    shares = [100.0 * (r & usable).sum() / max(usable.sum(), 1) for r in found.reach]
    if min(shares) == 100.0:
        return "Both axes keep up all the way"
    return (
        f"{found.axes[0].capitalize()} keeps up for {shares[0]:.0f} % of the usable "
        f"path, {found.axes[1]} for {shares[1]:.0f} %"
    )
