"""Numbers, angles and times as JSON holds them."""

from __future__ import annotations

from datetime import datetime
from math import isfinite
from typing import Any


def number(value: Any, digits: int = 4) -> float | None:
    """A number to some significant digits; None where it is unknown."""
    value = float(value)
    if not isfinite(value):
        return None
    return float(f"{value:.{digits}g}")


def angle(value: Any) -> float | None:
    """Degrees to a third of an arcsecond."""
    return round(float(value), 4) if isfinite(value) else None


def iso(time: datetime | None) -> str | None:
    """A time as files hold it."""
    if time is None:
        return None
    return time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
