"""Strips on the ground as GeoJSON (RFC 7946): longitude first, WGS 84, cut at 180°."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from passes.model.text import json_safe
from passes_plugins.transits.date_line import cut_line, cut_ring
from passes_plugins.transits.places_of import Ground, Point, grounds, headline

if TYPE_CHECKING:
    from passes.contributions import Answer

Feature = dict[str, Any]


def export(answer: Answer) -> str:
    """A collection of features: the strip, its lines, its points."""
    features = [
        json.dumps(feature, ensure_ascii=False, allow_nan=False)
        for ground in grounds(answer)
        for feature in _features(ground, answer.demo)
    ]
    head: Feature = {"type": "FeatureCollection", "description": headline(answer)}
    head["demo"] = answer.demo
    opening = json.dumps(head, ensure_ascii=False)[:-1]
    text = opening + ', "features": [\n' + ",\n".join(features) + "\n]}\n"
    return json_safe(text)


def _features(ground: Ground, demo: bool) -> Iterator[Feature]:
    common = {"name": ground.name, "demo": demo, "caution": ground.caution}
    if ground.outline:
        yield _feature(
            f"{ground.id}-strip",
            _area(ground.outline),
            {**common, "role": "strip", **ground.words},
        )
    lines = (("centre", ground.centre), ("left", ground.left), ("right", ground.right))
    for role, points in lines:
        if len(points) > 1:
            what = "centre line" if role == "centre" else f"{role} edge"
            yield _feature(
                f"{ground.id}-{role}",
                _line(points),
                {**common, "role": what, **ground.words},
            )
    for k, spot in enumerate(ground.spots):
        yield _feature(
            f"{ground.id}-point-{k}",
            {"type": "Point", "coordinates": spot.at},
            {
                **common,
                "name": spot.name,
                "role": spot.role,
                "transit": ground.id,
                "time": spot.time,
                **spot.words,
            },
        )


def _feature(name: str, geometry: Feature, properties: Feature) -> Feature:
    return {
        "type": "Feature",
        "id": name,
        "geometry": geometry,
        "properties": properties,
    }


def _line(points: list[Point]) -> Feature:
    pieces = cut_line(points)
    if len(pieces) == 1:
        return {"type": "LineString", "coordinates": pieces[0]}
    return {"type": "MultiLineString", "coordinates": pieces}


def _area(ring: list[Point]) -> Feature:
    rings = cut_ring(ring)
    if len(rings) == 1:
        return {"type": "Polygon", "coordinates": rings}
    return {"type": "MultiPolygon", "coordinates": [[one] for one in rings]}
