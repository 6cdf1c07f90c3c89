"""Which of several element sets of one object serves a time best."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

import numpy as np

from passes.elements.catalogue import Catalogue


def nearest(catalogue: Catalogue, middle: datetime) -> Catalogue:
    """One set an object: the one whose epoch is nearest to an aware time.

    Of two equally near (to a microsecond, as the archive counts) the later one is
    taken, of two the same the first.  The order of the catalogue stays; the other sets
    are dropped.
    """
    number = catalogue.catalog_number
    epoch_s = catalogue.epoch_s(middle)
    order = np.lexsort((-epoch_s, np.rint(np.abs(epoch_s) * 1e6), number))
    first = np.ones(len(order), dtype=np.bool_)
    first[1:] = number[order][1:] != number[order][:-1]
    if first.all():
        return catalogue
    return catalogue.take(np.sort(order[first]))


def duplicates(catalogue: Catalogue) -> dict[int, int]:
    """Catalogue numbers that occur more than once, and how often."""
    counts = Counter(catalogue.catalog_number.tolist())
    return {number: n for number, n in sorted(counts.items()) if n > 1}
