"""Text tables for people; figures and files for machines are made elsewhere."""

from passes.objects import counted_classes
from passes.tables.layout import Column, Screen, Theme, labelled, listing, paragraph
from passes.tables.text import (
    BESIDE_SUN,
    UNKNOWN,
    caveats,
    clock,
    compass,
    magnitude,
    number,
    offset,
    plain,
    seconds,
    span,
    step_s,
    zone_of,
)
from passes.tables.tonight import place, searched, tonight_page
from passes.tables.track import track_page

__all__ = [
    "BESIDE_SUN",
    "UNKNOWN",
    "Column",
    "Screen",
    "Theme",
    "caveats",
    "clock",
    "compass",
    "counted_classes",
    "labelled",
    "listing",
    "magnitude",
    "number",
    "offset",
    "paragraph",
    "place",
    "plain",
    "searched",
    "seconds",
    "span",
    "step_s",
    "tonight_page",
    "track_page",
    "zone_of",
]
