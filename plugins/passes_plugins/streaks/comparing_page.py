"""Fields hour by hour as they are written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING

from passes.options import Output
from passes_plugins.streaks.document import (
    Document,
    iso,
    number,
    site_document,
    span_document,
)

if TYPE_CHECKING:
    from passes.tables import Screen
    from passes_plugins.streaks.comparing import Hour
    from passes_plugins.streaks.planning import Planned


def write_hours(
    hours: Sequence[Sequence[Hour]], ready: Planned, output: Output
) -> None:
    """Write the fields of each hour, the best first."""
    from passes.tables import zone_of

    site = ready.services.site
    flat = [hour for some in hours for hour in some]
    output.write(
        table=lambda screen: _hours_page(hours, zone_of(site.zone), screen),
        document=lambda: {
            "kind": "comparison",
            "site": site_document(site),
            "window": span_document(ready.services.window),
            "demo": ready.services.demo,
            "hours": [_hour_document(one) for one in flat],
        },
        records=lambda: [_hour_document(one) for one in flat],
        site=site,
        window=ready.services.window,
        demo=ready.services.demo,
    )


def _hour_document(one: Hour) -> Document:
    return {
        "start": iso(one.start),
        "target": one.target,
        "plan": one.plan,
        "worth": number(one.worth, 4),
        "kept": number(one.kept, 4),
        "subs": one.subs,
        "spoiled": one.spoiled,
        "altitude_deg": number(one.altitude_deg, 2),
        "airmass": number(one.airmass, 3),
        "sky_mag_arcsec2": number(one.sky_mag_arcsec2, 2),
        "flip_min": number(one.flip_min, 1),
    }


def _hours_page(hours: Sequence[Sequence[Hour]], zone: tzinfo, screen: Screen) -> str:
    from passes.tables import Column, clock, listing, paragraph, plain
    from passes.tables import number as shown

    columns = (
        Column("Hour"),
        Column("Worth", "right"),
        Column("Target", elastic=True),
        Column("Kept", "right"),
        Column("Alt", "right"),
        Column("Airmass", "right", drop=2),
        Column("Sky", "right"),
        Column("Flip in", "right", drop=1),
    )
    rows = [
        [
            clock(one.start, zone) if place == 0 else "",
            shown(one.worth, 2),
            plain(one.target, 40),
            shown(100.0 * one.kept, 1, " %"),
            shown(one.altitude_deg, 0, "°"),
            shown(one.airmass, 2),
            shown(one.sky_mag_arcsec2, 1),
            shown(one.flip_min, 0, " min"),
        ]
        for some in hours
        for place, one in enumerate(some)
    ]
    lines = listing(columns, rows, screen)
    lines += ["", *paragraph(_HOURS, screen)]
    return screen.finish(lines)


_HOURS = (
    "The best field of each hour comes first. Worth is 1 for an hour without streaks "
    "at a dark zenith: what is kept, times signal squared over sky (extinction, "
    "Moon and twilight), less the time of the flip. Every field is taken by the first "
    "plan's rig at the times of its subs."
)
