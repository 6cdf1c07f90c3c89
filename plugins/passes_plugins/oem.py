"""A pass as an orbit ephemeris message (CCSDS 502.0-B), for programs that take one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from passes.contributions import Answer, Exporter
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from passes.model import Track

    Floats = NDArray[np.float64]

#: A segment of fewer states than this cannot be interpolated.
LEAST_STATES = 2


def export(answer: Answer) -> str:
    """The states of one track, in GCRF and UTC, as keywords and values."""
    from passes.ephemeris import oem_text
    from passes.errors import InputError

    if len(answer.items) != 1:
        raise InputError("an ephemeris message is about one object; choose one pass")
    track: Track = answer.items[0]
    stretches = list(_stretches(track))
    if not stretches:
        raise InputError(
            f"no two places in a row are known of {track.name}; choose a shorter step"
        )
    # the demo's night has a time of its own
    made = answer.window.start if answer.demo and answer.window else datetime.now(UTC)
    comments = ["Invented: a demonstration."] if answer.demo else []
    comments += list(_remarks(track))
    return oem_text(
        track.name,
        track.designator or str(track.catalog_number),
        track.start,
        stretches,
        created=made,
        comments=comments,
    )


def _remarks(track: Track) -> Iterator[str]:
    """What whoever uses the states should know."""
    yield f"{track.catalog_number}, a pass over {track.site_name or 'one place'}."
    yield (
        f"Along the path the object may be {track.timing_sigma_s:.2g} s early or late "
        "(one sigma)."
    )
    if track.flags:
        yield f"Caveats: {', '.join(track.flags)}."


def _stretches(track: Track) -> Iterator[tuple[Floats, Floats, Floats]]:
    """Runs of known states: times, places, velocities."""
    import numpy as np

    position, velocity = track.position_icrs_km, track.velocity_icrs_km_s
    if position is None or velocity is None:
        return
    known = np.isfinite(position).all(axis=1) & np.isfinite(velocity).all(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]])))
    for low, high in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
        if high - low >= LEAST_STATES:
            run = slice(low, high)
            yield track.time_s[run], position[run], velocity[run]


@hookimpl
def passes_exporters() -> Iterator[Exporter]:
    """Offer the format."""
    yield Exporter(
        name="oem",
        summary="One pass as an orbit ephemeris message (CCSDS OEM; GCRF, UTC).",
        export=export,
        accepts=("track",),
        suffixes=(".oem",),
    )
