"""Strips on the ground as GPX 1.1: points first, then the lines as tracks.

Heights are left out: GPX counts them from the sea, this program from the ellipsoid.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as Xml

from passes_plugins.transits.date_line import cut_line
from passes_plugins.transits.places_of import Ground, Point, grounds, headline

if TYPE_CHECKING:
    from passes.contributions import Answer

_NAMESPACE = "http://www.topografix.com/GPX/1/1"


def export(answer: Answer) -> str:
    """Way-points with their times, and a track for each line of each strip."""
    root = Xml.Element("gpx", version="1.1", creator="passes", xmlns=_NAMESPACE)
    metadata = Xml.SubElement(root, "metadata")
    _text(metadata, "name", "Transits" + (" (invented)" if answer.demo else ""))
    _text(metadata, "desc", headline(answer))
    found = list(grounds(answer))
    for ground in found:
        for spot in ground.spots:
            point = _point(root, "wpt", spot.at)
            _text(point, "time", spot.time)
            _text(point, "name", spot.name)
            words = [f"{key}: {value}" for key, value in spot.words.items()]
            _text(point, "desc", "\n".join([ground.name, *words, ground.caution]))
            _text(point, "type", spot.role)
    for ground in found:
        _tracks(root, ground)
    Xml.indent(root, " ")
    declaration = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return declaration + Xml.tostring(root, encoding="unicode") + "\n"


def _tracks(root: Xml.Element, ground: Ground) -> None:
    for name, points in (
        ("centre line", ground.centre),
        ("left edge", ground.left),
        ("right edge", ground.right),
    ):
        if len(points) < 2:
            continue
        track = Xml.SubElement(root, "trk")
        _text(track, "name", f"{name}, {ground.name}")
        _text(track, "desc", ground.told())
        for piece in cut_line(points):
            segment = Xml.SubElement(track, "trkseg")
            for point in piece:
                _point(segment, "trkpt", point)


def _point(parent: Xml.Element, tag: str, at: Point) -> Xml.Element:
    longitude = (at[0] + 180.0) % 360.0 - 180.0  # GPX has no longitude of 180
    return Xml.SubElement(parent, tag, lat=f"{at[1]:.6f}", lon=f"{longitude:.6f}")


def _text(parent: Xml.Element, tag: str, text: str) -> None:
    Xml.SubElement(parent, tag).text = text
