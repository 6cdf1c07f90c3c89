"""The page for a person in the dark: settings, then why, then cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, tzinfo
from math import isnan
from typing import TYPE_CHECKING, Any

from passes.tables import (
    UNKNOWN,
    Column,
    Screen,
    clock,
    compass,
    labelled,
    listing,
    offset,
    paragraph,
    plain,
    step_s,
    zone_of,
)
from passes.tables import number as shown
from passes_plugins.imaging.page_remarks import beside, elsewhere, remarks
from passes_plugins.imaging.page_tables import along
from passes_plugins.imaging.shot import dial, milliseconds

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Advice, Passage, Rig
    from passes_plugins.imaging.together import Shared

_DEMO = "Demo: the sites, the objects and the rigs are invented."
_WAYS = {
    "follow": "follows the object",
    "stars": "waits, going with the stars",
    "fixed": "waits, standing still",
    "trail": "stands still; the object leaves a trail",
}


def page(
    services: Services,
    passage: Passage,
    others: Sequence[Passage],
    rigs: Sequence[Rig],
    advice: Sequence[Advice],
    joined: Sequence[Shared],
    with_table: bool,
    screen: Screen,
) -> str:
    """Everything the command says about one pass."""
    zone = zone_of(services.site.zone)
    lines = paragraph(_DEMO, screen) if services.demo else []
    lines += labelled(_heading(services, passage, others, zone), screen)
    own = [one for one in advice if one.adviser == "imaging"]
    for one in own:
        lines += ["", screen.bold(f"Rig {plain(one.rig, 60)}")]
        lines += labelled(_settings(one, zone), screen)
        lines += _waiting(one, zone, screen)
    lines += beside(joined, screen)
    lines += elsewhere(advice, screen)
    for one in own:
        if with_table:
            lines += ["", *along(one, zone, screen, len(own) > 1)]
    lines += remarks(own, screen)
    return screen.finish(lines)


def _heading(
    services: Services, passage: Passage, others: Sequence[Passage], zone: tzinfo
) -> list[tuple[str, str]]:
    step = step_s(passage.timing_sigma_s)
    name = plain(passage.name or str(passage.catalog_number), 60)
    up = f"{clock(passage.start, zone, step)}–{clock(passage.end, zone, step)}"
    when = passage.start.astimezone(zone)
    pairs = [
        ("Object", f"{name}, pass {passage.id}"),
        (
            "Pass",
            f"{when:%A} {when.day} {when:%B %Y}, {up} ({offset(passage.start, zone)}); "
            f"late or early by {_bound(passage)} at most",
        ),
    ]
    rest = [other.id for other in others if other is not passage]
    if rest:
        pairs.append(("Others", f"{', '.join(rest[:4])} (--pass)"))
    return pairs


def _bound(passage: Passage) -> str:
    if isnan(passage.timing_bound_s):
        return "an unknown time"
    return f"{passage.timing_bound_s:.2g} s (95 %)"


# --- settings ----------------------------------------------------------------


def _settings(advice: Advice, zone: tzinfo) -> list[tuple[str, str]]:
    """What to dial and when; nothing where there is nothing to shoot."""
    if not advice.settings:
        return [("Nothing", advice.notes[0].text if advice.notes else "to shoot")]
    way = str(advice.settings.get("way", ""))
    pairs = [("Mount", _WAYS.get(way, way)), *_where(advice, zone, way)]
    if advice.start and advice.stop:
        utc = f"{_clock(advice.start, UTC)} to {_clock(advice.stop, UTC)} UTC"
        pairs.append(
            ("Record", f"{_clock(advice.start, zone)} to {_clock(advice.stop, zone)}")
        )
        pairs[-1] = ("Record", f"{pairs[-1][1]} ({utc})")
    pairs.append(("Shutter", _shutter(advice)))
    if advice.gain:
        pairs.append(("Gain", advice.gain))
    if advice.settings.get("filter"):
        pairs.append(("Filter", plain(str(advice.settings["filter"]), 40)))
    pairs.append(("Frames", _frames(advice)))
    return pairs


def _clock(time: datetime, zone: tzinfo) -> str:
    return clock(time, zone, 1.0)


def _shutter(advice: Advice) -> str:
    if isnan(advice.exposure_s):
        return "unknown"
    text = f"{dial(advice.exposure_s)} ({milliseconds(advice.exposure_s)})"
    if advice.limit == "practice":
        return f"{dial(advice.exposure_s)}, as long as is usual"
    return f"{text}, bound by {advice.limit}" if advice.limit else text


def _where(advice: Advice, zone: tzinfo, way: str) -> Iterator[tuple[str, str]]:
    at = advice.pointing
    if at is None or at.time is None:
        return
    first = {"follow": "Meet it at", "trail": "Point at"}.get(way, "Wait at")
    yield (
        first,
        f"az {at.azimuth_deg:.1f}° ({compass(at.azimuth_deg)}), alt "
        f"{at.refracted_altitude_deg:.1f}° as seen, {_clock(at.time, zone)}",
    )
    yield (
        "",
        f"RA {_hours(at.ra_of_date_deg)}, Dec {_degrees(at.dec_of_date_deg)} of date",
    )


def _hours(ra_deg: float) -> str:
    if isnan(ra_deg):
        return UNKNOWN
    minutes = round(ra_deg * 4.0 * 10.0) % 14400
    return f"{minutes // 600:02d}h{minutes % 600 / 10.0:04.1f}m"


def _degrees(dec_deg: float) -> str:
    if isnan(dec_deg):
        return UNKNOWN
    minutes = round(abs(dec_deg) * 60.0)
    return f"{'-' if dec_deg < 0 else '+'}{minutes // 60:02d}°{minutes % 60:02d}′"


def _frames(advice: Advice) -> str:
    trail: Any = advice.settings.get("trail")
    width, height = advice.region_px or (0, 0)
    if trail:
        turned = "upright" if trail["upright"] else "level"
        return (
            f"{trail['count']} one after another, {width} × {height} px, long side "
            f"{turned}"
        )
    recording: Any = advice.settings.get("recording") or {}
    if isnan(advice.frame_rate_hz):
        return f"as fast as it goes, {width} × {height} px"
    mode = advice.settings.get("mode")
    named = f", mode “{plain(str(mode), 30)}”" if mode else ""
    limit = recording.get("limit")
    return f"{advice.frame_rate_hz:.0f} a second, {width} × {height} px{named}" + (
        f", bound by {limit}" if limit else ""
    )


# --- waiting places ----------------------------------------------------------

_PLACES = (
    Column("Wait for"),
    Column("Az", "right"),
    Column("Alt", "right"),
    Column("RA date", "right", drop=3),
    Column("Dec", "right", drop=3),
    Column("Shutter", "right", drop=2),
    Column("Chance", "right"),
    Column("Frames", "right", drop=1),
    Column("In field", "right", drop=5),
    Column("S/N", "right", drop=4),
)


def _waiting(advice: Advice, zone: tzinfo, screen: Screen) -> list[str]:
    places: Any = advice.settings.get("waiting") or []
    if not places:
        return []
    rows = [_place(one, zone) for one in places]
    heading = "Or lie in wait:" if advice.settings.get("way") == "follow" else "Places:"
    lines = ["", heading, *listing(_PLACES, rows, screen)]
    for one in places:
        lines += paragraph(f"- {_star(one, zone)}", screen, "  ")
    return lines


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _place(one: Any, zone: tzinfo) -> list[str]:
    def known(key: str) -> float:
        return float("nan") if one[key] is None else float(one[key])

    return [
        _clock(_time(one["time"]), zone),
        shown(known("azimuth_deg"), 1, "°"),
        shown(known("refracted_altitude_deg"), 1, "°"),
        _hours(known("ra_of_date_deg")),
        _degrees(known("dec_of_date_deg")),
        dial(known("exposure_s")),
        f"{100 * one['chance']:.0f} %",
        shown(known("frames")),
        shown(known("in_field_s"), 2, " s"),
        shown(known("snr_px"), 0),
    ]


def _star(one: Any, zone: tzinfo) -> str:
    star = one["star"]
    at = _clock(_time(one["time"]), zone)
    text = f"{at}: "
    if star["name"]:
        text += (
            f"{star['separation_deg']:.1f}° from {star['name']} "
            f"(mag {star['magnitude']:.1f}) at position angle "
            f"{star['position_angle_deg']:.0f}°"
        )
    if one["best_chance"] > one["chance"] + 0.02:
        text += (
            f"; {100 * one['best_chance']:.0f} % with the camera's up "
            f"{one['best_up_deg']:.0f}° to the left of {one['up_from']}"
        )
    return text + "."
