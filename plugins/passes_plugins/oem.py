"""A pass as an orbit ephemeris message (CCSDS 502.0-B), for programs that take one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from math import inf
from typing import TYPE_CHECKING

from passes.contributions import Answer, Exporter
from passes.hookspecs import hookimpl

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from passes.model import Track

    Floats = NDArray[np.float64]
    Stretch = tuple[Floats, Floats, Floats]

#: A segment of fewer states than this cannot be interpolated.
LEAST_STATES = 2


def export(answer: Answer) -> str:
    """The states of one object's tracks, in GCRF and UTC, as keywords and values."""
    from passes.ephemeris import oem_text
    from passes.errors import InputError

    tracks = sorted(answer.items, key=lambda one: one.start)
    # the demo's night has a time of its own
    made = answer.window.start if answer.demo and answer.window else datetime.now(UTC)
    comments = ["Invented: a demonstration."] if answer.demo else []
    if not tracks:  # a header and nothing else
        return oem_text("", "", made, (), created=made, comments=comments)
    if len({track.catalog_number for track in tracks}) > 1:
        raise InputError("an ephemeris message is about one object; choose one pass")
    track: Track = tracks[0]
    stretches = list(_in_order(tracks))
    if not stretches:
        raise InputError(
            f"no two places in a row are known of {track.name}; choose a shorter step"
        )
    return oem_text(
        track.name,
        track.designator or str(track.catalog_number),
        track.start,
        stretches,
        created=made,
        comments=[*comments, *_remarks(track)],
    )


def _in_order(tracks: Sequence[Track]) -> Iterator[Stretch]:
    """Stretches of all tracks, counted from the first's start, none over another."""
    last_s = -inf
    for track in tracks:
        offset_s = (track.start - tracks[0].start).total_seconds()
        for time_s, position, velocity in _stretches(track):
            if time_s[0] + offset_s > last_s:
                last_s = float(time_s[-1]) + offset_s
                yield time_s + offset_s, position, velocity


def _remarks(track: Track) -> Iterator[str]:
    """What whoever uses the states should know."""
    yield f"{track.catalog_number}, a pass over {track.site_name or 'one place'}."
    yield (
        f"Along the path the object may be {track.timing_sigma_s:.2g} s early or late "
        "(one sigma)."
    )
    if track.flags:
        yield f"Caveats: {', '.join(track.flags)}."


def _stretches(track: Track) -> Iterator[Stretch]:
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
