"""Several rigs on one platform: one pointing, and where they cannot serve together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from passes import optics
from passes.model import Advice, Rig

_DEG = 57.29577951308232


@dataclass(frozen=True, slots=True)
class Shared:
    """One rig beside the main one; ``conflict`` is empty where both can serve."""

    rig: str
    main: str
    right_arcmin: float
    up_arcmin: float
    in_field: bool
    conflict: str


def serve_together(rigs: Sequence[Rig], advice: Sequence[Advice]) -> list[Shared]:
    """Hold each rig against the main one: offset, field, what the mount must do."""
    if len(rigs) < 2:
        return []
    main = min(range(len(rigs)), key=lambda i: (hypot(*rigs[i].offset_arcmin), i))
    return [
        _shared(rigs[main], advice[main], rigs[i], advice[i])
        for i in range(len(rigs))
        if i != main
    ]


def _shared(main: Rig, lead: Advice, rig: Rig, advice: Advice) -> Shared:
    right = rig.offset_arcmin[0] - main.offset_arcmin[0]
    up = rig.offset_arcmin[1] - main.offset_arcmin[1]
    half = [
        30.0
        * _DEG
        * float(optics.field_rad(n, rig.pixel_um, rig.effective_focal_length_mm))
        for n in (rig.width_px, rig.height_px)
    ]
    inside = abs(right) < half[0] and abs(up) < half[1]
    return Shared(
        rig.name,
        main.name,
        right,
        up,
        inside,
        _conflict(main, lead, rig, advice, inside),
    )


def _conflict(main: Rig, lead: Advice, rig: Rig, advice: Advice, inside: bool) -> str:
    ways = lead.settings.get("way"), advice.settings.get("way")
    if ways == ("follow", "trail"):
        return (
            f"{main.name} follows, and {rig.name} would follow with it: stars trail "
            f"and the landscape smears. Put {rig.name} on its own tripod"
        )
    if None not in ways and ways[0] != ways[1]:
        return f"{main.name} wants the mount to {ways[0]}, {rig.name} to {ways[1]}"
    if not inside:
        return f"with {main.name} on the object, {rig.name} looks past it"
    return ""
