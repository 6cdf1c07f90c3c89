"""Which pass is meant: the one named by its id, or the one most worth having."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Passage

#: Fresher elements may move the highest moment across a rounding to ten minutes.
_SAME = timedelta(minutes=15)


def chosen_passage(services: Services) -> Passage:
    """The pass that ``--pass`` names, else the best of the objects asked for.

    A pass is known again by its object and its highest moment, to a quarter of an
    hour.  Best is: longest visible, then highest.  Raises InputError where there is
    none, saying what there is.
    """
    params = click.get_current_context().params
    found = list(services.passes())
    wanted = params.get("pass_id")
    if wanted is not None:
        return _named(found, wanted)
    if not found:
        raise InputError(_nothing(params))
    return max(found, key=_worth)


def highest(passage: Passage) -> datetime:
    """The highest moment of a pass; its middle where that lies outside the window."""
    if passage.culmination is not None:
        return passage.culmination.time
    return passage.start + (passage.end - passage.start) / 2


def _named(found: list[Passage], wanted: Any) -> Passage:
    near = [
        one
        for one in found
        if one.catalog_number == wanted.catalog_number
        and abs(highest(one) - wanted.time) < _SAME
    ]
    if near:
        return min(near, key=lambda one: abs(highest(one) - wanted.time))
    there = ", ".join(one.id for one in found[:5]) or "none"
    raise InputError(
        f"no pass {wanted.catalog_number}-{wanted.time:%Y%m%dT%H%M} in this night "
        f"(there are: {there})"
    )


def _worth(passage: Passage) -> tuple[float, float]:
    seen_s = sum(span.duration_s for span in passage.visible)
    top = passage.culmination.altitude_deg if passage.culmination else 0.0
    return seen_s, top


def _nothing(params: dict[str, Any]) -> str:
    what = " or ".join(params.get("objects") or ()) or "anything"
    return (
        f"no pass of {what} above {params.get('min_altitude_deg', 10.0):g}° in this "
        "window: try another --date or a lower --min-altitude"
    )
