"""Which passes of a night are worth going outside for, and why the others are not."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from passes.elements import Skipped
from passes.forecast.passages import Passages
from passes.model import Brightest, Night, Note, Passage, Site, Span

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EndedBy = Literal["horizon", "shadow", "dawn", "fades", ""]


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """What was searched, so that an empty answer still says something.

    ``whole`` says that everything was searched, not only objects asked for by name.
    """

    objects: int = 0
    classes: dict[str, int] = field(default_factory=dict)
    skipped: tuple[Skipped, ...] = ()
    rejected: tuple[Skipped, ...] = ()
    median_age_days: float = float("nan")
    oldest_age_days: float = float("nan")
    whole: bool = True

    def document(self) -> dict[str, Any]:
        """The JSON shape."""
        return {
            "objects": self.objects,
            "classes": self.classes,
            "skipped": [
                {
                    "catalog_number": one.catalog_number,
                    "name": one.name,
                    "reason": one.reason,
                }
                for one in self.skipped
            ],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class TonightRow:
    """One row: a passage, or several objects flying in file under one.

    ``best`` is the brightest moment while visible (else the brightest at all);
    ``span`` runs from the first visible moment of the row to the last.
    """

    passage: Passage
    best: Brightest | None
    span: Span | None
    worth: float
    ended_by: EndedBy
    group: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tonight:
    """The answer of ``passes tonight``."""

    site: Site
    night: Night
    window: Span
    searched: Searched
    rows: Sequence[TonightRow]
    passages: Passages
    notes: tuple[Note, ...] = ()
    demo: bool = False

    def document(self) -> dict[str, Any]:
        """The JSON shape of a list of passes."""
        return {
            "site": site_document(self.site),
            "window": {"start": iso(self.window.start), "end": iso(self.window.end)},
            "searched": self.searched.document(),
            "demo": self.demo,
            "passes": self.passages.documents(),
        }

    def records(self) -> Iterator[dict[str, Any]]:
        """Flat rows for CSV: one passage a row."""
        for one in self.passages.documents():
            yield flat(one) | {"demo": self.demo}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What the person wants listed."""

    limit: int = 12
    magnitude: float | None = None
    min_visible_altitude_deg: float = 15.0
    everything: bool = False
    named: bool = False  #: the objects were asked for by name


def site_document(site: Site) -> dict[str, Any]:
    """The JSON shape of a site."""
    return {
        "name": site.name,
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "height_m": site.height_m,
        "zone": site.zone,
    }


#: What a nested moment unfolds to in a flat row.
_MOMENT = ("time", "altitude_deg", "azimuth_deg", "range_km")
_NESTED = {
    "rise": _MOMENT,
    "culmination": _MOMENT,
    "set": _MOMENT,
    "brightest": (
        *_MOMENT,
        "magnitude",
        "magnitude_above_atmosphere",
        "magnitude_sigma",
        "magnitude_basis",
        "phase_angle_deg",
        "angular_rate_deg_s",
    ),
}


def flat(document: dict[str, Any]) -> dict[str, Any]:
    """A pass document as one flat row: nested keys joined by ``_``."""
    row: dict[str, Any] = {}
    for key, value in document.items():
        if key in _NESTED:
            inner = value or {}
            row.update({f"{key}_{name}": inner.get(name) for name in _NESTED[key]})
        elif isinstance(value, list):
            row[key] = " ".join(_word(one) for one in value)
        else:
            row[key] = value
    return row


def _word(value: Any) -> str:
    if isinstance(value, dict):
        return "/".join(str(v) for v in list(value.values())[:2])
    return str(value)


def iso(time: datetime) -> str:
    """A time in UTC as ISO 8601 with milliseconds and ``Z``."""
    return time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
