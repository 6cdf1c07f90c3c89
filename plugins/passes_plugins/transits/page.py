"""The page for a person: a list, then each transit with its strip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta, tzinfo
from math import ceil, isfinite, nan
from typing import TYPE_CHECKING, Any

from passes.tables import (
    Column,
    Screen,
    clock,
    compass,
    labelled,
    listing,
    number,
    offset,
    paragraph,
    place,
    plain,
    seconds,
    step_s,
    zone_of,
)
from passes_plugins.transits.cautions import DEMO, SUN, cautions
from passes_plugins.transits.finding import Transits, beyond
from passes_plugins.transits.outlook import Outlook
from passes_plugins.transits.page_advice import advised

if TYPE_CHECKING:
    from passes.model import Event

Details = Mapping[str, Any]

_COLUMNS = (
    Column("When"),
    Column("Body"),
    Column("Object", elastic=True),
    Column("Lasts", "right"),
    Column("Offset", "right", drop=5),
    Column("Body at", drop=2),
    Column("From", drop=1),
    Column("±", "right", drop=3),
)
#: So many transits are told in full.
_IN_FULL = 12


def page(found: Transits, screen: Screen) -> str:
    """Everything the command says."""
    zone = zone_of(found.site.zone)
    lines = paragraph(DEMO, screen) if found.demo else []
    if "sun" in found.wanted.bodies:
        lines += [*paragraph(SUN, screen), ""]
    lines += labelled(_heading(found, zone), screen)
    lines.append("")
    if found.events:
        rows = [_row(event, zone) for event in found.events]
        lines += [*listing(_COLUMNS, rows, screen), ""]
        lines += paragraph(_legend(found, zone), screen)
    else:
        lines.append("No transit.")
    for event in found.events[:_IN_FULL]:
        lines += ["", screen.bold(_title(event, zone))]
        lines += labelled(_told(found, event, zone), screen)
        lines += advised(found.advice.get(event.id, ()), zone, screen)
    if len(found.events) > _IN_FULL:
        left = len(found.events) - _IN_FULL
        lines += ["", f"{left} more: --json has everything about them."]
    lines.append("")
    for note in found.notes:
        lines += paragraph(f"- {plain(note.text, 600)}", screen, "  ")
    for text in cautions(found.wanted.bodies, found.events):
        if text != SUN:  # that one stands at the top
            lines += paragraph(f"- {text}", screen, "  ")
    return screen.finish(lines)


def _heading(found: Transits, zone: tzinfo) -> Iterator[tuple[str, str]]:
    wanted = found.wanted
    yield "Site", place(found.site)
    yield (
        "Window",
        f"{_day(found.window.start, zone)} to {_day(found.window.end, zone)}",
    )
    bodies = ", ".join(body.capitalize() for body in wanted.bodies)
    many = "one object" if found.searched == 1 else f"{found.searched:,} objects"
    left = f", {len(found.skipped):,} left out" if found.skipped else ""
    yield (
        "Searched",
        f"{many}{left}; {bodies}, above {wanted.min_altitude_deg:g}°",
    )
    if wanted.strips:
        where = f"{wanted.reach_km:,.0f} km from the site"
        if wanted.area is not None:
            where = f"{plain(wanted.area.name, 60)}, {where}"
        yield "Reach", where
    if found.outlooks:
        yield "Trusted", _outlook(found.outlooks, zone)


def _day(time: datetime, zone: tzinfo) -> str:
    local = time.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"


def _outlook(outlooks: tuple[Outlook, ...], zone: tzinfo) -> str:
    said = []
    for one in outlooks[:6]:
        name = plain(one.name, 40) or str(one.catalog_number)
        until = "not at all" if one.until is None else f"to {_day(one.until, zone)}"
        said.append(f"{name} {until}")
    more = f"; {len(outlooks) - 6} more" if len(outlooks) > 6 else ""
    return (
        "; ".join(said) + more + " (then the line may be off by more than the strip is "
        "wide)"
    )


def _legend(found: Transits, zone: tzinfo) -> str:
    first = offset(found.window.start, zone)
    name = plain(found.site.zone)
    local = name if name == first else f"{name} ({first})"
    said = f"Times are {local}, ± is one sigma. "
    if found.wanted.strips:
        return said + "From: the site, or the nearest point of the centre line."
    return said + "Offset is from the disc's centre, in its radii."


# --- the list ------------------------------------------------------------------


def _row(event: Event, zone: tzinfo) -> list[str]:
    details = event.details
    return [
        when(event, zone),
        str(details["body"]).capitalize(),
        plain(event.subject, 60),
        _lasts(details),
        number(_float(details["offset_radii"]), 2),
        f"{_float(details['altitude_deg']):.0f}° "
        f"{compass(_float(details['azimuth_deg']))}",
        _from(details),
        seconds(event.timing_sigma_s, 0.1).replace(" ", ""),
    ]


def when(event: Event, zone: tzinfo) -> str:
    """Local day and time, no finer than the sigma allows."""
    local = event.best.astimezone(zone)
    step = step_s(event.timing_sigma_s, 0.1)
    return f"{local.day} {local:%b} {clock(event.best, zone, step)}"


def _lasts(details: Details) -> str:
    if details["near_miss"]:
        return "miss"
    return f"{_float(details['duration_s']):.2f} s"


def _from(details: Details) -> str:
    strip = details.get("strip")
    if details["from_site"] or not strip:
        return "site"
    point = strip["nearest"]
    return f"{point['distance_km']:.1f} km {compass(point['bearing_deg'])}"


def _float(value: Any) -> float:
    return nan if value is None else float(value)


# --- one transit ---------------------------------------------------------------


def _title(event: Event, zone: tzinfo) -> str:
    body = str(event.details["body"]).capitalize()
    day = event.best.astimezone(zone)
    return (
        f"{body}: {plain(event.subject, 40)}, {day:%a} {when(event, zone)} ({event.id})"
    )


def _told(found: Transits, event: Event, zone: tzinfo) -> Iterator[tuple[str, str]]:
    details = event.details
    yield "Time", _time(found, event)
    yield "Chord", _chord(details)
    yield "Looks", _looks(details)
    if details["body"] != "sun":
        yield "Disc", _disc(details)
    strip = details.get("strip")
    if strip:
        yield "Go to", _go(strip, zone)
        yield "Strip", _strip(strip)
        yield "Sure to", _sure(strip, event, zone)


def _time(found: Transits, event: Event) -> str:
    utc = clock(event.best, UTC, 0.1)
    said = f"{utc} UTC, at 95 % within {_seconds(event.timing_bound_s)}"
    age = _float(event.details["element_age_days"])
    if isfinite(age):
        said += f"; elements {_aged(age)}"
    if beyond(event, found.outlooks):
        said += (
            ": the line may be off by more than the strip is wide, a hint and no more"
        )
    if event.details.get("strip") and not event.details["from_site"]:
        said += ". All this as seen from the nearest point below"
    return said


def _aged(age_days: float) -> str:
    """How old elements are; those measured later than the event are not old."""
    if age_days < 0.0:
        return f"measured {-age_days:.1f} days later"
    return f"{age_days:.1f} days old then"


def _seconds(value: float) -> str:
    if not isfinite(value):
        return "an unknown time"
    return f"{value:.0f} s" if value >= 9.5 else f"{value:.2g} s"


def _chord(details: Details) -> str:
    off = _float(details["offset_radii"])
    if details["near_miss"]:
        return (
            f"none: passes {_float(details['separation_deg']):.2f}° from the centre "
            f"({off:.1f} radii), towards PA {_pa(details, 'offset')}"
        )
    said = (
        f"{_float(details['duration_s']):.3f} s, {off:.2f} radii from the centre; "
        f"enters at PA {_pa(details, 'entry')}, leaves at PA {_pa(details, 'exit')}, "
        f"moves towards PA {_pa(details, 'chord')}"
    )
    if details["body"] != "sun":
        said += f"; {_float(details['lit_part_s']):.2f} s on the lit part"
    return said


def _pa(details: Details, which: str) -> str:
    return number(_float(details[f"{which}_position_angle_deg"]), 0, "°")


def _looks(details: Details) -> str:
    size = _float(details["size_arcsec"])
    return (
        f"{details['appearance']}, {number(size, 0, '″')} across"
        f"{'' if isfinite(size) else ' (size unknown)'}, "
        f"{_float(details['angular_rate_deg_s']):.2f}°/s, "
        f"{_float(details['range_km']):,.0f} km away, at "
        f"{_float(details['altitude_deg']):.1f}° {compass(details['azimuth_deg'])}; "
        f"Sun at {_float(details['sun_altitude_deg']):.0f}°"
    )


def _disc(details: Details) -> str:
    lit = _float(details["illuminated"])
    return (
        f"{100 * lit:.0f} % lit, {details['terminator']} (bright limb at PA "
        f"{_float(details['bright_limb_position_angle_deg']):.0f}°), "
        f"{_float(details['disc_diameter_arcsec']) / 60:.1f}′ across"
    )


def _go(strip: Details, zone: tzinfo) -> str:
    point = strip["nearest"]
    time = datetime.fromisoformat(point["time"])
    latitude, longitude = point["latitude_deg"], point["longitude_deg"]
    return (
        f"{point['distance_km']:.1f} km {compass(point['bearing_deg'])} (bearing "
        f"{point['bearing_deg']:.0f}°): "
        f"{abs(latitude):.5f}° {'S' if latitude < 0 else 'N'}, "
        f"{abs(longitude):.5f}° {'W' if longitude < 0 else 'E'}; central there at "
        f"{clock(time, zone, 0.1)}, {point['duration_s']:.2f} s"
    )


def _strip(strip: Details) -> str:
    higher_m = 1000 * strip["shift_km_per_100_m"]
    return (
        f"{strip['width_km']:.1f} km wide, runs towards {strip['bearing_deg']:.0f}° "
        f"({compass(strip['bearing_deg'])}) at {strip['ground_speed_km_s']:.1f} km/s; "
        f"drawn for ground at {strip['height_m']:.0f} m: where it is 100 m higher, "
        f"{higher_m:.0f} m nearer to the body (--height-at)"
    )


def _sure(strip: Details, event: Event, zone: tzinfo) -> str:
    said = (
        f"{strip['shift_km']:.1f} km at 95 %: {strip['shift_by_time_km']:.1f} by time "
        f"(if late towards {compass(strip['late_bearing_deg'])}), "
        f"{strip['shift_by_cross_track_km']:.1f} across the path. "
    )
    decide = strip["decide_from"]
    if decide is None:
        return said + "Even fresh elements will not settle it: spread out."
    time = datetime.fromisoformat(decide)
    if time <= event.best - timedelta(days=ceil(_age(event))):
        return said + "Good enough to decide now."
    return said + f"Decide with elements of {_day(time, zone)} or later."


def _age(event: Event) -> float:
    age = _float(event.details["element_age_days"])
    return age if isfinite(age) else 1e4
