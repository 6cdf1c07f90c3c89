"""Other lengths of subs as they are written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from passes.options import Output
from passes_plugins.streaks.document import (
    Document,
    number,
    site_document,
    span_document,
)

if TYPE_CHECKING:
    from passes.tables import Column, Screen
    from passes_plugins.streaks.choices import Choices
    from passes_plugins.streaks.lengths import Length, SkyLimit
    from passes_plugins.streaks.planning import Planned


def write_lengths(
    ready: Planned, choices: Choices, exposures_s: Sequence[float], output: Output
) -> None:
    """Write what subs of other lengths would do."""
    from passes_plugins.streaks.lengths import sky_limits, tried

    found, lengths = tried(ready, choices, exposures_s)
    limits = sky_limits(found)
    output.write(
        table=lambda screen: _lengths_page(lengths, limits, screen),
        document=lambda: {
            "kind": "lengths",
            "site": site_document(ready.services.site),
            "window": span_document(ready.services.window),
            "demo": ready.services.demo,
            "sky_limits": [_limit_document(one) for one in limits],
            "lengths": [_length_document(one) for one in lengths],
        },
        records=lambda: [_flat(_length_document(one)) for one in lengths],
        site=ready.services.site,
        window=ready.services.window,
        demo=ready.services.demo,
    )


def _limit_document(one: SkyLimit) -> Document:
    return {
        "filter": one.filter or None,
        "gain": one.gain or None,
        "exposure_s": number(one.exposure_s, 1),
        "sky_e_s": number(one.sky_e_s, 4),
        "read_noise_e": number(one.read_noise_e, 2),
    }


def _length_document(one: Length) -> Document:
    return {
        "exposure_s": one.exposure_s,
        "planned": one.planned,
        "subs": one.subs,
        "verdicts": dict(one.verdicts),
        "open_s": number(one.open_s, 1),
        "kept_s": number(one.kept_s, 1),
        "deep_s": number(one.deep_s, 1),
    }


def _flat(row: Document) -> Document:
    counts = row.pop("verdicts")
    words = ("clean", "faint", "removable", "spoiled", "unknown")
    return {**row, **{word: counts.get(word, 0) for word in words}}


def limit_words(limits: Sequence[SkyLimit]) -> list[str]:
    """The sky limit of each filter, a few words each."""
    from passes.tables import number as shown
    from passes.tables import plain

    return [
        f"{shown(one.exposure_s, 0)} s"
        + (f" in {plain(one.filter, 30)}" if one.filter else "")
        + f" (sky {shown(one.sky_e_s, 2)} e⁻/s a pixel, read noise "
        f"{shown(one.read_noise_e, 1)} e⁻)"
        for one in limits
    ]


def _lengths_page(
    lengths: Sequence[Length], limits: Sequence[SkyLimit], screen: Screen
) -> str:
    from passes.tables import labelled, listing, paragraph

    lines = labelled([("Sky limit", words) for words in limit_words(limits)], screen)
    lines += ["", *listing(_columns(), [_row(one) for one in lengths], screen), ""]
    lines += paragraph(_LEGEND, screen)
    return screen.finish(lines)


def _columns() -> tuple[Column, ...]:
    from passes.tables import Column

    return (
        Column("Sub", "right"),
        Column("Subs", "right"),
        Column("Clean", "right", drop=2),
        Column("Faint", "right"),
        Column("Removable", "right"),
        Column("Spoiled", "right"),
        Column("Open", "right"),
        Column("Kept", "right"),
        Column("Deep", "right"),
        Column(""),
    )


def _row(one: Length) -> list[str]:
    from passes.tables import number as shown

    counts = [
        one.verdicts.get(w, 0) for w in ("clean", "faint", "removable", "spoiled")
    ]
    hours = [value / 3600.0 for value in (one.open_s, one.kept_s, one.deep_s)]
    return [
        f"{one.exposure_s:g} s",
        str(one.subs),
        *map(str, counts),
        *(shown(value, 2, " h") for value in hours),
        "as planned" if one.planned else "",
    ]


_LEGEND = (
    "The sky limit is where the sky's electrons are ten times the square of the read "
    "noise (common practice); shorter subs lose depth. Open is the time the shutter is "
    "open, overheads counted; Kept what survives streaks; Deep what is kept, less what "
    "dark current and read noise cost."
)
