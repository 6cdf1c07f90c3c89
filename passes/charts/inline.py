"""A figure as a piece of a page: nothing in it reaches outside, no id clashes."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING

from passes.charts.paper import content

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_METADATA = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)
_SIZE = re.compile(r'\s(?:width|height)="[^"]*pt"')
_ID = re.compile(r'\sid="([^"]*)"')
_USED = re.compile(r'(?:url\(#|xlink:href="#)([^)"]*)')
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_DECIMALS = re.compile(r"(\d\.\d\d)\d+")
_TAG = re.compile(r"<[^>]*>")
_SPACE = re.compile(r">\s+<")
_USE = re.compile(r'(url\(#|xlink:href="#)')


def inline_svg(figure: Figure, name: str, described: str) -> str:
    """The figure as an ``<svg>`` element that fills its column.

    ``name`` keeps its ids apart from those of other figures on the page;
    ``described`` is what those hear who do not see it.
    """
    text = content(figure, "svg").decode()
    body = _METADATA.sub("", text[text.index("<svg") :])
    opening, rest = body.split(">", 1)
    label = escape(described, quote=True)
    opening = f'{_SIZE.sub("", opening)} role="img" aria-label="{label}"'
    rest = _SPACE.sub("><", _COMMENT.sub("", rest))
    rest = _TAG.sub(lambda tag: _DECIMALS.sub(r"\1", tag[0]), rest)
    used = set(_USED.findall(rest))
    rest = _ID.sub(lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", rest)
    marked = _USE.sub(rf"\g<1>{name}-", rest)
    return f"{opening}>{marked}"
