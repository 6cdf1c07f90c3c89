"""What an answer says of operators' ephemerides: used, not reaching, changing over."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from passes.elements import Catalogue
from passes.forecast.changeover import FADE_S, Joined
from passes.forecast.operators import Operators, designator_of
from passes.model import Flags, Note, Span

#: So much of an operator's own remarks is shown, characters.
_MOST_REMARKS = 300


def notes_by_operator(
    operators: Operators,
    catalogue: Catalogue,
    window: Span,
    flags: NDArray[np.int64],
) -> Iterator[Note]:
    """Notes on a request's ephemerides; ``flags`` ``(k,)`` are of what is shown."""
    names = [_named(catalogue, row) for row in sorted(catalogue.ephemerides or ())]
    if names:
        text = "places from the operator's ephemeris where it reaches"
        yield Note(text=f"{', '.join(names)}: {text}")
    changing = int(np.count_nonzero(flags & int(Flags.CHANGE_OVER)))
    if changing:
        passes = "1 pass changes" if changing == 1 else f"{changing} passes change"
        yield Note(
            text=f"{passes} over between an ephemeris and elements; within "
            f"{FADE_S / 60:.0f} minutes of the end the difference fades away",
            severity="caution",
            values={"change_over": changing},
        )
    told = {one.where for one in catalogue.skipped}
    for one in operators.published:
        if not one.meets(window) and one.where not in told:
            text = f"the ephemeris of {one.name} serves {one.spans}, not this window"
            yield Note(text=text, severity="caution")
    for message in operators.messages:
        yield from (Note(text=note) for note in message.notes)
        if message.comments and names:
            remarks = " / ".join(message.comments)
            cut = remarks[:_MOST_REMARKS].rstrip() + "…"
            remarks = remarks if len(remarks) <= _MOST_REMARKS else cut
            yield Note(text=f"{message.where} remarks: {remarks}")


def _named(catalogue: Catalogue, row: int) -> str:
    """The object, and whose ephemeris it flies by where that has another name."""
    name = catalogue.name[row] or str(catalogue.catalog_number[row])
    source = (catalogue.ephemerides or {})[row]
    if not isinstance(source, Joined):
        return name
    segment = source.flight.segments[0]
    same = segment.object_name.casefold() == name.casefold()
    if same or designator_of(segment.object_id) == catalogue.designator[row]:
        return name
    return f"{name} (as {segment.object_name})"
