"""``passes site``: the places one observes from, kept by name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from passes.errors import InputError, UnknownName
from passes.options import Finite, Output, Place, program, writes
from passes.options.receiver import received_place

if TYPE_CHECKING:
    from passes.config import Config
    from passes.model import Site

CSV_COLUMNS = (
    *("name", "latitude_deg", "longitude_deg", "height_m", "zone", "corners"),
    *("seeing_arcsec", "sky_mag_arcsec2", "extinction_mag", "default"),
)

_DESCRIPTION = (
    click.option(
        "--zone",
        metavar="NAME",
        help="IANA time zone, such as Europe/Rome. Default: the machine's.",
    ),
    click.option(
        "--horizon",
        "horizon_path",
        type=click.Path(dir_okay=False, path_type=Path),
        metavar="FILE",
        help="CSV of azimuth,altitude in degrees, all around.",
    ),
    click.option(
        "--seeing",
        "seeing_arcsec",
        type=Finite(0.1, 30.0, "″"),
        metavar="ARCSEC",
        help="Usual seeing at the zenith, full width at half maximum.",
    ),
    click.option(
        "--sky",
        "sky_mag_arcsec2",
        type=Finite(10.0, 23.0, " mag/arcsec²"),
        metavar="MAG",
        help="Darkness of the moonless zenith, V magnitudes a square arcsecond.",
    ),
    click.option(
        "--extinction",
        "extinction_mag",
        type=Finite(0.0, 3.0, " mag"),
        metavar="MAG",
        help="V magnitudes lost an airmass. Default: from the height.",
    ),
    click.option("--default", is_flag=True, help="Meant when no site is named."),
    click.option("--replace", is_flag=True, help="Take the place of one so named."),
)


def _described(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_DESCRIPTION):
        function = option(function)
    return function


@click.group("site")
def command() -> None:
    """Keep observing sites by name.

    \b
    Examples:
      passes site list
      passes site add ridge --at 37.1,-3.4,1900
    """


@command.command("add")
@click.argument("name")
@click.option(
    "--at",
    "place",
    type=Place(),
    required=True,
    metavar="LAT,LON[,HEIGHT_M]",
    help="Degrees (37.1,-3.4,1900) or 37°06′N,3°24′W,1900.",
)
@_described
def add(name: str, place: Site, **described: Any) -> None:
    """Keep a site under NAME.

    \b
    Examples:
      passes site add ridge --at 37.1,-3.4,1900 --zone Europe/Madrid --sky 21.6
      passes site add camp --at "41°02′N,2°24′W,1150" --horizon trees.csv --default
    """
    _keep(name, place, described)


@command.command("read")
@click.argument("file", metavar="FILE")
@click.option("--name", help="Keep the place under this name.")
@_described
def read(file: str, name: str | None, **described: Any) -> None:
    """Take the place from a receiver's NMEA 0183 sentences; - is stdin.

    Without --name the place is printed and nothing is kept.

    \b
    Examples:
      passes site read fix.nmea
      passes site read - --name tonight --replace < /dev/ttyACM0
    """
    place = received_place(file)
    if name:
        _keep(name, place, described)
        return
    where = f"{place.latitude_deg:.6f},{place.longitude_deg:.6f},{place.height_m:g}"
    click.echo(where)
    program().say(f"to keep it: passes site add NAME --at {where}")


def _keep(name: str, place: Site, described: dict[str, Any]) -> None:
    """Write a site into the configuration."""
    from dataclasses import replace

    from passes.config import to_table
    from passes.config.writing import edit, table_of

    default, again = described.pop("default"), described.pop("replace")
    given = {key: value for key, value in described.items() if value is not None}
    path = given.pop("horizon_path", None)
    if path is not None:
        given["horizon"] = _horizon(path)
    site = replace(place, name=name, **given)

    def change(document: Any) -> None:
        kept = document.get("sites", {})
        if name in kept and not again:
            raise InputError(f"a site {name!r} is kept already; --replace it")
        if name in kept:
            del kept[name]
        table = table_of(document, "sites", name)
        for key, value in to_table(site, leave_out=("name",)).items():
            table[key] = value
        if default:
            table_of(document, "defaults")["site"] = name

    config = edit(program().config_path, change)
    program().say(f"kept site {name} in {config.path}")


def _horizon(path: Path) -> tuple[tuple[float, float], ...]:
    from passes.config.horizon import read_horizon

    try:
        with path.open(encoding="utf-8-sig", errors="replace") as lines:
            return read_horizon(lines, str(path))
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error


@command.command("list")
@writes("sites")
def listed(output: Output) -> None:
    """List the sites that are kept.

    \b
    Examples:
      passes site list
      passes site list --json
    """
    config = program().config()
    sites = list(config.sites.values())
    output.write(
        table=lambda screen: _pages().sites_page(config, screen),
        document=lambda: {"sites": [_record(one, config) for one in sites]},
        records=lambda: [_flat(one, config) for one in sites],
        columns=CSV_COLUMNS,
    )


@command.command("show")
@click.argument("name")
@writes("sites", csv=False)
def show(name: str, output: Output) -> None:
    """Everything about one site.

    \b
    Example:
      passes site show ridge
    """
    config = program().config()
    site = config.site(name)
    output.write(
        table=lambda screen: _pages().site_sheet(site, config, screen),
        document=lambda: {"sites": [_record(site, config)]},
    )


@command.command("remove")
@click.argument("name")
def remove(name: str) -> None:
    """Forget one site.

    \b
    Example:
      passes site remove camp
    """
    from passes.config.writing import edit
    from passes.config.writing import remove as take_out

    known = program().config().sites
    if name not in known:
        raise UnknownName("site", name, known)

    def change(document: Any) -> None:
        take_out(document, "sites", name)
        if document.get("defaults", {}).get("site") == name:
            take_out(document, "defaults", "site")

    config = edit(program().config_path, change)
    program().say(f"forgot site {name}; the others are in {config.path}")


def _record(site: Site, config: Config) -> dict[str, Any]:
    """One site in its JSON shape; null is unknown."""
    record: dict[str, Any] = {
        "name": site.name,
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "height_m": site.height_m,
        "zone": site.zone,
        "horizon": [list(corner) for corner in site.horizon],
    }
    for key in ("seeing_arcsec", "sky_mag_arcsec2", "extinction_mag"):
        value = getattr(site, key)
        record[key] = value if value == value else None
    default = config.default_site
    return {**record, "default": default is not None and default.name == site.name}


def _flat(site: Site, config: Config) -> dict[str, Any]:
    record = _record(site, config)
    record["corners"] = len(record.pop("horizon"))
    return record


def _pages() -> Any:
    from passes.tables import sites

    return sites
