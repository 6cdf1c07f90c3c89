"""Who made a streak, as it is written: table, JSON, CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite
from typing import TYPE_CHECKING

from passes.contributions import Services
from passes.model import Crossing
from passes.options import Output
from passes_plugins.streaks.candidates import (
    FLOOR,
    MOST_SIGMAS,
    Candidate,
    Identification,
)
from passes_plugins.streaks.clock_offsets import ClockOffset
from passes_plugins.streaks.document import Document, iso, number, site_document
from passes_plugins.streaks.identifying import arcsec

if TYPE_CHECKING:
    from passes.tables import Column, Screen

NONE = "none of these (uncatalogued, aircraft, meteor)"
#: Candidates of less chance are listed on demand only, but for the first few.
_LISTED, _FIRST = 0.001, 3


def write(
    found: Sequence[Identification],
    offset: ClockOffset | None,
    services: Services,
    output: Output,
    everything: bool,
) -> None:
    """Write what was found in the form that is asked for."""
    output.write(
        table=lambda screen: page(found, offset, services, screen, everything),
        document=lambda: document(found, offset, services),
        records=lambda: _records(found),
        site=services.site,
        window=services.window,
        demo=services.demo,
    )


# --- JSON and CSV ---------------------------------------------------------


def document(
    found: Sequence[Identification], offset: ClockOffset | None, services: Services
) -> Document:
    """Everything about the streaks."""
    return {
        "kind": "identification",
        "site": site_document(services.site),
        "demo": services.demo,
        "floor": {"chance": FLOOR, "sigmas": MOST_SIGMAS},
        "streaks": [_streak(one) for one in found],
        "clock_offset": None
        if offset is None
        else {
            "offset_s": number(offset.offset_s, 3),
            "sigma_s": number(offset.sigma_s, 3),
            "low_s": number(offset.low_s, 3),
            "high_s": number(offset.high_s, 3),
            "streaks": offset.streaks,
        },
    }


def _streak(one: Identification) -> Document:
    streak, named = one.streak, one.named
    return {
        "path": streak.path or None,
        "start": iso(streak.start),
        "end": iso(streak.end),
        "ends": [
            {"ra_deg": round(ra, 5), "dec_deg": round(dec, 5), "cut": cut}
            for (ra, dec), cut in zip(streak.ends, streak.cut, strict=True)
        ],
        "length_deg": round(streak.middle()[2], 5),
        "named": None if named is None else named.crossing.catalog_number,
        "candidates": [_candidate(each) for each in one.candidates],
        "none_of_these": number(one.none_chance, 6),
    }


def _candidate(one: Candidate) -> Document:
    crossing, time = one.crossing, one.timing
    return {
        "catalog_number": crossing.catalog_number,
        "name": crossing.name,
        "chance": number(one.chance, 6),
        "sigmas": number(one.sigmas, 2),
        "offset_arcsec": number(arcsec(one.offset_deg), 1),
        "offset_sigma_arcsec": number(arcsec(one.offset_sigma_deg), 1),
        "turn_deg": number(one.turn_deg, 3),
        "turn_sigma_deg": number(one.turn_sigma_deg, 3),
        "length_ratio": number(one.length_ratio, 4),
        "length_sigmas": number(time.length_sigmas, 2),
        "partly": time.partly,
        "late_s": number(time.late_s, 2),
        "late_low_s": number(time.span_s[0], 2),
        "late_high_s": number(time.span_s[1], 2),
        "late_sigma_s": number(time.sigma_s, 2),
        **_predicted(crossing),
    }


def _predicted(crossing: Crossing) -> Document:
    """What the elements say of a candidate."""
    return {
        "closest": iso(crossing.closest.time),
        "angular_rate_deg_s": number(crossing.angular_rate_deg_s, 5),
        "position_angle_deg": number(crossing.position_angle_deg, 2),
        "range_km": number(crossing.range_km, 1),
        "sunlit": crossing.sunlit,
        "magnitude": number(crossing.magnitude, 2),
        "element_age_days": number(crossing.element_age_days, 3),
        "flags": list(crossing.flags),
    }


def _records(found: Sequence[Identification]) -> Iterator[Document]:
    for i, one in enumerate(found, 1):
        for each in one.candidates:
            row = _candidate(each)
            row["flags"] = " ".join(row["flags"])
            yield {"streak": i, **row}
        yield {"streak": i, "name": NONE, "chance": number(one.none_chance, 6)}


# --- for people ---------------------------------------------------------


def page(
    found: Sequence[Identification],
    offset: ClockOffset | None,
    services: Services,
    screen: Screen,
    everything: bool,
) -> str:
    """The candidates of each streak, and the clock."""
    from passes.tables import labelled, paragraph, place

    lines = paragraph(_DEMO, screen) if services.demo else []
    lines += labelled([("Site", place(services.site))], screen)
    for i, one in enumerate(found, 1):
        lines += _of_streak(i if len(found) > 1 else 0, one, screen, everything)
    if offset is not None:
        lines += ["", *labelled([("Clock", _clock(offset))], screen)]
    lines += ["", *paragraph(_LEGEND, screen)]
    return screen.finish(lines)


def _of_streak(
    index: int, one: Identification, screen: Screen, everything: bool
) -> Iterator[str]:
    from passes.tables import labelled, listing

    yield ""
    yield from labelled(_heading(index, one), screen)
    rows = [
        _row(each)
        for place, each in enumerate(one.candidates)
        if everything or each.chance >= _LISTED or place < _FIRST
    ]
    yield ""
    if rows:
        yield from listing(_columns(), rows, screen)
    yield f"{_percent(one.none_chance):>6}  {NONE}"  # below "Chance", six wide


def _heading(index: int, one: Identification) -> list[tuple[str, str]]:
    """What was seen, and who made it."""
    from passes.tables import plain

    streak, named = one.streak, one.named
    said = "nobody: " + NONE
    if named is not None:
        name = plain(named.crossing.name, 40) or str(named.crossing.catalog_number)
        said = f"{name} ({100.0 * named.chance:.1f} %)"
    what = (
        f"{streak.middle()[2]:.3f}° long, open {iso(streak.start)} for "
        f"{streak.exposure_s:g} s"
    )
    what += f", {plain(streak.path, 60)}" if streak.path else ""
    return [(f"Streak {index}" if index else "Streak", what), ("Made by", said)]


def _columns() -> tuple[Column, ...]:
    from passes.tables import Column

    return (
        Column("Chance", "right"),
        Column("Object", elastic=True),
        Column("Number", "right", drop=3),
        Column("Path off", "right"),
        Column("Turn", "right", drop=1),
        Column("Length", "right", drop=2),
        Column("Late", "right"),
        Column("Worst", "right"),
        Column("Mag", "right", drop=4),
    )


def _row(one: Candidate) -> list[str]:
    from passes.tables import number as shown
    from passes.tables import plain

    crossing = one.crossing
    low, high = one.timing.span_s
    late = f"{one.timing.late_s:+.1f} s"
    if not one.timing.fixed:
        late = f"{low:+.0f} to {high:+.0f} s"
    return [
        _percent(one.chance),
        plain(crossing.name, 40) or str(crossing.catalog_number),
        str(crossing.catalog_number),
        shown(arcsec(one.offset_deg), 0, "″"),
        shown(one.turn_deg, 2, "°"),
        shown(100.0 * one.length_ratio, 0, " %"),
        late,
        shown(one.sigmas, 1, "σ"),
        shown(crossing.magnitude, 1) if crossing.sunlit else "unlit",
    ]


def _percent(chance: float) -> str:
    return "100 %" if chance >= 0.9995 else f"{100.0 * chance:.1f} %"


def _clock(offset: ClockOffset) -> str:
    limits = []
    if isfinite(offset.offset_s):
        limits.append(
            f"the camera's clock was {offset.offset_s:+.2f} s ahead "
            f"(± {offset.sigma_s:.2f} s)"
        )
    if isfinite(offset.low_s) and isfinite(offset.high_s):
        limits.append(f"between {offset.low_s:+.1f} and {offset.high_s:+.1f} s")
    return f"{', '.join(limits)}, from {offset.streaks} streaks; try --clock-offset"


_DEMO = "Demo: the site, the objects and their orbits are invented."
_LEGEND = (
    "Path off and Turn are how far the streak lies beside the predicted path and at an "
    "angle to it; Length is the time the object takes to run along it, of the "
    "exposure; Late how much after its prediction it came (a range, where both ends "
    "are cut by the edge, or neither is the shutter's). Worst is the worst of these in "
    "the object's own sigma. "
    "Chances weigh every object with its own sigmas against one streak in ten from "
    f"something that is not catalogued; nobody is named under {100 * FLOOR:.0f} %, or "
    f"over {MOST_SIGMAS:g} sigma."
)
