"""What can hurt or get someone into trouble; it stands on every output."""

from __future__ import annotations

from collections.abc import Iterable

SUN = (
    "SUN: a certified full-aperture solar filter on every telescope, lens and finder "
    "before it points there. Never look or point unfiltered, not for a moment; cover "
    "everything while slewing."
)
GROUND = (
    "Stop only where stopping is allowed and safe; do not follow the line while "
    "driving. Local rules and licensed practice come first."
)
DEMO = "Invented: a demonstration. Sites and objects do not exist."


def cautions(bodies: Iterable[str]) -> tuple[str, ...]:
    """The sentences that belong to these bodies, the gravest first."""
    return (SUN, GROUND) if "sun" in set(bodies) else (GROUND,)
