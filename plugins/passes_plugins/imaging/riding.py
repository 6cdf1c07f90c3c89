"""Several instruments on one platform: one leads, the others look where it takes them.

Each looks aside of the leading one by its offset, which is measured in the frame of the
platform's main instrument (right, up).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import hypot

import numpy as np

from passes.contributions import Briefing
from passes.model import Advice, Rig


@dataclass(frozen=True, slots=True)
class Lead:
    """The leading rig, what its mount does, and when the object is where it points."""

    rig: Rig
    way: str
    time: datetime | None


def leading(rigs: Sequence[Rig]) -> int:
    """Which of some rigs leads: the first of those that look the least aside."""
    return min(range(len(rigs)), key=lambda i: (hypot(*rigs[i].offset_arcmin), i))


def lead_of(rig: Rig, advice: Advice) -> Lead | None:
    """What a leading rig's advice asks of the others; None where it asks nothing."""
    way = str(advice.settings.get("way", ""))
    if way not in ("follow", "stars", "fixed") or advice.pointing is None:
        return None
    return Lead(rig, way, advice.pointing.time)


def ridden(briefing: Briefing, lead: Lead) -> Briefing:
    """The same question for a rig that sits on the leading one's mount."""
    return replace(briefing, rig=replace(briefing.rig, mount=lead.rig.mount))


def aside_arcmin(rig: Rig, lead: Rig | None) -> tuple[float, float]:
    """How far this rig looks from the leading (else the main) one, in its own frame."""
    right, up = np.nan_to_num(rig.offset_arcmin)
    if lead is None:
        return float(right), float(up)
    there = np.nan_to_num(lead.offset_arcmin)
    turn = np.radians(rig.rotation_deg - lead.rotation_deg)
    c, s = np.cos(turn), np.sin(turn)
    x, y = right - there[0], up - there[1]
    return float(x * c + y * s), float(y * c - x * s)
