"""Sites as a person reads them: a list, and one in full."""

from __future__ import annotations

from typing import TYPE_CHECKING

from passes.tables.layout import Column, Screen, labelled, listing
from passes.tables.text import UNKNOWN, number, plain
from passes.tables.tonight import place

if TYPE_CHECKING:
    from passes.config import Config
    from passes.model import Site


def sites_page(config: Config, screen: Screen) -> str:
    """The sites that are kept."""
    if not config.sites:
        return screen.finish(["No site is kept yet: passes site add NAME --at LAT,LON"])
    columns = [Column("Site", elastic=True), Column("Place"), Column("Zone", drop=1)]
    columns += [Column("Sky", "right"), Column("Horizon"), Column("")]
    default = config.default_site
    rows = [
        [
            plain(site.name, 40),
            place(site).split("(")[-1].rstrip(")"),
            plain(site.zone, 30),
            number(site.sky_mag_arcsec2, 1),
            f"{len(site.horizon)} corners" if site.horizon else "clear",
            "default" if site is default else "",
        ]
        for site in config.sites.values()
    ]
    return screen.finish(listing(columns, rows, screen))


def site_sheet(site: Site, config: Config, screen: Screen) -> str:
    """One site in full."""
    corners = ", ".join(f"{az:g}°: {alt:g}°" for az, alt in site.horizon)
    extinction = number(site.extinction_mag, 2, " mag an airmass")
    pairs = [
        ("Site", place(site)),
        ("Zone", plain(site.zone)),
        ("Horizon", corners or "clear all around"),
        ("Seeing", number(site.seeing_arcsec, 1, "″")),
        ("Sky", number(site.sky_mag_arcsec2, 2, " mag/arcsec² at the zenith")),
        ("Extinction", extinction if extinction != UNKNOWN else "from the height"),
        ("Kept in", str(config.path)),
    ]
    return screen.finish(labelled(pairs, screen))
