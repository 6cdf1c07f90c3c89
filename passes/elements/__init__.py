"""Element text in and out: from what is published to a :class:`Catalogue`."""

from passes.elements.catalogue import (
    ELEMENT_COLUMNS,
    Catalogue,
    ElementSet,
    Skipped,
    make_satrec,
)

__all__ = ["ELEMENT_COLUMNS", "Catalogue", "ElementSet", "Skipped", "make_satrec"]
