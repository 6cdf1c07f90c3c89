"""One pass, second by second, as a page of text for a terminal."""

from __future__ import annotations

from datetime import timedelta, tzinfo
from math import isfinite
from typing import TYPE_CHECKING

from passes.tables import text
from passes.tables.layout import Column, Screen, labelled, listing, paragraph
from passes.tables.tonight import DEMO, place

if TYPE_CHECKING:
    from passes.model import Passage, Site, Track

_COLUMNS = (
    Column("Time"),
    Column("Az", "right"),
    Column("Alt", "right"),
    Column("refr.", "right"),
    Column("Range", "right", drop=3),
    Column("RA of date", "right"),
    Column("Dec of date", "right"),
    Column("Speed", "right", drop=2),
    Column("Mag", "right"),
    Column("Lit", "right", drop=1),
    Column("RA ICRS", "right", drop=4),
    Column("Dec ICRS", "right", drop=5),
    Column("Az rate", "right", drop=6),
    Column("Alt rate", "right", drop=7),
    Column("HA rate", "right", drop=8),
    Column("Dec rate", "right", drop=9),
    Column("Phase", "right", drop=10),
)
#: Beyond this the times are too uncertain to follow an object blind, seconds.
_BLIND_S = 1.0


def track_page(
    passage: Passage, track: Track, site: Site, screen: Screen, *, demo: bool = False
) -> str:
    """Everything ``passes track`` says to a person."""
    zone = text.zone_of(site.zone)
    lines = paragraph(DEMO, screen) if demo else []
    lines += labelled(_heading(passage, track, site, zone), screen)
    step_s = float(track.time_s[1] - track.time_s[0]) if len(track.time_s) > 1 else 1.0
    rows = [_row(track, i, zone, step_s) for i in range(len(track.time_s))]
    lines += ["", *listing(_COLUMNS, rows, screen), ""]
    lines += paragraph(_legend(track, site, zone), screen)
    for caution in _cautions(track):
        lines += paragraph(f"- {caution}", screen, "  ")
    return screen.finish(lines)


def _cautions(track: Track) -> list[str]:
    """What can hurt where a mount follows this: the Sun, and the mount (usual)."""
    from passes.sky.night import SUNSET_DEG

    beside = [
        float(apart)
        for apart, sun, high in zip(
            track.sun_separation_deg,
            track.sun_altitude_deg,
            track.altitude_deg,
            strict=True,
        )
        if sun > SUNSET_DEG and high > 0.0
    ]
    mount = (
        "A mount that follows this moves fast: keep people and cables clear of it. "
        "Local rules and licensed practice come first."
    )
    if not beside:
        return [mount]
    sun = (
        f"SUN: it is up, and the path comes within {min(beside):.0f}° of it. "
        f"{text.BESIDE_SUN}"
    )
    return [sun, mount]


def _heading(
    passage: Passage, track: Track, site: Site, zone: tzinfo
) -> list[tuple[str, str]]:
    name = text.plain(passage.name, 60) or str(passage.catalog_number)
    day = track.start.astimezone(zone)
    pairs = [
        ("Object", f"{name} ({passage.catalog_number}), pass {passage.id}"),
        ("Site", place(site)),
        ("Day", f"{day:%A} {day.day} {day:%B %Y}, {_from_to(passage, zone)}"),
        ("Trust", _trust(track)),
    ]
    if track.magnitude_basis:
        pairs.append(("Magnitude", text.plain(track.magnitude_basis)))
    if track.flags:
        pairs.append(("Caveats", "; ".join(text.caveats(track.flags))))
    return pairs


def _from_to(passage: Passage, zone: tzinfo) -> str:
    return f"{text.clock(passage.start, zone)}–{text.clock(passage.end, zone)}"


def _trust(track: Track) -> str:
    sigma, bound = track.timing_sigma_s, track.timing_bound_s
    if not isfinite(sigma):
        return "how far the times can be trusted is not known"
    said = (
        f"times {text.seconds(sigma)} (95 % within {text.number(bound, 1)} s), across "
        f"the path ±{text.number(track.cross_track_sigma_km, 1)} km; elements "
        f"{track.element_age_days:.1f} days old"
    )
    if bound > _BLIND_S:
        said += "; do not count on following it blind: acquire it first"
    return said


def _row(track: Track, i: int, zone: tzinfo, step_s: float) -> list[str]:
    when = track.start + timedelta(seconds=float(track.time_s[i]))
    unit = 1.0 if step_s >= 1.0 else 0.1 if step_s >= 0.1 else 0.01
    return [
        text.clock(when, zone, unit),
        text.number(track.azimuth_deg[i], 2, "°"),
        text.number(track.altitude_deg[i], 2, "°"),
        text.number(track.refracted_altitude_deg[i], 2, "°"),
        text.number(track.range_km[i], 0, " km"),
        _hours(track.ra_of_date_deg[i]),
        text.number(track.dec_of_date_deg[i], 3, "°"),
        text.number(track.angular_rate_deg_s[i], 3, "°/s"),
        text.number(track.magnitude[i], 1),
        _lit(track.lit_fraction[i]),
        _hours(track.ra_icrs_deg[i]),
        text.number(track.dec_icrs_deg[i], 3, "°"),
        text.number(track.azimuth_rate_deg_s[i], 3),
        text.number(track.altitude_rate_deg_s[i], 3),
        text.number(track.hour_angle_rate_deg_s[i], 3),
        text.number(track.dec_rate_deg_s[i], 3),
        text.number(track.phase_angle_deg[i], 0, "°"),
    ]


def _lit(fraction: float) -> str:
    if not isfinite(fraction):
        return text.UNKNOWN
    if 0.0 < fraction < 1.0:
        return f"{100 * fraction:.0f} %"
    return "yes" if fraction >= 1.0 else "no"


def _hours(degrees: float) -> str:
    """Right ascension as hours, minutes and seconds to 0.1 s (1.5″ at the equator)."""
    if not isfinite(degrees):
        return text.UNKNOWN
    tenths = round(degrees / 15.0 * 36000.0) % 864_000
    minutes, rest = divmod(tenths, 600)
    return f"{minutes // 60:02d}h{minutes % 60:02d}m{rest / 10:04.1f}s"


def _legend(track: Track, site: Site, zone: tzinfo) -> str:
    name, shift = text.plain(site.zone), text.offset(track.start, zone)
    local = name if name == shift else f"{name} ({shift})"
    return (
        f"Times are {local}. Alt is geometric, refr. is with refraction at standard "
        "pressure. RA and Dec of date are for a mount that has synced on stars of "
        "date; ICRS in JSON and on wider terminals. Rates are degrees a second."
    )
