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
    from passes.tables import Column, Screen
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
        "air": number(one.air, 4),
        "dark": number(one.dark, 4),
        "flip": number(one.flip, 4),
        "subs": one.subs,
        "spoiled": one.spoiled,
        "altitude_deg": number(one.altitude_deg, 2),
        "airmass": number(one.airmass, 3),
        "sky_mag_arcsec2": number(one.sky_mag_arcsec2, 2),
        "moon_altitude_deg": number(one.moon_altitude_deg, 2),
        "moon_separation_deg": number(one.moon_away_deg, 2),
        "moon_lit": number(one.moon_lit, 3),
        "flip_min": number(one.flip_min, 1),
    }


def _hours_page(hours: Sequence[Sequence[Hour]], zone: tzinfo, screen: Screen) -> str:
    from passes.tables import clock, listing, paragraph

    rows = [
        [clock(one.start, zone) if place == 0 else "", *_cells(one)]
        for some in hours
        for place, one in enumerate(some)
    ]
    lines = listing(_columns(), rows, screen)
    lines += ["", *paragraph(_HOURS, screen)]
    return screen.finish(lines)


def _columns() -> tuple[Column, ...]:
    from passes.tables import Column

    return (
        Column("Hour"),
        Column("Worth", "right"),
        Column("Target", elastic=True),
        Column("Kept", "right"),
        Column("Air", "right", drop=5),
        Column("Dark", "right", drop=4),
        Column("Alt", "right"),
        Column("Airmass", "right", drop=3),
        Column("Sky", "right"),
        Column("Moon", "right", drop=2),
        Column("Flip in", "right", drop=1),
    )


def _cells(one: Hour) -> list[str]:
    """One field of an hour; the Moon by how far away it stands."""
    from passes.tables import number as shown
    from passes.tables import plain

    moon = "down"
    if one.moon_altitude_deg > 0.0:
        moon = shown(one.moon_away_deg, 0, "°")
    return [
        shown(one.worth, 2),
        plain(one.target, 40),
        shown(100.0 * one.kept, 1, " %"),
        shown(one.air, 2),
        shown(one.dark, 2),
        shown(one.altitude_deg, 0, "°"),
        shown(one.airmass, 2),
        shown(one.sky_mag_arcsec2, 1),
        moon,
        shown(one.flip_min, 0, " min"),
    ]


_HOURS = (
    "The best field of each hour comes first. Worth is 1 for an hour without streaks "
    "at a dark zenith: what streaks leave (Kept), times how fast depth is gained "
    "through this air (Air) and under this sky (Dark: Moon and twilight through the "
    "filter), less the time of a flip (5 min if the plan tells none). Moon is how far "
    "away it stands. Every field is taken by the first plan's rig at the times of its "
    "subs."
)
