"""Answers taken apart by readers that know nothing of us: shape, and texts in it.

The shape is what must not depend on names: which elements, attributes, properties and
keys there are.  The texts are where names may stand.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree

from hostile.names import harm, stacked


@dataclass
class Taken:
    """An answer: its shape, the texts in it, and what is wrong with it in itself."""

    shape: Any = None
    texts: list[str] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)


Reader = Callable[[bytes], Taken]


def page(content: bytes) -> Taken:
    """What a person reads on a terminal."""
    text = content.decode("utf-8")
    found = [harm(text), stacked(text)]
    return Taken(None, text.splitlines(), [one for one in found if one])


def table(content: bytes) -> Taken:
    """CSV, as RFC 4180 has it; no cell is a formula."""
    rows = list(
        csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True)
    )
    cells = [cell for row in rows for cell in row]
    wrong = [f"formula {cell[:20]!r}" for cell in cells if _is_formula(cell)]
    wrong += [f"in a cell: {harm(cell)}" for cell in cells if harm(cell, allowed="")]
    meant = [cell.removeprefix("'").replace(";'", ";") for cell in cells]
    return Taken([len(row) for row in rows], meant, wrong)


def _is_formula(cell: str) -> bool:
    """Whether a spreadsheet would compute it (OWASP, "CSV Injection")."""
    try:
        float(cell)
    except ValueError:
        starts = [cell, *cell.split(";")[1:]]
        return any(start[:1] in tuple("=+-@\t\r＝＋－＠") for start in starts if start)
    return False


def document(content: bytes) -> Taken:
    """JSON: RFC 8259, so no NaN; nothing in the bytes that could steer a terminal."""

    def refuse(word: str) -> Any:
        raise ValueError(f"{word} is no JSON")

    text = content.decode("utf-8")
    found = json.loads(text, parse_constant=refuse)
    raw = harm(text)
    return Taken(_keys(found), list(_strings(found)), [raw] if raw else [])


def lines(content: bytes) -> Taken:
    """JSON Lines."""
    taken = [document(line) for line in content.splitlines()]
    return Taken(
        [one.shape for one in taken],
        [text for one in taken for text in one.texts],
        [trouble for one in taken for trouble in one.trouble],
    )


def _keys(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _keys(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_keys(inner) for inner in value]
    return "text" if isinstance(value, str) else type(value).__name__


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    inside = value.values() if isinstance(value, dict) else value
    if isinstance(value, dict | list):
        for inner in inside:
            yield from _strings(inner)


class _Html(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.taken = Taken([])

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.taken.shape.append((tag, [name for name, _ in attrs]))
        for name, value in attrs:
            if name.startswith("on") or "javascript:" in (value or "").lower():
                self.taken.trouble.append(f"<{tag} {name}>")
        if tag in ("script", "iframe", "object", "embed", "img", "link", "base"):
            self.taken.trouble.append(f"<{tag}>")

    def handle_data(self, data: str) -> None:
        self.taken.texts.append(data)
        if wrong := harm(data):
            self.taken.trouble.append(wrong)


def html(content: bytes) -> Taken:
    """A page for a browser; pictures in it are looked at as drawings."""
    parser = _Html()
    parser.feed(content.decode("utf-8"))
    parser.close()
    # how finely an outline is drawn is the picture's own affair
    drawn = {"path", "g", "use", "defs", "clippath", "rect", "text", "tspan"}
    parser.taken.shape = [one for one in parser.taken.shape if one[0] not in drawn]
    return parser.taken


def drawing(content: bytes) -> Taken:
    """SVG: only what draws, nothing that acts or reaches outside."""
    taken = Taken(set())
    for element in ElementTree.fromstring(content).iter():
        tag = element.tag.rpartition("}")[2]
        taken.shape.add(tag)
        taken.texts += [text for text in (element.text, element.tail) if text]
        for name, value in element.attrib.items():
            bare = name.rpartition("}")[2].lower()
            away = bare == "href" and not value.startswith("#")
            if bare.startswith("on") or (away and tag != "resource"):
                taken.trouble.append(f"<{tag} {bare}>")
    taken.trouble += [w for text in taken.texts if (w := harm(text))]
    return taken


def kml(content: bytes) -> Taken:
    """KML, by fastkml."""
    from fastkml import KML

    found = KML.from_string(content.decode("utf-8").partition("\n")[2])
    taken = _xml(content)
    taken.trouble += [] if list(found.features) else ["no features"]
    return taken


def gpx(content: bytes) -> Taken:
    """GPX, by gpxpy."""
    import gpxpy

    found = gpxpy.parse(content.decode("utf-8"))
    taken = _xml(content)
    taken.trouble += [] if found.waypoints else ["no way-points"]
    return taken


def _xml(content: bytes) -> Taken:
    root = ElementTree.fromstring(content)
    texts = [e.text for e in root.iter() if e.text]
    wrong = [w for text in texts if (w := harm(text))]
    return Taken([(e.tag, sorted(e.attrib)) for e in root.iter()], texts, wrong)


def geojson(content: bytes) -> Taken:
    """GeoJSON, by geojson."""
    import geojson as reader

    found = reader.loads(content.decode("utf-8"))
    taken = document(content)
    taken.trouble += [] if found.is_valid else [str(found.errors())]
    return taken


def calendar(content: bytes) -> Taken:
    """iCalendar, by icalendar; lines and properties as RFC 5545 has them."""
    from icalendar import Calendar

    taken = Taken([])
    folded = content.split(b"\r\n")
    if any(len(line) > 75 for line in folded) or b"\n" in b"".join(folded):
        taken.trouble.append("a line of over 75 octets, or one that ends in LF alone")
    unfolded = content.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")
    taken.shape = [re.split("[;:]", line, maxsplit=1)[0] for line in unfolded]
    for component in Calendar.from_ical(content).walk():
        for value in component.values():
            if isinstance(value, str):
                taken.texts.append(str(value))
                taken.trouble += [w] if (w := harm(value)) else []
    return taken
