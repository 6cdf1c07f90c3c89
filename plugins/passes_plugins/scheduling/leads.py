"""How long before and after an event each step comes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from math import isfinite
from typing import Any

from passes.errors import InputError

_MOST_S = 6 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leads:
    """Seconds; common practice, no source.

    ``ready_s`` and ``point_s`` before a recording starts; the recording itself runs
    from ``lead_s`` before the event to ``tail_s`` after it, each widened by the
    event's 95 % bound.  ``turn_s`` is what a rig needs from one subject to the next,
    ``unknown_bound_s`` stands in where no bound is known.
    """

    ready_s: float = 300.0
    point_s: float = 90.0
    lead_s: float = 10.0
    tail_s: float = 10.0
    turn_s: float = 20.0
    unknown_bound_s: float = 60.0

    @classmethod
    def of(cls, settings: Mapping[str, Any], typed: Mapping[str, Any]) -> Leads:
        """From a table of settings, with what was typed over it."""
        names = {place.name for place in fields(cls)}
        found: dict[str, float] = {}
        for name, value in settings.items():
            if name not in names:
                known = ", ".join(sorted(names))
                raise InputError(
                    f"[plugins.scheduling]: unknown setting {name!r} (known: {known})"
                )
            number = isinstance(value, int | float) and not isinstance(value, bool)
            if not (number and isfinite(value) and 0.0 <= value <= _MOST_S):
                raise InputError(
                    f"[plugins.scheduling] {name}: want seconds from 0 to "
                    f"{_MOST_S:g}, not {str(value)[:40]}"
                )
            found[name] = float(value)
        given = {k: v for k, v in typed.items() if k in names and v is not None}
        return replace(cls(**found), **given)
