"""What files for maps have of transits: lines, edges, points, words about them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from passes.tables import plain
from passes_plugins.transits.cautions import DEMO, cautions, cautions_of
from passes_plugins.transits.telling import iso

if TYPE_CHECKING:
    from passes.contributions import Answer
    from passes.model import Event, Site

Point = list[float]
Words = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A point worth a mark: longitude and latitude, its time, and what it is."""

    role: str
    name: str
    at: Point
    time: str
    words: Words


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One transit on the ground; the lines are empty where no strip was asked for."""

    id: str
    name: str
    words: Words
    caution: str
    centre: list[Point]
    left: list[Point]
    right: list[Point]
    spots: tuple[Spot, ...]

    @property
    def outline(self) -> list[Point]:
        """The strip as a closed ring; empty where there is none."""
        if len(self.left) < 2 or len(self.right) < 2:
            return []
        return [*self.right, *reversed(self.left), self.right[0]]

    def told(self) -> str:
        """Everything about it in a few lines."""
        lines = [
            f"{key}: {value}" for key, value in self.words.items() if value is not None
        ]
        return "\n".join([*lines, self.caution])


def headline(answer: Answer) -> str:
    """What the whole file says first: whether it is invented, and the cautions."""
    bodies = [str(event.details.get("body", "")) for event in answer.items]
    wanted = answer.document.get("searched", {})
    bodies += list(wanted.get("bodies", ())) if isinstance(wanted, dict) else []
    parts = [DEMO] if answer.demo else []
    return " ".join([*parts, *cautions(bodies, answer.items)])


def grounds(answer: Answer) -> Iterator[Ground]:
    """Every transit of an answer."""
    for event in answer.items:
        yield _ground(event, answer.site)


def _ground(event: Event, site: Site | None) -> Ground:
    details = event.details
    strip = details.get("strip") or {}
    body = str(details.get("body", "")).capitalize() or "Transit"
    name = f"{body}: {plain(event.subject, 60)}, {iso(event.best)}"
    spots = list(_spots(event, strip))
    if not spots:
        spots = list(_seen_from(event, site))
    return Ground(
        id=event.id,
        name=name,
        words=_words(event, strip),
        caution=" ".join(cautions_of(event)),
        centre=list(strip.get("centre", ())),
        left=list(strip.get("left", ())),
        right=list(strip.get("right", ())),
        spots=tuple(spots),
    )


def _words(event: Event, strip: Words) -> Words:
    details = event.details
    words: Words = {
        "transit": event.id,
        "body": details.get("body"),
        "object": plain(event.subject, 60),
        "catalog_number": event.catalog_number,
        "time": iso(event.best),
    }
    bound = event.timing_bound_s
    words["timing_bound_s"] = None if bound != bound else round(bound, 2)
    for key in ("duration_s", "offset_radii", "altitude_deg", "azimuth_deg"):
        words[key] = details.get(key)
    for key in ("width_km", "shift_km", "height_m", "decide_from"):
        if key in strip:
            words[f"strip_{key}" if key != "decide_from" else key] = strip[key]
    return words


def _spots(event: Event, strip: Words) -> Iterator[Spot]:
    if not strip:
        return
    nearest = strip["nearest"]
    yield _spot("nearest", "nearest point of the centre line", nearest)
    for point in strip["way_points"]:
        yield _spot("way-point", f"{point['along_km']:g} km along the line", point)


def _spot(role: str, name: str, point: Words) -> Spot:
    words = {key: point[key] for key in point if not key.endswith("itude_deg")}
    words["altitude_deg"] = point["altitude_deg"]
    return Spot(
        role=role,
        name=f"{name}, {point['time'][11:21]} UTC",
        at=[point["longitude_deg"], point["latitude_deg"]],
        time=point["time"],
        words=words,
    )


def _seen_from(event: Event, site: Site | None) -> Iterator[Spot]:
    """The place from which it is seen, where no strip was asked for."""
    held = event.details.get("place")
    if held:
        at = [held["longitude_deg"], held["latitude_deg"]]
    elif site is not None:
        at = [(site.longitude_deg + 180.0) % 360.0 - 180.0, site.latitude_deg]
    else:
        return
    yield Spot(role="site", name="site", at=at, time=iso(event.best), words={})
