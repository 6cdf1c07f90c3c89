"""Element text in: from what is published to a :class:`Catalogue`."""

from passes.elements.catalogue import (
    ELEMENT_COLUMNS,
    Catalogue,
    ElementSet,
    Skipped,
    as_catalogue,
    make_satrec,
)
from passes.elements.choosing import duplicates, nearest
from passes.elements.publishing import details_of, fits_tle, omm_text, tle_text
from passes.elements.reading import FORMS, FileRead, Form, Reading, read, read_text
from passes.elements.source import Limits, limits
from passes.elements.told import rejected_lines

__all__ = [
    "ELEMENT_COLUMNS",
    "FORMS",
    "Catalogue",
    "ElementSet",
    "FileRead",
    "Form",
    "Limits",
    "Reading",
    "Skipped",
    "as_catalogue",
    "details_of",
    "duplicates",
    "fits_tle",
    "limits",
    "make_satrec",
    "nearest",
    "omm_text",
    "read",
    "read_text",
    "rejected_lines",
    "tle_text",
]
