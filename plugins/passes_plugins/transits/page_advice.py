"""What the advisers say about a transit, for the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from math import isfinite
from typing import TYPE_CHECKING

from passes.tables import Screen, clock, labelled, paragraph, plain

if TYPE_CHECKING:
    from passes.model import Advice


def advised(advice: Sequence[Advice], zone: tzinfo, screen: Screen) -> list[str]:
    """Settings of each rig, then remarks."""
    lines: list[str] = []
    for one in advice:
        lines.append(f"Rig {plain(one.rig, 40)} ({plain(one.adviser, 40)})")
        lines += labelled(_settings(one, zone), screen)
        for note in one.notes:
            lines += paragraph(f"- {plain(note.text, 600)}", screen, "  ")
    return lines


def _settings(one: Advice, zone: tzinfo) -> Iterator[tuple[str, str]]:
    if isfinite(one.exposure_s) and one.exposure_s > 0.0:
        dial = f"1/{1.0 / one.exposure_s:,.0f} s" if one.exposure_s < 0.4 else ""
        yield "Shutter", dial or f"{one.exposure_s:.1f} s"
    if one.gain:
        yield "Gain", plain(one.gain, 40)
    if isfinite(one.frame_rate_hz):
        yield "Frames", f"{one.frame_rate_hz:.0f} a second"
    if one.start and one.stop:
        length = (one.stop - one.start).total_seconds()
        yield (
            "Record",
            f"{clock(one.start, zone, 1.0)} to {clock(one.stop, zone, 1.0)} "
            f"({length:.0f} s)",
        )
