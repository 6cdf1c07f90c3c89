"""Colours, lines and sizes of figures, in three themes.

Red on black keeps the eyes adapted to the dark (common practice).  Colour is never
the only carrier: what it tells is told by line style, mark or label as well, so that a
figure reads in greyscale and for colour-blind eyes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ThemeName = Literal["light", "dark", "red"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """The colours of one theme.

    ``paper`` lies under everything, ``panel`` under the data; ``ink`` writes and draws;
    ``quiet`` is for grids and edges, never for words; ``strong`` for what matters most;
    ``second`` for a second line; ``fill`` and ``shade`` for areas, which have an edge
    or a hatching as well; ``night`` for darkness.  On paper and panel ``ink`` has a
    contrast of 4.5 at least, ``quiet``, ``strong`` and ``second`` of 3 (WCAG 2.1,
    success criteria 1.4.3 and 1.4.11).
    """

    paper: str
    panel: str
    ink: str
    quiet: str
    strong: str
    second: str
    fill: str
    shade: str
    night: str


#: Blue and orange of the light and dark themes are told apart by all common kinds of
#: colour blindness (after Okabe and Ito's set, from memory).
PALETTES: dict[str, Palette] = {
    "light": Palette(
        paper="#ffffff",
        panel="#f4f6f9",
        ink="#1c2530",
        quiet="#76828f",
        strong="#0072b2",
        second="#c85600",
        fill="#cfd8e3",
        shade="#e69f00",
        night="#8591a0",
    ),
    "dark": Palette(
        paper="#101418",
        panel="#171d24",
        ink="#e4e9ef",
        quiet="#74808d",
        strong="#56b4e9",
        second="#e69f00",
        fill="#2b3642",
        shade="#7a5200",
        night="#3d4957",
    ),
    "red": Palette(
        paper="#000000",
        panel="#080000",
        ink="#f03434",
        quiet="#b02020",
        strong="#ff5050",
        second="#ff5050",
        fill="#3c0a0a",
        shade="#7a1515",
        night="#6a1212",
    ),
}


def palette(theme: str) -> Palette:
    """The palette of a theme; the light one where none is named."""
    return PALETTES.get(theme or "light", PALETTES["light"])
