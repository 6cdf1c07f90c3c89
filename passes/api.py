"""What a notebook imports: read elements, find passes, follow one of them.

>>> from passes.api import Site, find_passes, read_elements
>>> catalogue = read_elements("tonight.tle")                    # doctest: +SKIP
>>> site = Site(latitude_deg=37.1, longitude_deg=-3.4, height_m=1900)
>>> passages = find_passes(catalogue, site, start, end)         # doctest: +SKIP
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from passes.crossings import CrossingTable, search_crossings
from passes.elements import Catalogue, ElementSet, as_catalogue, nearest, read
from passes.finder import PassTable, search_passes
from passes.forecast import Passages, light_passes
from passes.forecast.crossings import Crossings, lit_crossings
from passes.forecast.errors_in_time import growth_of
from passes.forecast.guard import GuardedModel
from passes.model import Crossing, LineOfSight, Moment, Passage, Site, Span, Track
from passes.registry import Registry
from passes.renamed import former_names

__all__ = [
    "Catalogue",
    "Crossing",
    "CrossingTable",
    "Crossings",
    "ElementSet",
    "LineOfSight",
    "Moment",
    "PassTable",
    "Passage",
    "Passages",
    "Site",
    "Span",
    "Track",
    "find_crossings",
    "find_passes",
    "read_elements",
    "search_crossings",
    "search_passes",
    "with_ephemerides",
]

#: Former names of what this module offers, and the present ones.
FORMER: dict[str, str] = {}
__getattr__ = former_names(__name__, FORMER)


def read_elements(*paths: str | Path, strict: bool = False) -> Catalogue:
    """Read element files (TLE or OMM, told apart by content) into one catalogue.

    What could not be read stands in ``skipped``; with ``strict`` it is an error.
    """
    from dataclasses import replace

    reading = read(list(paths), strict=strict)
    return replace(reading.catalogue, skipped=reading.rejected)


def with_ephemerides(
    catalogue: Catalogue | Sequence[ElementSet],
    *paths: str | Path,
    start: datetime,
    end: datetime,
) -> Catalogue:
    """The catalogue with operators' ephemerides (CCSDS OEM), for one window.

    Where an ephemeris reaches, its object's places come from it, elsewhere from its
    elements; objects that are not in the catalogue get a row of their own behind it.
    EphemerisError for a file that cannot be used.
    """
    from passes.forecast.attaching import Attached
    from passes.forecast.operators import Operators
    from passes.forecast.request import Request

    window = Span(start=start, end=end)
    sets = nearest(as_catalogue(catalogue), start + (end - start) / 2)
    files = tuple(str(path) for path in paths)
    operators = Operators(Request(ephemeris_files=files))
    attached = Attached(sets, operators.published, ())
    usable = ~attached.own(attached.catalogue)
    return attached.finished(attached.catalogue, window, usable, ())


def find_passes(
    catalogue: Catalogue | Sequence[ElementSet],
    site: Site,
    start: datetime,
    end: datetime,
    min_altitude_deg: float = 10.0,
    *,
    brightness: str | None = None,
    sun_below_deg: float | None = None,
    processes: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Passages:
    """Every pass of every object above a geometric altitude, with its light.

    ``catalogue`` is a :class:`Catalogue` or any sequence of element sets; of several
    sets of one object the one nearest to the window's middle is used.  ``start`` and
    ``end`` are aware.  ``brightness`` names a brightness model.  The result is a
    sequence of :class:`Passage`, in order of object and time; what was left out
    stands in ``.table.skipped``.
    """
    middle = start + (end - start) / 2
    table = search_passes(
        nearest(as_catalogue(catalogue), middle),
        site,
        start,
        end,
        min_altitude_deg=min_altitude_deg,
        processes=processes,
        progress=progress,
    )
    model = GuardedModel(Registry.from_entry_points(), brightness, lambda plugin: {})
    return light_passes(table, model, sun_below_deg)


def find_crossings(
    catalogue: Catalogue | Sequence[ElementSet],
    site: Site,
    line_of_sight: LineOfSight,
    start: datetime,
    end: datetime,
    *,
    brightness: str | None = None,
) -> Crossings:
    """Every stay of every object in a field, above the horizon, with its light.

    The field is a disc or a rectangle, fixed among the stars or moving, or a body's own
    disc: see :class:`LineOfSight`.  Places are astrometric ICRS, as a plate solution
    gives them.  Arguments are those of :func:`find_passes`; the result is a sequence
    of :class:`Crossing` in order of entry, with the columns in ``.table``.
    """
    chosen = nearest(as_catalogue(catalogue), start + (end - start) / 2)
    model = GuardedModel(Registry.from_entry_points(), brightness, lambda plugin: {})
    window = Span(start=start, end=end)
    growth = growth_of(chosen)
    return lit_crossings(chosen, site, line_of_sight, window, model, growth)
