"""What can hurt or get someone into trouble; it stands on every output."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from passes.model import Event

SUN = (
    "SUN: a certified full-aperture solar filter on every telescope, lens and finder "
    "before it points there. Never look or point unfiltered, not for a moment; cover "
    "everything while slewing."
)
SUN_UP = (
    "The Sun is up: cover telescope and finder while slewing, and keep every optic "
    "well away from it."
)
GROUND = (
    "Stop only where stopping is allowed and safe; do not follow the line while "
    "driving. Local rules and licensed practice come first."
)
#: With the Sun no lower than this some of it is up, degrees.
_UP_DEG = -1.0
DEMO = "Demo: the site and the objects are invented."


def cautions(bodies: Iterable[str], events: Iterable[Event] = ()) -> tuple[str, ...]:
    """The sentences that belong to these bodies and events, the gravest first."""
    if "sun" in set(bodies):
        return (SUN, GROUND)
    if any(_by_day(event) for event in events):
        return (SUN_UP, GROUND)
    return (GROUND,)


def _by_day(event: Event) -> bool:
    altitude = event.details.get("sun_altitude_deg")
    return isinstance(altitude, int | float) and altitude > _UP_DEG


def cautions_of(event: Event) -> tuple[str, ...]:
    """Those of one event."""
    return cautions((str(event.details.get("body", "")),), (event,))
