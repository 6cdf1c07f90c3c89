"""Sample requests: what the host hands to each kind of contribution."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields as fields_of
from dataclasses import is_dataclass, replace
from datetime import datetime
from math import isfinite
from typing import Any, Final

from passes.contributions import (
    Answer,
    Briefing,
    ElementBatch,
    ElementQuery,
    Illumination,
    ObjectFacts,
    SessionBriefing,
)
from passes.testing import elements, instructions, places, sightings
from passes.testing.services import FakeServices


def query(**fields: Any) -> ElementQuery:
    """A query with no settings and no validators."""
    return replace(ElementQuery(name="sample"), **fields)


def batch(**fields: Any) -> ElementBatch:
    """What a source could answer: two invented element sets."""
    content = elements.element_text().encode()
    return replace(ElementBatch(content=content, origin="sample"), **fields)


def facts() -> tuple[ObjectFacts, ...]:
    """A station, a rocket body, and an object of which nothing is known."""
    return (
        ObjectFacts(
            catalog_number=80001,
            name="SAMPLE STATION",
            designator="2031-001A",
            object_class="station",
            perigee_km=418.0,
            apogee_km=424.0,
            inclination_deg=51.6,
        ),
        ObjectFacts(
            catalog_number=80002,
            name="SAMPLE ROCKET BODY",
            designator="2029-014B",
            object_class="rocket body",
            perigee_km=810.0,
            apogee_km=840.0,
            inclination_deg=81.2,
        ),
        ObjectFacts(catalog_number=80003, name=""),
    )


def illumination(**fields: Any) -> Illumination:
    """Six samples of three objects: near and far, full and new, high and low."""
    import numpy as np

    record = Illumination(
        facts=facts(),
        object_index=np.array([0, 0, 1, 1, 2, 2]),
        range_km=np.array([516.0, 1500.0, 850.0, 2400.0, 1000.0, 36000.0]),
        phase_angle_rad=np.array([1.6, 0.0, 0.7, 3.1, 1.57, 2.0]),
        altitude_rad=np.array([0.95, 0.2, 1.5, 0.05, 0.8, 0.6]),
    )
    return replace(record, **fields)


def no_illumination() -> Illumination:
    """The same question with nothing in it."""
    import numpy as np

    none = np.empty(0)
    return Illumination(
        facts=(),
        object_index=np.empty(0, dtype=np.int64),
        range_km=none,
        phase_angle_rad=none,
        altitude_rad=none,
    )


def briefing(**fields: Any) -> Briefing:
    """The sample passage for the long rig."""
    record = Briefing(
        track=sightings.track(),
        subject=sightings.passage(),
        rig=places.rig(),
        site=places.site(),
        growth=sightings.growth(),
        demo=True,
    )
    return replace(record, **fields)


def session_briefing(**fields: Any) -> SessionBriefing:
    """The sample session, with a crossing in its first sub."""
    record = SessionBriefing(
        session=places.session(),
        services=FakeServices(),
        crossings={0: (sightings.crossing(),), 1: (), 2: ()},
    )
    return replace(record, **fields)


#: The samples of each kind of answer that exporters may be given.
ANSWERS: Final[Mapping[str, Callable[[], tuple[Any, ...]]]] = {
    "passes": lambda: (sightings.passage(),),
    "track": lambda: (sightings.track(),),
    "transits": lambda: (sightings.event(),),
    "crossings": lambda: (sightings.crossing(),),
    "advice": lambda: (instructions.advice(),),
    "schedule": instructions.steps,
}


def answer(
    kind: str = "passes",
    items: Sequence[Any] | None = None,
    settings: Mapping[str, Any] | None = None,
) -> Answer:
    """Something to write: the sample records of that kind, and a JSON shape of them.

    The kinds of :data:`ANSWERS` have samples; others need ``items``.
    """
    if items is None:
        items = ANSWERS[kind]() if kind in ANSWERS else ()
    night = places.night()
    window = {"start": _plain(night.window.start), "end": _plain(night.window.end)}
    document = {"site": _plain(places.site()), "window": window, "demo": True}
    return Answer(
        kind=kind,
        items=tuple(items),
        document=document | {kind: [_plain(item) for item in items]},
        site=places.site(),
        window=night.window,
        demo=True,
        settings=settings or {},
    )


def _plain(value: Any) -> Any:
    """A record as JSON holds it: times in UTC with ``Z``, unknown numbers null."""
    if is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in fields_of(value)}
    if isinstance(value, datetime):
        return value.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if hasattr(value, "tolist"):
        return _plain(value.tolist())
    if isinstance(value, tuple | list):
        return [_plain(inner) for inner in value]
    return value
