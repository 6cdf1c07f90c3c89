"""The page for a person in the dark: settings, then why, then cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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
from passes_plugins.imaging.dial import dial, milliseconds
from passes_plugins.imaging.page_remarks import beside, elsewhere, remarks
from passes_plugins.imaging.page_tables import along

if TYPE_CHECKING:
    from passes.contributions import Services
    from passes.model import Advice, Passage
    from passes_plugins.imaging.together import Shared

_DEMO = "Demo: the sites, the objects and the rigs are invented."
_WAYS = {
    "follow": "follows the object",
    "stars": "waits, going with the stars",
    "fixed": "waits, standing still",
    "trail": "stands still; the object leaves a trail",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What the page is about; ``every`` adds the table along the pass."""

    services: Services
    passage: Passage
    others: Sequence[Passage]
    advice: Sequence[Advice]
    joined: Sequence[Shared]
    every: bool


def page(told: Told, screen: Screen) -> str:
    """Everything the command says about one pass."""
    zone = zone_of(told.services.site.zone)
    lines = paragraph(_DEMO, screen) if told.services.demo else []
    lines += labelled(_heading(told.passage, told.others, zone), screen)
    own = [one for one in told.advice if one.adviser == "imaging"]
    for one in own:
        lines += ["", screen.bold(f"Rig {plain(one.rig, 60)}")]
        lines += labelled(_settings(one, zone), screen)
        lines += _waiting(one, zone, screen)
    lines += beside(told.joined, screen)
    lines += elsewhere(told.advice, screen)
    for one in own:
        if told.every:
            lines += ["", *along(one, zone, screen, len(own) > 1)]
    lines += remarks(own, screen)
    return screen.finish(lines)


def _heading(
    passage: Passage, others: Sequence[Passage], zone: tzinfo
) -> list[tuple[str, str]]:
    step = step_s(passage.timing_sigma_s)
    name = plain(passage.name or str(passage.catalog_number), 60)
    up = f"{clock(passage.start, zone, step)}–{clock(passage.end, zone, step)}"
    when = passage.start.astimezone(zone)
    pairs = [
        ("Object", f"{name}, pass {passage.id}"),
        (
            "Pass",
            f"{when:%a} {when.day} {when:%B %Y}, {up} ({offset(passage.start, zone)}); "
            f"± {_bound(passage)}",
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
    pairs = [("Mount", _mount(advice, way)), *_where(advice, zone, way)]
    if advice.start and advice.stop:
        utc = f"{_clock(advice.start, UTC)} to {_clock(advice.stop, UTC)} UTC"
        local = f"{_clock(advice.start, zone)} to {_clock(advice.stop, zone)}"
        pairs.append(("Record", f"{local} ({utc})"))
    pairs += [("Shutter", _shutter(advice)), *_amplified(advice)]
    return [*pairs, ("Frames", _frames(advice)), *_glints(advice)]


def _mount(advice: Advice, way: str) -> str:
    lead = advice.settings.get("rides_with")
    does = _WAYS.get(way, way)
    return f"that of {plain(str(lead), 40)}: {does}" if lead else does


def _amplified(advice: Advice) -> Iterator[tuple[str, str]]:
    """Gain and filter, in one row."""
    band = advice.settings.get("filter")
    told = [advice.gain] if advice.gain else []
    told += [f"filter {plain(str(band), 40)}"] if band else []
    if told:
        yield "Gain" if advice.gain else "Filter", ", ".join(told)


def _glints(advice: Advice) -> Iterator[tuple[str, str]]:
    """What clips, and the settings that keep it."""
    shot: Any = advice.settings.get("shot") or {}
    room, expected = shot.get("headroom_mag"), shot.get("glint_mag")
    if room is None or expected is None:
        return
    percent = 100.0 * shot["well_filled"]
    level = f"{percent:.0f}" if percent >= 10.0 else f"{percent:.2g}"
    filled = f"the object fills {level} % of the well; glints"
    if room >= expected:
        yield "Level", f"{filled} {room:.1f} mag brighter are kept"
        return
    others: Any = advice.settings.get("options") or ()
    kept = next((one for one in others if one["kind"] == "glints"), None)
    text = f"{filled} over {max(room, 0.0):.1f} mag brighter clip"
    if kept is None:
        text += f", and no setting keeps {expected:g} mag"
    else:
        gain = f"gain {kept['gain']}, " if kept["gain"] else ""
        text += (
            f". To keep {kept['headroom_mag']:.1f} mag: {dial(kept['exposure_s'])}, "
            f"{gain}S/N {kept['snr_px']:.0f} (--glint-mag {expected:g})"
        )
    yield "Level", text


def _clock(time: datetime, zone: tzinfo) -> str:
    return clock(time, zone, 1.0)


def _shutter(advice: Advice) -> str:
    if isnan(advice.exposure_s):
        return "unknown"
    text = dial(advice.exposure_s)
    if advice.exposure_s < 1.0:
        text += f" ({milliseconds(advice.exposure_s)})"
    if advice.limit == "practice":
        return f"{dial(advice.exposure_s)}, as long as is usual"
    return f"{text}, bound by {advice.limit}" if advice.limit else text


def _where(advice: Advice, zone: tzinfo, way: str) -> Iterator[tuple[str, str]]:
    at = advice.pointing
    if at is None or at.time is None or advice.settings.get("rides_with"):
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
    if not places or advice.settings.get("rides_with"):
        return []
    rows = [_place(one, zone) for one in places]
    follows = advice.settings.get("way") == "follow"
    heading = (
        f"{'Or lie in wait' if follows else 'Places'} (as seen; RA and Dec of date; "
        f"camera's up from {places[0]['up_from']}):"
    )
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
    text = f"{_clock(_time(one['time']), zone)}: "
    if star["name"]:
        text += (
            f"{star['separation_deg']:.1f}° from {star['name']} "
            f"({star['magnitude']:.1f}) at PA {star['position_angle_deg']:.0f}°"
        )
    if one["best_chance"] > one["chance"] + 0.02:
        text += (
            f"; camera up {one['best_up_deg']:.0f}° left: "
            f"{100 * one['best_chance']:.0f} %"
        )
    return text
