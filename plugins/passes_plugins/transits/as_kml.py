"""Strips on the ground as KML 2.2 (OGC 07-147r2)."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree as Xml

from passes_plugins.transits.places_of import Ground, Point, Spot, grounds, headline

if TYPE_CHECKING:
    from passes.contributions import Answer

_NAMESPACE = "http://www.opengis.net/kml/2.2"
#: Colours as KML has them: opacity, blue, green, red.
_STYLES = {
    "centre": ("ff3030d0", "3"),
    "edge": ("ffa06030", "1.5"),
    "strip": ("40a06030", "0"),
}


def export(answer: Answer) -> str:
    """One folder a transit: the strip, its lines, its points with their times."""
    root = Xml.Element("kml", xmlns=_NAMESPACE)
    document = Xml.SubElement(root, "Document")
    _text(document, "name", "Transits" + (" (invented)" if answer.demo else ""))
    _text(document, "description", headline(answer))
    for name, (colour, width) in _STYLES.items():
        style = Xml.SubElement(document, "Style", id=name)
        if name == "strip":
            _text(Xml.SubElement(style, "PolyStyle"), "color", colour)
        else:
            line = Xml.SubElement(style, "LineStyle")
            _text(line, "color", colour)
            _text(line, "width", width)
    for ground in grounds(answer):
        _folder(document, ground)
    Xml.indent(root, " ")
    declaration = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return declaration + Xml.tostring(root, encoding="unicode") + "\n"


def _folder(document: Xml.Element, ground: Ground) -> None:
    folder = Xml.SubElement(document, "Folder")
    _text(folder, "name", ground.name)
    _text(folder, "description", ground.told())
    if ground.outline:
        mark = _mark(folder, "strip", ground.told(), "strip")
        polygon = Xml.SubElement(mark, "Polygon")
        _text(polygon, "tessellate", "1")
        outer = Xml.SubElement(polygon, "outerBoundaryIs")
        _coordinates(Xml.SubElement(outer, "LinearRing"), ground.outline)
    for name, style, points in (
        ("centre line", "centre", ground.centre),
        ("left edge", "edge", ground.left),
        ("right edge", "edge", ground.right),
    ):
        if len(points) > 1:
            line = Xml.SubElement(
                _mark(folder, name, ground.told(), style), "LineString"
            )
            _text(line, "tessellate", "1")
            _coordinates(line, points)
    for spot in ground.spots:
        _point(folder, spot, ground.caution)


def _point(folder: Xml.Element, spot: Spot, caution: str) -> None:
    mark = Xml.SubElement(folder, "Placemark")
    _text(mark, "name", spot.name)
    words = [f"{key}: {value}" for key, value in spot.words.items()]
    _text(mark, "description", "\n".join([*words, caution]))
    _text(Xml.SubElement(mark, "TimeStamp"), "when", spot.time)
    _coordinates(Xml.SubElement(mark, "Point"), [spot.at])


def _mark(folder: Xml.Element, name: str, told: str, style: str) -> Xml.Element:
    mark = Xml.SubElement(folder, "Placemark")
    _text(mark, "name", name)
    _text(mark, "description", told)
    _text(mark, "styleUrl", f"#{style}")
    return mark


def _coordinates(parent: Xml.Element, points: list[Point]) -> None:
    _text(parent, "coordinates", " ".join(f"{x:.6f},{y:.6f},0" for x, y in points))


def _text(parent: Xml.Element, tag: str, text: str) -> None:
    Xml.SubElement(parent, tag).text = text
