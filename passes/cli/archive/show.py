"""``passes elements show``: one object, its sets, its orbit in people's words."""

from __future__ import annotations

from math import cos, degrees, pi
from typing import TYPE_CHECKING, Any

import click

from passes.cli.archive import common
from passes.options import Output, program, writes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from passes.archive import Kept
    from passes.elements import ElementSet
    from passes.tables import Screen

#: WGS 72, as SGP4 has them.
_EARTH_KM, _MU = 6378.135, 398600.8
_SHOWN = 12
CSV_COLUMNS = (
    *("catalog_number", "name", "epoch", "age_days", "origin", "arrived"),
    *("perigee_km", "apogee_km", "inclination_deg", "period_min"),
)


@click.command("show")
@click.argument("name", metavar="OBJECT")
@writes("archive")
def show(name: str, output: Output) -> None:
    """One object: its element sets, and its orbit in plain words.

    OBJECT is a catalogue number or a name.

    \b
    Examples:
      passes elements show 80001
      passes elements show 'DEMO STATION' --json
    """
    from passes.errors import UnknownName

    archive = common.the_archive()
    numbers = common.numbers_of(archive, [name])
    if len(numbers) > 1:
        some = ", ".join(
            f"{one.catalog_number} {one.name}"
            for one in archive.listing(common.now(), _named(name))[:8]
        )
        raise UnknownName("single object", name, (f"{len(numbers)} match: {some}",))
    kept = archive.kept(numbers[0])
    measured = growth_lines(kept)
    output.write(
        table=lambda screen: page(kept, measured, screen, program().verbose),
        document=lambda: document(kept),
        records=lambda: [_record(one) for one in kept],
        columns=CSV_COLUMNS,
        items=lambda: kept,
    )


def _named(name: str) -> Any:
    from passes.archive import Filter

    return Filter(text=name)


def growth_lines(kept: Sequence[Kept]) -> list[tuple[str, str]]:
    """How far the object's predictions can be trusted, by its sets and its class."""
    from passes.forecast.trust import told

    return told([one.element_set for one in kept])


def orbit(one: ElementSet) -> dict[str, float]:
    """Perigee and apogee above the equator's radius, km; degrees; minutes.

    From the mean elements with Brouwer's mean motion taken as Kozai's: a few km off
    the true heights (common practice, no source).
    """
    motion_rad_s = one.mean_motion_rad_min / 60.0
    axis_km = float((_MU / motion_rad_s**2) ** (1.0 / 3.0))
    return {
        "perigee_km": axis_km * (1.0 - one.eccentricity) - _EARTH_KM,
        "apogee_km": axis_km * (1.0 + one.eccentricity) - _EARTH_KM,
        "inclination_deg": degrees(one.inclination_rad),
        "period_min": 2.0 * pi / one.mean_motion_rad_min,
    }


def words(one: ElementSet) -> str:
    """The orbit as a person would tell it."""
    o = orbit(one)
    if o["apogee_km"] - o["perigee_km"] < 30.0:
        height = f"nearly circular, about {o['perigee_km']:,.0f} km up"
    else:
        height = f"between {o['perigee_km']:,.0f} and {o['apogee_km']:,.0f} km up"
    tilt = o["inclination_deg"]
    reach = tilt if tilt <= 90.0 else 180.0 - tilt
    way = "westward" if cos(one.inclination_rad) < -0.05 else "eastward"
    way = "over the poles" if 80.0 <= tilt <= 100.0 else way
    return (
        f"{height}; once around in {_period(o['period_min'])}; tilted by {tilt:.1f}° "
        f"({way}), overhead up to latitude {reach:.0f}°"
    )


def _period(minutes: float) -> str:
    if minutes < 120.0:
        return f"{minutes:.1f} minutes"
    return f"{int(minutes // 60)} h {minutes % 60:.0f} min"


def document(kept: Sequence[Kept]) -> dict[str, Any]:
    """The JSON shape (``schemas/elements_show.json``)."""
    from passes.forecast import trust

    last = kept[-1].element_set
    return {
        "catalog_number": last.catalog_number,
        "name": last.name,
        "designator": last.designator,
        "orbit": {key: round(value, 3) for key, value in orbit(last).items()},
        "growth": trust.document([one.element_set for one in kept]),
        "sets": [_record(one) for one in kept],
    }


def _record(one: Kept) -> dict[str, Any]:
    s = one.element_set
    return {
        "catalog_number": s.catalog_number,
        "name": s.name,
        "epoch": common.iso(s.epoch),
        "age_days": round(_age_days(one), 3),
        "origin": one.origin,
        "arrived": common.iso(one.arrived),
        **{key: round(value, 3) for key, value in orbit(s).items()},
    }


def _age_days(one: Kept) -> float:
    return (common.now() - one.element_set.epoch).total_seconds() / 86400.0


def page(
    kept: Sequence[Kept],
    measured: list[tuple[str, str]],
    screen: Screen,
    verbose: bool,
) -> str:
    """The object as a page of text."""
    from passes.objects import object_class
    from passes.tables import Column, labelled, listing, plain

    last = kept[-1].element_set
    kind = object_class([last.name], [last.designator])[0]
    pairs = [
        ("Object", f"{last.catalog_number} {plain(last.name)}".strip()),
        ("Class", f"{kind}; designator {plain(last.designator, 20) or 'not known'}"),
        ("Orbit", words(last)),
        (
            "Newest",
            f"{common.minute(last.epoch)} UTC, {common.age(_age_days(kept[-1]))}",
        ),
        *measured,
    ]
    shown = list(kept) if verbose else list(kept)[-_SHOWN:]
    columns = [
        Column("Epoch (UTC)"),
        Column("Age", "right"),
        Column("Perigee", "right"),
        Column("Apogee", "right"),
        Column("Arrived", drop=1),
        Column("From", elastic=True),
    ]
    rows = [_row(one) for one in reversed(shown)]
    lines = [*labelled(pairs, screen), "", *listing(columns, rows, screen)]
    if rest := len(kept) - len(shown):
        lines.append(f"… and {rest:,} older (--verbose lists all)")
    return screen.finish(lines)


def _row(one: Kept) -> list[str]:
    from passes.tables import plain

    o = orbit(one.element_set)
    return [
        common.minute(one.element_set.epoch),
        common.age(_age_days(one)),
        f"{o['perigee_km']:,.0f} km",
        f"{o['apogee_km']:,.0f} km",
        common.minute(one.arrived),
        plain(one.origin.rpartition("/")[2] or one.origin, 60),
    ]
