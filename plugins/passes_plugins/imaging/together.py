"""Several rigs on one platform: one pointing, and where they cannot serve together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import nan
from typing import Any

from passes.model import Advice, Rig
from passes_plugins.imaging.riding import aside_arcmin, leading

#: What a way to shoot asks of the mount.
_WANTED = {
    "follow": "follow the object",
    "stars": "go with the stars",
    "fixed": "stand still and wait",
    "trail": "stand still for a trail",
}


@dataclass(frozen=True, slots=True)
class Shared:
    """One rig beside the leading one; ``conflict`` is empty where both can serve.

    ``in_field``: with the leading rig on the object, this one has it too.  ``chance``
    is that of having it when the leading rig follows blind or waits; nan is unknown.
    """

    rig: str
    main: str
    right_arcmin: float
    up_arcmin: float
    in_field: bool
    chance: float
    conflict: str


def serve_together(rigs: Sequence[Rig], advice: Sequence[Advice]) -> list[Shared]:
    """Hold each rig against the leading one: offset, field, what the mount must do."""
    if len(rigs) < 2:
        return []
    main = leading(rigs)
    return [
        _shared(rigs[main], advice[main], rigs[i], advice[i])
        for i in range(len(rigs))
        if i != main
    ]


def _shared(main: Rig, lead: Advice, rig: Rig, advice: Advice) -> Shared:
    right, up = aside_arcmin(rig, main)
    width_deg, height_deg = rig.field_deg
    inside = abs(right) < 30.0 * width_deg and abs(up) < 30.0 * height_deg
    return Shared(
        rig=rig.name,
        main=main.name,
        right_arcmin=right,
        up_arcmin=up,
        in_field=inside,
        chance=_chance(advice),
        conflict=_conflict(main, lead, rig, advice, inside),
    )


def _chance(advice: Advice) -> float:
    settings: Any = advice.settings
    if not settings.get("rides_with"):
        return nan
    if settings.get("way") == "follow":
        found = (settings.get("following") or {}).get("blind_chance")
    else:
        found = next((one["chance"] for one in settings.get("waiting") or ()), None)
    return nan if found is None else float(found)


def _conflict(main: Rig, lead: Advice, rig: Rig, advice: Advice, inside: bool) -> str:
    ways = lead.settings.get("way"), advice.settings.get("way")
    if ways == ("follow", "trail"):
        return (
            f"{main.name} follows, and {rig.name} would follow with it: stars trail "
            f"and the landscape smears. Put {rig.name} on its own tripod"
        )
    if None not in ways and ways[0] != ways[1]:
        first, second = (_WANTED[str(way)] for way in ways)
        return f"{main.name} wants the mount to {first}, {rig.name} to {second}"
    if ways == ("follow", "follow") and not inside:
        return f"with {main.name} on the object, {rig.name} looks past it"
    if not inside and not _chance(advice) > 0.0:
        return f"what crosses the field of {main.name} passes {rig.name} by"
    return ""
